//! `swing-flat`, `swing-wide`: do swung pairs have the ratio that the line asks for?
//!
//! Statistic: the effect of being a swung upbeat on the offset; the ratio as played is told with it: the mean of the
//! pairs' logarithms, ratios from 0.25 to 4, from 15 pairs on (practice of the published annotation studies). With fewer
//! pairs nothing is said of swing, and [`super::upbeats`] asks for these notes as well. Beside it stands what recorded
//! drummers do: the ratio falls with the tempo, since the short note stays near 100 ms (Friberg & Sundström 2002, Music
//! Perception 19:333).

use super::effect::{Cause, Effect, Seen};
use super::evidence::{Evidence, Heard};
use super::finding::Finding;
use super::practice::Drill;
use super::stats;
use crate::expected::Expected;
use crate::judge::summary::{FEWEST_PAIRS, PLAUSIBLE_RATIOS};
use crate::units::Ticks;

pub const EFFECT: Effect = Effect {
    column: upbeats,
    tell,
    cause: Cause::Place,
};

/// The upbeats that belong to swung pairs, 1 each, where there are pairs enough to speak of swing: the middle notes, and
/// other upbeats in their sections, such as those that follow a rest.
pub fn upbeats(evidence: &Evidence) -> Option<Vec<f64>> {
    let pairs = pairs(evidence.expected, &evidence.heard);
    if pairs.len() < FEWEST_PAIRS {
        return None;
    }
    let mut is_swung = vec![false; evidence.expected.sections.len()];
    let mut middle = vec![false; evidence.heard.len()];
    for pair in &pairs {
        middle[pair.middle] = true;
        is_swung[usize::from(evidence.heard[pair.middle].note.section)] = true;
    }
    let column = std::iter::zip(&evidence.heard, middle).map(|(heard, middle)| {
        let of_section = heard.note.is.upbeat && is_swung[usize::from(heard.note.section)];
        f64::from(u8::from(middle || of_section))
    });
    Some(column.collect())
}

/// A swung pair that was played whole, with the note after it.
pub(crate) struct Pair {
    /// Its second note among those heard.
    pub(crate) middle: usize,
    /// Long : short as the line asks.
    pub(crate) asked: f64,
    /// As played; of a pair whose notes changed places it is no ratio.
    pub(crate) played: f64,
    /// How long it lasts in the line, in ms.
    length_ms: f64,
}

/// The swung pairs that were played whole, in order: long : short as the line asks, and as played.
pub fn ratios(expected: &Expected, heard: &[Heard]) -> Vec<[f64; 2]> {
    let pairs = pairs(expected, heard).into_iter();
    pairs.map(|pair| [pair.asked, pair.played]).collect()
}

/// All swung pairs of a take.
pub(crate) fn pairs(expected: &Expected, heard: &[Heard]) -> Vec<Pair> {
    let position = |heard: &Heard| expected.bars[heard.note.bar as usize].start + heard.note.at;
    let pair = |middle: usize| {
        let [before, here, after] = [-1, 0, 1].map(|step| &heard[middle.wrapping_add_signed(step)]);
        let in_a_row =
            here.note.group == before.note.group + 1 && after.note.group == here.note.group + 1;
        let (first, second) = (
            position(here) - position(before),
            position(after) - position(here),
        );
        if !in_a_row || first != second || first == Ticks(0) {
            return None;
        }
        let at = |heard: &Heard| heard.note.onset.ms();
        let asked = (at(here) - at(before)) / (at(after) - at(here));
        let played = |heard: &Heard| at(heard) + heard.offset_ms;
        let ratio = (played(here) - played(before)) / (played(after) - played(here));
        const SWUNG: f64 = 1.01;
        (asked > SWUNG).then_some(Pair {
            middle,
            asked,
            played: ratio,
            length_ms: at(after) - at(before),
        })
    };
    (1..heard.len().saturating_sub(1))
        .filter_map(pair)
        .collect()
}

fn tell(evidence: &Evidence, seen: &Seen) -> Finding {
    let is_flat = seen.estimate.mean < 0.0;
    let (id, word, advice) = if is_flat {
        ("swing-flat", "too even", FLAT)
    } else {
        ("swing-wide", "too wide", WIDE)
    };
    let finding = seen.finding(evidence, id);
    let pairs = pairs(evidence.expected, &evidence.heard);
    let text = format!(
        "Your swung pairs were {word}, {}, {} at the upbeat: {}. Recorded drummers at this tempo: about {}.",
        against_the_line(&pairs),
        seen.amount(),
        evidence.places(&finding.notes),
        ratio(log_mean(&pairs, |pair| published_ratio(pair.length_ms))),
    );
    finding.told(text, advice).drilled(evidence, DRILL)
}

/// `1.4 : 1 (1.3 to 1.5) for the line's 2.0 : 1`; the ratio is told of plausible pairs alone, and of enough of them.
fn against_the_line(pairs: &[Pair]) -> String {
    let asked = ratio(log_mean(pairs, |pair| pair.asked));
    let played = pairs.iter().map(|pair| pair.played);
    let logs: Vec<f64> = played
        .filter(|ratio| PLAUSIBLE_RATIOS.contains(ratio))
        .map(f64::ln)
        .collect();
    if logs.len() < FEWEST_PAIRS {
        return format!("where the line has {asked}");
    }
    match stats::mean_interval(&logs, stats::estimate::LEVEL) {
        Some(mean) => {
            let [low, high] = mean.interval().map(f64::exp);
            let played = ratio(mean.mean.exp());
            format!("{played} ({low:.1} to {high:.1}) for the line's {asked}")
        }
        None => format!("where the line has {asked}"),
    }
}

/// The mean of the pairs' logarithms.
fn log_mean(pairs: &[Pair], of: impl Fn(&Pair) -> f64) -> f64 {
    let sum: f64 = pairs.iter().map(|pair| of(pair).ln()).sum();
    (sum / pairs.len().max(1) as f64).exp()
}

/// What recorded drummers play when a pair lasts so long: the short note stays near 100 ms, no ratio is beyond 3.5 : 1 or
/// below even (Friberg & Sundström 2002).
fn published_ratio(pair_ms: f64) -> f64 {
    const SHORT_NOTE_MS: f64 = 100.0;
    (pair_ms / SHORT_NOTE_MS - 1.0).clamp(1.0, 3.5)
}

fn ratio(ratio: f64) -> String {
    format!("{ratio:.1} : 1")
}

const FLAT: &str = "Sing the pair as a triplet with its middle note silent; slowly, keep the short note for the very last of it.";
const WIDE: &str =
    "Sing the pair as a triplet and let the short note begin on its third syllable, not after it.";
const DRILL: Drill = Drill::at(0.75);

#[cfg(test)]
mod tests {
    use super::*;

    /// 60000/bpm/100 − 1 (references: Friberg & Sundström 2002, computed): 150 → 3.0, 160 → 2.75, 200 → 2.0, 240 → 1.5,
    /// 300 → 1.0, capped at 3.5 below 135.
    #[test]
    fn recorded_drummers_swing_less_the_faster_they_play() {
        for (bpm, ratio) in [
            (100.0, 3.5),
            (150.0, 3.0),
            (160.0, 2.75),
            (200.0, 2.0),
            (240.0, 1.5),
            (300.0, 1.0),
            (330.0, 1.0),
        ] {
            assert!(
                (published_ratio(60_000.0 / bpm) - ratio).abs() < 1e-9,
                "{bpm}"
            );
        }
    }
}
