//! MusicXML 4.0: the part of a bass, as a notation editor opens it.
//!
//! # What is written how
//! - One part of one staff in bass clef, written an octave above its sound, with `<transpose>`. Strings and frets are marks
//!   on the notes (`<technical>`), not a second staff: a tablature under the staff would have every note twice for whoever
//!   plays or imports the file, while an editor can make one from the marks. A note whose string the line leaves to the
//!   player has none here either. Open strings other than E A D G are a `<scordatura>`: `<staff-tuning>` makes some readers
//!   take the staff for a tablature.
//! - A pass is written out, in its own key; passes in one key one after the other are a repeat. Measures are numbered through.
//! - Marks: `'` staccato, `_` tenuto, `>` accent, `?` a note head in parentheses, `x` an x for a head (standing where its
//!   open string is), `m` the sign P.M. and `<play><mute>palm</mute>`; strokes are bow signs, fingers `<fingering>`.
//! - Swing is a mark (`<sound><swing>`) and written straight, as it is in the line.
//!
//! # What it does not hold
//! [`write()`] lists it: gates other than the usual one, and that a minor key is harmonic or melodic.

mod accidentals;
mod barlines;
mod beams;
mod container;
mod directions;
mod harmony;
mod head;
mod measures;
mod note;
mod score;
mod tuplets;
mod xml;

pub use container::pack;

use super::Exported;
use crate::expected::tempo_map::Speed;
use crate::line::key_signature::Mode;
use crate::line::{Gate, Line};

/// The score of a line at a speed.
pub fn write(line: &Line, speed: Speed) -> Exported {
    Exported {
        bytes: score::write(line, speed),
        lost: lost(line),
    }
}

fn lost(line: &Line) -> Vec<String> {
    let mut lost = Vec::new();
    for section in &line.sections {
        let gate = section.gate.unwrap_or(line.gate);
        if gate != Gate::DEFAULT {
            let share = f64::from(gate.0) / 1000.0;
            lost.push(format!("gate of \"{}\" ({share})", section.name));
        }
        let key = section.key.or(line.key);
        let key = key.filter(|key| matches!(key.mode, Mode::HarmonicMinor | Mode::MelodicMinor));
        if let Some(key) = key {
            lost.push(format!(
                "{} of \"{}\" (written as minor)",
                key.mode, section.name
            ));
        }
    }
    let names = line.sections.iter().map(|section| &section.name);
    for text in names.chain([&line.title]) {
        if xml::held(text) != *text {
            let name = xml::held(text);
            lost.push(format!(
                "line ends and other control characters in \"{name}\""
            ));
        }
    }
    lost
}
