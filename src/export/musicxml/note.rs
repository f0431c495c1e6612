//! One `note` element (MusicXML 4.0; the order of its children is the standard's).

use super::accidentals::Accidentals;
use super::beams::Beam;
use super::measures::{Figure, Head};
use super::tuplets::Bracket;
use super::xml::Xml;
use crate::line::Stroke;
use crate::line::length::NoteLength;

/// Octaves from where a bass sounds to where its part is written (common practice).
const WRITTEN_ABOVE: i8 = 1;

/// What the bar says about a figure.
pub(super) struct InBar<'a> {
    /// In divisions.
    pub(super) duration: i64,
    pub(super) beams: &'a [Beam],
    pub(super) bracket: Bracket,
    /// Whether it is a rest that fills the bar.
    pub(super) fills_bar: bool,
}

/// Writes a figure: a rest, or a note element a head.
pub(super) fn write(xml: &mut Xml, figure: &Figure, bar: &InBar<'_>, signs: &mut Accidentals) {
    if figure.heads.is_empty() {
        return rest(xml, figure, bar);
    }
    for (index, head) in figure.heads.iter().enumerate() {
        head_element(xml, figure, head, bar, signs, index > 0);
    }
}

fn rest(xml: &mut Xml, figure: &Figure, bar: &InBar<'_>) {
    let whole_bar: &[_] = if bar.fills_bar {
        &[("measure", "yes")]
    } else {
        &[]
    };
    xml.element("note", &[], |xml| {
        xml.empty("rest", whole_bar);
        xml.text("duration", bar.duration);
        xml.text("voice", 1);
        look(xml, figure.length, None);
        if bar.bracket.starts || bar.bracket.stops {
            xml.element("notations", &[], |xml| tuplet(xml, bar.bracket));
        }
    });
}

fn head_element(
    xml: &mut Xml,
    figure: &Figure,
    head: &Head,
    bar: &InBar<'_>,
    signs: &mut Accidentals,
    in_chord: bool,
) {
    // A tied note keeps its accidental over the bar line, and says nothing to the notes after it.
    let accidental = match figure.tied_in || figure.dead {
        true => None,
        false => signs.before(head.pitch),
    };
    let ties = [(figure.tied_in, "stop"), (figure.tied_out, "start")];
    let ties = ties.iter().filter(|(is, _)| *is).map(|(_, kind)| *kind);
    xml.element("note", &[], |xml| {
        if in_chord {
            xml.empty("chord", &[]);
        }
        pitch(xml, head);
        xml.text("duration", bar.duration);
        for kind in ties.clone() {
            xml.empty("tie", &[("type", kind)]);
        }
        xml.text("voice", 1);
        look(xml, figure.length, accidental);
        notehead(xml, figure);
        if !in_chord {
            for (number, beam) in (1..).zip(bar.beams) {
                let number = i32::to_string(&number);
                xml.text_with("beam", &[("number", &number)], beam.name());
            }
        }
        notations(xml, figure, head, bar.bracket, ties.collect(), in_chord);
        if figure.marks.muted {
            xml.element("play", &[], |xml| xml.text("mute", "palm"));
        }
    });
}

fn pitch(xml: &mut Xml, head: &Head) {
    let class = head.pitch.class;
    xml.element("pitch", &[], |xml| {
        xml.text("step", char::from(b"CDEFGAB"[usize::from(class.letter)]));
        if class.accidental != 0 {
            xml.text("alter", class.accidental);
        }
        xml.text("octave", head.pitch.octave + WRITTEN_ABOVE);
    });
}

fn look(xml: &mut Xml, length: NoteLength, accidental: Option<&str>) {
    let name = match length.value {
        1 => "whole",
        2 => "half",
        4 => "quarter",
        8 => "eighth",
        16 => "16th",
        _ => "32nd",
    };
    xml.text("type", name);
    for _ in 0..length.dots {
        xml.empty("dot", &[]);
    }
    if let Some(accidental) = accidental {
        xml.text("accidental", accidental);
    }
    if length.triplet {
        xml.element("time-modification", &[], |xml| {
            xml.text("actual-notes", 3);
            xml.text("normal-notes", 2);
        });
    }
}

fn notehead(xml: &mut Xml, figure: &Figure) {
    let shape = if figure.dead { "x" } else { "normal" };
    if figure.marks.optional {
        xml.text_with("notehead", &[("parentheses", "yes")], shape);
    } else if figure.dead {
        xml.text("notehead", shape);
    }
}

fn tuplet(xml: &mut Xml, bracket: Bracket) {
    if bracket.starts {
        xml.empty("tuplet", &[("type", "start"), ("bracket", "yes")]);
    }
    if bracket.stops {
        xml.empty("tuplet", &[("type", "stop")]);
    }
}

fn notations(
    xml: &mut Xml,
    figure: &Figure,
    head: &Head,
    bracket: Bracket,
    ties: Vec<&str>,
    in_chord: bool,
) {
    let marks = figure.marks;
    let articulations = [
        (marks.accent, "accent"),
        (marks.short, "staccato"),
        (marks.full, "tenuto"),
    ];
    // What is said of a double stop is said once.
    let articulations: Vec<&str> = articulations
        .into_iter()
        .filter(|(is, _)| *is && !in_chord)
        .map(|(_, name)| name)
        .collect();
    let bracket = if in_chord {
        Bracket::default()
    } else {
        bracket
    };
    let is_technical = head.string.is_some()
        || (!in_chord && (figure.stroke.is_some() || figure.finger.is_some() || marks.muted));
    let is_empty = ties.is_empty()
        && articulations.is_empty()
        && bracket == Bracket::default()
        && !is_technical;
    if is_empty {
        return;
    }
    xml.element("notations", &[], |xml| {
        for kind in ties {
            xml.empty("tied", &[("type", kind)]);
        }
        tuplet(xml, bracket);
        if is_technical {
            xml.element("technical", &[], |xml| {
                technical(xml, figure, head, in_chord)
            });
        }
        if !articulations.is_empty() {
            xml.element("articulations", &[], |xml| {
                articulations.iter().for_each(|name| xml.empty(name, &[]));
            });
        }
    });
}

fn technical(xml: &mut Xml, figure: &Figure, head: &Head, in_chord: bool) {
    if !in_chord {
        match figure.stroke {
            Some(Stroke::Down) => xml.empty("down-bow", &[]),
            Some(Stroke::Up) => xml.empty("up-bow", &[]),
            None => {}
        }
        if let Some(finger) = figure.finger {
            xml.text("fingering", finger);
        }
    }
    if let Some(string) = head.string {
        xml.text("string", string);
    }
    if let Some(fret) = head.fret {
        xml.text("fret", fret);
    }
    if figure.marks.muted && !in_chord {
        xml.text("other-technical", "P.M.");
    }
}
