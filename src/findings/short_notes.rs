//! `short-notes`: do notes sound as long as the line asks?
//!
//! Statistic: played − expected sounding length of the notes judged `short`, its mean and t interval, where they are
//! at least five and at least an eighth of all notes (a few clipped notes are a slip, not a habit). Notes marked
//! short are left out: they have their own window.

use super::evidence::{Evidence, Heard};
use super::practice::Drill;
use super::stats::estimate::LEVEL;
use super::{Answer, FEWEST, Finding, stats};
use crate::judge::Length;

const SMALLEST_SHARE: f64 = 0.125;

pub fn ask(evidence: &Evidence) -> Option<Answer> {
    let plain =
        |heard: &&Heard| !(heard.note.is.short || heard.note.is.muted || heard.note.is.dead);
    let known = || {
        evidence
            .heard
            .iter()
            .filter(plain)
            .filter(|heard| heard.partner.length.is_some())
    };
    let short: Vec<&Heard> = known()
        .filter(|heard| heard.length_is(Length::Short))
        .collect();
    let of = known().count();
    if short.len() < FEWEST || (short.len() as f64) < SMALLEST_SHARE * of as f64 {
        return None;
    }
    let missing: Vec<f64> = short.iter().map(|heard| missing_ms(heard)).collect();
    let mean = stats::mean_interval(&missing, LEVEL)?;
    let [low, high] = mean.interval();
    if high >= -evidence.harmless_ms(short.iter().copied()) {
        return None;
    }
    let notes: Vec<u32> = short.iter().map(|heard| heard.index).collect();
    let text = format!(
        "{} of {of} notes stopped too soon, {:+.0} ms on average ({low:+.0} to {high:+.0}): {}.",
        short.len(),
        mean.mean,
        evidence.places(&notes),
    );
    let window = evidence.windows.length.ms();
    let finding = Finding::new("short-notes", notes, of)
        .sized(mean.mean, Some([low, high]))
        .told(text, ADVICE)
        .hurting(evidence, mean.mean / window)
        .drilled(evidence, DRILL);
    Some(Answer::certain(finding))
}

/// Played − expected sounding length, negative.
fn missing_ms(heard: &Heard) -> f64 {
    let ratio = heard.partner.length_ratio.unwrap_or(1.0);
    heard.note.sounding.ms() * (ratio - 1.0)
}

const DRILL: Drill = Drill::at(0.8);
const ADVICE: &str = "Keep the finger down until the next one takes over, and sing the note for its whole length while you play it slowly.";
