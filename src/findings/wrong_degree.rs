//! `wrong-degree`: is one degree of the chord or the key taken for another one throughout?
//!
//! Statistic: how many of the notes of that degree, at least three and at least half, against slips by as many semitones
//! on the other notes, or [`ORDINARY`](super::slips::ORDINARY) ones where these are rarer (binomial; every pair of degrees that
//! was heard counts as a question). See [`super::slips`].

use super::evidence::{Evidence, Heard};
use super::finding::Finding;
use super::practice::Drill;
use super::slips::WrongDegree;
use super::{Answer, note_names};

pub fn ask(evidence: &Evidence) -> Option<Answer> {
    let is_named = |heard: &Heard| heard.note.chord.is_some() || heard.note.degree.is_some();
    if !evidence.heard.iter().any(is_named) {
        return None;
    }
    let wrong = &evidence.slips().wrong_degrees;
    let Some(least) = wrong.iter().map(|wrong| wrong.chance).reduce(f64::min) else {
        return Some(Answer {
            chance: 1.0,
            finding: None,
        });
    };
    let mut notes: Vec<u32> = wrong
        .iter()
        .flat_map(|wrong| wrong.heard.iter().map(|at| evidence.heard[*at].index))
        .collect();
    notes.sort_unstable();
    let of = wrong.iter().map(|wrong| wrong.of).sum();
    let told: Vec<String> = wrong.iter().map(|wrong| tell(evidence, wrong)).collect();
    let text = format!("You played the {}.", told.join("; the "));
    let finding = Finding::new("wrong-degree", notes, of)
        .told(text, ADVICE)
        .hurting_as_wrong(evidence)
        .drilled(evidence, DRILL);
    Some(Answer {
        chance: least,
        finding: Some(finding),
    })
}

/// "natural 7th where the line has the flat 7th (C for Cb): 6 of 7, bars 1 and 2".
fn tell(evidence: &Evidence, wrong: &WrongDegree) -> String {
    let heard: Vec<&Heard> = wrong.heard.iter().map(|at| &evidence.heard[*at]).collect();
    let notes: Vec<u32> = heard.iter().map(|heard| heard.index).collect();
    let names = note_names::most_often(&heard);
    let names = names.map_or_else(String::new, |(names, _)| {
        format!(" ({} for {})", names.played, names.line)
    });
    format!(
        "{}{names}: {} of {}, {}",
        wrong.contrast,
        notes.len(),
        wrong.of,
        evidence.places(&notes),
    )
}

const DRILL: Drill = Drill::at(0.6);
const ADVICE: &str = "Sing the chord, or the scale of the key, from its root up to this note and back, find it under the fingers, and only then play the bar.";
