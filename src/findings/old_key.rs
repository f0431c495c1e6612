//! `shifts`, the hand that stays: when a passage comes again in another key, is it played on in the old one?
//!
//! Statistic: the longest run of notes that are off by exactly as much as the passage moved, right ones in between at most
//! one for two; from four notes on. Its chance is the binomial one of ordinary slips (as if each hit that very fret), at any note
//! of the passages that moved. Two notes a run would not do: they are neighbouring frets where the passage moves by one.

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
    let told: Vec<String> = missed
        .iter()
        .map(|old| {
            format!(
                "{}; you played on in the old key for {} notes: {}.",
                moved(evidence, &old.moved),
                old.heard.len(),
                evidence.places(&indices(old)),
            )
        })
        .collect();
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

/// "up a tone", "down two tones and a semitone" said as players say it: by frets where no short word is.
fn way(semitones: i16) -> String {
    let side = if semitones > 0 { "up" } else { "down" };
    match semitones.abs() {
        1 => format!("{side} a semitone"),
        2 => format!("{side} a tone"),
        12 => format!("{side} an octave"),
        frets => format!("{side} {frets} frets"),
    }
}

const DRILL: Drill = Drill::at(0.7);
const ADVICE: &str = "Say the first note of the new key aloud a bar before the move, and practise the last bar before it together with the first bar after it.";
