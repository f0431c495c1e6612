//! The head of the score: title, program, the one part.

use super::xml::Xml;
use crate::line::Line;

/// Electric bass, plucked with the fingers (General MIDI level 1, counted from 1).
const MIDI_PROGRAM: u8 = 34;

/// What stands before the part.
pub(super) fn write(xml: &mut Xml, line: &Line) {
    xml.element("work", &[], |xml| xml.text("work-title", &line.title));
    xml.element("identification", &[], |xml| {
        xml.element("encoding", &[], |xml| {
            let version = env!("CARGO_PKG_VERSION");
            xml.text("software", format!("leadsman {version}"));
        });
    });
    xml.element("part-list", &[], |xml| {
        xml.element("score-part", &[("id", "P1")], |xml| {
            xml.text("part-name", "Bass");
            let instrument = [("id", "P1-I1")];
            xml.element("score-instrument", &instrument, |xml| {
                xml.text("instrument-name", "Electric Bass");
            });
            xml.element("midi-instrument", &instrument, |xml| {
                xml.text("midi-channel", 1);
                xml.text("midi-program", MIDI_PROGRAM);
            });
        });
    });
}
