//! Bar lines that are not the plain one, and repeats.

use super::measures::MeasureEnd;
use super::xml::Xml;

/// Where a repeat opens.
pub(super) fn opening(xml: &mut Xml) {
    barline(
        xml,
        "left",
        "heavy-light",
        Some(&[("direction", "forward")]),
    );
}

/// What ends a measure.
pub(super) fn end(xml: &mut Xml, end: MeasureEnd) {
    match end {
        MeasureEnd::Plain => {}
        MeasureEnd::Pass => barline(xml, "right", "light-light", None),
        MeasureEnd::Line => barline(xml, "right", "light-heavy", None),
        MeasureEnd::Repeat(2) => {
            barline(
                xml,
                "right",
                "light-heavy",
                Some(&[("direction", "backward")]),
            );
        }
        MeasureEnd::Repeat(times) => {
            let times = times.to_string();
            let repeat = [("direction", "backward"), ("times", times.as_str())];
            barline(xml, "right", "light-heavy", Some(&repeat));
        }
    }
}

fn barline(xml: &mut Xml, at: &str, style: &str, repeat: Option<&[(&str, &str)]>) {
    xml.element("barline", &[("location", at)], |xml| {
        xml.text("bar-style", style);
        if let Some(repeat) = repeat {
            xml.empty("repeat", repeat);
        }
    });
}
