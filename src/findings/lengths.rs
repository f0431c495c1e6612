//! The questions after lengths, in the order in which they explain notes: what is told of a kind of note is not told again
//! of notes in general.

use super::evidence::Evidence;
use super::stats::discovery::FALSE_SHARE;
use super::{
    Answer, crossings, fast_notes, missed_muting, open_mutes, shifts, short_notes, strokes,
};

/// One answer each, of those that could be asked.
pub fn ask(evidence: &Evidence) -> Vec<Answer> {
    let kinds = [
        strokes::ask_lengths,
        crossings::ask_lengths,
        shifts::ask_lengths,
        fast_notes::ask,
        missed_muting::ask,
        open_mutes::ask,
    ];
    let mut answers: Vec<Answer> = kinds.iter().filter_map(|ask| ask(evidence)).collect();
    let mut told: Vec<u32> = answers
        .iter()
        .filter(|answer| answer.chance <= FALSE_SHARE)
        .filter_map(|answer| answer.finding.as_ref())
        .flat_map(|finding| finding.notes.iter().copied())
        .collect();
    told.sort_unstable();
    answers.extend(short_notes::ask(evidence, &told));
    answers
}
