//! `neighbour-frets`: does the finger come down one fret beside the right one?
//!
//! Statistic and threshold: see [`super::slip_count`]; every note with a pitch could. A degree that is a semitone out
//! again and again is no slip of the finger: see [`super::wrong_degree`].

use super::Answer;
use super::evidence::{Evidence, Heard};
use super::note_names;
use super::practice::Drill;
use super::slip_count::{self, Counted};
use super::slips::Slip;

pub fn ask(evidence: &Evidence) -> Option<Answer> {
    slip_count::ask(
        evidence,
        |slip| slip == Slip::NextFret,
        |counted| {
            let is_up = |heard: &Heard| heard.semitones().is_some_and(|by| by > 0);
            let side = counted.sides("one fret too high", "one fret too low", is_up);
            let what = format!("sounded {side}{}", named(counted));
            counted
                .finding("neighbour-frets")
                .told(counted.sentence(&what), counted.advice(ADVICE))
                .drilled(evidence, DRILL)
        },
    )
}

/// ", most often C where the line has Cb".
fn named(counted: &Counted) -> String {
    let Some((names, count)) = note_names::most_often(&counted.notes) else {
        return String::new();
    };
    let how_often = match count {
        all if all == counted.notes.len() => "",
        1 => "for example ",
        _ => "most often ",
    };
    format!(
        ", {how_often}{} where the line has {}",
        names.played, names.line
    )
}

const DRILL: Drill = Drill::at(0.6);
const ADVICE: &str = "Play these bars slowly with one finger a fret, look at the fret before the finger comes down, and sing the note before you play it.";
