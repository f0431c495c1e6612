//! `shifts`, the hand that stays: when a passage comes again in another key, is it played on in the old one?
//!
//! Statistic: runs of notes that are off by exactly as far as the passage moved, at least four and twice as many as the
//! others among them (see [`super::slips`]). The chance is the binomial one of so many ordinary slips, counted as if each
//! hit that very fret, beginning at any note of the passages that moved.

use super::Answer;
use super::evidence::Evidence;
use super::finding::Finding;
use super::practice::Drill;
use super::slips::{Moved, ORDINARY, OldKey, could_be_in_old_key};
use super::stats::proportion::Proportion;

pub fn ask(evidence: &Evidence) -> Option<Answer> {
    let of = could_be_in_old_key(evidence);
    if of == 0 {
        return None;
    }
    let missed = &evidence.slips().old_keys;
    let chance = |old: &OldKey| {
        let (count, among) = (old.heard.len(), old.of);
        Proportion { count, of: among }.chance(ORDINARY) * of as f64
    };
    let Some(least) = missed.iter().map(chance).reduce(f64::min) else {
        return Some(Answer {
            chance: 1.0,
            finding: None,
        });
    };
    let indices = |old: &OldKey| -> Vec<u32> {
        let heard = old.heard.iter();
        heard.map(|at| evidence.heard[*at].index).collect()
    };
    let notes = missed.iter().flat_map(indices).collect();
    let tell = |(nth, old): (usize, &OldKey)| {
        let again = if nth == 0 {
            "you played on in the old key"
        } else {
            "again the old key"
        };
        let moved = moved(evidence, &old.moved);
        let (count, places) = (old.heard.len(), evidence.places(&indices(old)));
        format!("{moved}; {again} for {count} notes: {places}.")
    };
    let mut told: Vec<String> = missed.iter().take(TOLD).enumerate().map(tell).collect();
    let left = &missed[told.len()..];
    if !left.is_empty() {
        let count: usize = left.iter().map(|old| old.heard.len()).sum();
        told.push(format!("And so {} more times, {count} notes.", left.len()));
    }
    let finding = Finding::new("shifts", notes, of)
        .told(told.join(" "), ADVICE)
        .hurting_as_wrong(evidence)
        .drilled(evidence, DRILL);
    Some(Answer {
        chance: least,
        finding: Some(finding),
    })
}

/// "Pass 2 of A moves up a tone".
fn moved(evidence: &Evidence, moved: &Moved) -> String {
    let name = |section: u16| &evidence.expected.sections[usize::from(section)];
    let way = way(moved.by);
    if moved.repeats == moved.section {
        let of = if evidence.expected.sections.len() > 1 {
            format!(" of {}", name(moved.section))
        } else {
            String::new()
        };
        format!("Pass {}{of} moves {way}", moved.pass)
    } else {
        format!(
            "{} is {} moved {way}",
            name(moved.section),
            name(moved.repeats)
        )
    }
}

/// "up a tone", "down 3 frets".
fn way(semitones: i16) -> String {
    let side = if semitones > 0 { "up" } else { "down" };
    match semitones.abs() {
        1 => format!("{side} a semitone"),
        2 => format!("{side} a tone"),
        12 => format!("{side} an octave"),
        frets => format!("{side} {frets} frets"),
    }
}

/// So many are told one by one.
const TOLD: usize = 2;

const DRILL: Drill = Drill::at(0.7);
const ADVICE: &str = "Say the first note of the new key aloud a bar before the move, and practise the last bar before it together with the first bar after it.";
