//! `octave-slips`: is the right note played in the wrong octave?
//!
//! Statistic and threshold: see [`super::slip_count`]; every note with a pitch could.

use super::Answer;
use super::evidence::{Evidence, Heard};
use super::practice::Drill;
use super::slip_count::{self, Counted};
use super::slips::Slip;

pub fn ask(evidence: &Evidence) -> Option<Answer> {
    slip_count::ask(
        evidence,
        |slip| slip == Slip::Octave,
        |counted| {
            let what = format!("sounded {}", side(counted));
            counted
                .finding("octave-slips")
                .told(counted.sentence(&what), counted.advice(ADVICE))
                .drilled(evidence, DRILL)
        },
    )
}

fn side(counted: &Counted) -> String {
    let is_up = |heard: &Heard| heard.semitones().is_some_and(|by| by > 0);
    counted.sides("an octave too high", "an octave too low", is_up)
}

const DRILL: Drill = Drill::at(0.7);
const ADVICE: &str = "Before each phrase say which octave its first note is in, and find its octave two strings and two frets away once, to hear that it is not that one.";
