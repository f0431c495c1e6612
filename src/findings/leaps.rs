//! `shifts`, by interval: does the note after a leap come in its place?
//!
//! Statistic: the effect on the offset of being a fifth or more away from the note before. It competes with crossings and
//! shifts, so that it is told only where the size of the leap explains more than they do.

use super::effect::{Cause, Effect, Seen};
use super::evidence::{Evidence, Heard};
use super::{Finding, shifts};

/// A fifth.
const LEAP_SEMITONES: u8 = 7;

pub const EFFECT: Effect = Effect {
    column: |evidence| Some(evidence.column(|heard| is_leapt_to(evidence, heard))),
    tell,
    cause: Cause::Hand,
};

fn is_leapt_to(evidence: &Evidence, heard: &Heard) -> bool {
    let before = evidence.expected.notes[..heard.index as usize]
        .iter()
        .rev()
        .find(|note| note.group < heard.note.group);
    match (before.and_then(|before| before.key), heard.note.key) {
        (Some(from), Some(to)) => from.0.abs_diff(to.0) >= LEAP_SEMITONES,
        _ => false,
    }
}

fn tell(evidence: &Evidence, seen: &Seen) -> Finding {
    seen.finding(evidence, shifts::ID)
        .told(
            seen.came(evidence, "notes after a leap of a fifth or more"),
            ADVICE,
        )
        .drilled(evidence, shifts::DRILL)
}

const ADVICE: &str = "Sing the leap before you play it, then practise its two notes alone, slowly, with both hands in place before the second is due.";
