//! `short-notes`: do notes sound as long as the line asks?
//!
//! Statistic: how many notes are judged `short`, against an eighth of all (one-sided binomial test): a few clipped notes
//! are a slip, not a habit. How short they are is told with its t interval. A note that lasts until the next one takes over
//! is not too short, however early that comes. Notes marked short are left out: they have their own window.

use super::evidence::{Evidence, Heard};
use super::practice::Drill;
use super::stats::estimate::LEVEL;
use super::stats::proportion::Proportion;
use super::{Answer, FEWEST, Finding, stats};
use crate::judge::Length;

const ID: &str = "short-notes";
const SLIPS: f64 = 0.125;
/// A shorter gap before the next note is none (our choice).
const NO_GAP_MS: f64 = 10.0;

/// `told`: notes of which it is told why they are short, sorted.
pub fn ask(evidence: &Evidence, told: &[u32]) -> Option<Answer> {
    let known: Vec<(usize, &Heard)> = evidence
        .heard
        .iter()
        .enumerate()
        .filter(|(_, heard)| is_plain(heard) && heard.partner.length.is_some())
        .filter(|(_, heard)| told.binary_search(&heard.index).is_err())
        .collect();
    if known.len() < FEWEST {
        return None;
    }
    let is_short =
        |at: usize, heard: &Heard| heard.length_is(Length::Short) && !is_taken_over(evidence, at);
    let short: Vec<&Heard> = known
        .iter()
        .filter(|(at, heard)| is_short(*at, heard))
        .map(|(_, heard)| *heard)
        .collect();
    Some(Answer {
        chance: Proportion::new(short.len(), known.len()).chance(SLIPS),
        finding: tell(evidence, &short, known.len()),
    })
}

fn is_plain(heard: &Heard) -> bool {
    !(heard.note.is.short || heard.note.is.muted || heard.note.is.dead)
}

/// Whether the note that is heard next begins where this one ends.
fn is_taken_over(evidence: &Evidence, at: usize) -> bool {
    let heard = &evidence.heard[at];
    let mut following = evidence.heard[at + 1..].iter();
    let next = following.find(|next| next.note.group > heard.note.group);
    let begins = |heard: &Heard| heard.note.onset.ms() + heard.offset_ms;
    let length = heard.note.sounding.ms() + heard.length_off_ms().unwrap_or_default();
    next.is_some_and(|next| begins(next) - begins(heard) - length < NO_GAP_MS)
}

fn tell(evidence: &Evidence, short: &[&Heard], of: usize) -> Option<Finding> {
    if short.len() < FEWEST {
        return None;
    }
    let missing: Vec<f64> = short
        .iter()
        .filter_map(|heard| heard.length_off_ms())
        .collect();
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
    let finding = Finding::new(ID, notes, of)
        .sized(mean.mean, Some([low, high]))
        .told(text, ADVICE)
        .hurting(evidence, mean.mean / window)
        .drilled(evidence, DRILL);
    Some(finding)
}

const DRILL: Drill = Drill::at(0.8);
const ADVICE: &str = "Keep the finger down until the next one takes over, and sing the note for its whole length while you play it slowly.";
