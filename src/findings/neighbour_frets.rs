//! `neighbour-frets`: does the finger come down one fret beside the right one?
//!
//! Statistic and threshold: see [`super::slip_count`]; every note with a pitch could. A degree that is a semitone out
//! again and again is no slip of the finger: see [`super::wrong_degree`].

use super::Answer;
use super::evidence::{Evidence, Heard};
use super::note_names;
use super::practice::Drill;
use super::slip_count;
use super::slips::Slip;

pub fn ask(evidence: &Evidence) -> Option<Answer> {
    slip_count::ask(
        evidence,
        |slip| slip == Slip::NextFret,
        |counted| {
            let is_up = |heard: &Heard| heard.semitones().is_some_and(|by| by > 0);
            let side = counted.sides("one fret too high", "one fret too low", is_up);
            let named = match note_names::most_often(&counted.notes) {
                Some((names, 1)) => format!(", for example {names}"),
                Some((names, count)) if count < counted.notes.len() => {
                    format!(", most often {names}")
                }
                Some((names, _)) => format!(", {names}"),
                None => String::new(),
            };
            counted
                .finding("neighbour-frets")
                .told(counted.sentence(&format!("sounded {side}{named}")), ADVICE)
                .drilled(evidence, DRILL)
        },
    )
}

const DRILL: Drill = Drill::at(0.6);
const ADVICE: &str = "Play these bars slowly with one finger a fret, look at the fret before the finger comes down, and sing the note before you play it.";
