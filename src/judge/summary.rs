//! The numbers of a whole take. An empty take has defined answers: counts are 0, everything else is missing.

use super::cost::Pitch;
use super::judge::Judgement;
use super::reading::{Length, Timing};
use crate::expected::{Expected, ExpectedNote};
use serde::Serialize;

/// What a take comes to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Summary {
    /// Notes that had to be played: all of the line but ghost notes that were left out, and those whose place fell
    /// into a glitch with nothing heard for them.
    pub expected: usize,
    /// Those that something was played for.
    pub matched: usize,
    /// Those that nothing was played for.
    pub missed: usize,
    /// Played notes that belong nowhere.
    pub extra: usize,
    /// Matched notes of the right key (dead notes are neither right nor wrong).
    pub pitch_right: usize,
    /// Matched notes inside the timing window.
    pub timing_in: usize,
    /// Matched notes that fell into a glitch, whose timing is not judged and counts for no sum below.
    pub timing_unjudged: usize,
    /// Matched notes inside the length window.
    pub length_in: usize,
    /// Mean offset in ms, a phrase's displacement taken out; negative is early.
    pub offset_mean_ms: Option<f64>,
    /// Standard deviation of the same (n − 1), from two notes on.
    pub offset_sd_ms: Option<f64>,
    /// Long half : short half of the pairs as played, the mean of their logarithms, from
    /// [`FEWEST_PAIRS`] pairs on.
    pub swing_ratio: Option<f64>,
    /// How much faster (positive) or slower the player went than the line, in percent, by least squares.
    pub tempo_drift_pct: Option<f64>,
}

/// Fewer pairs than this carry no claim about swing (practice of the published annotation studies).
pub const FEWEST_PAIRS: usize = 15;
/// Ratios outside 0.25 to 4 are slips, not swing (the same practice).
pub const PLAUSIBLE_RATIOS: std::ops::RangeInclusive<f64> = 0.25..=4.0;

/// Adds a take up.
pub fn summarise(expected: &Expected, judgement: &Judgement) -> Summary {
    let partners = || {
        judgement
            .readings
            .iter()
            .filter_map(|reading| reading.partner)
    };
    let readings = judgement.readings.iter();
    let left_out = readings
        .filter(|reading| left_out(expected, reading))
        .count();
    let matched = partners().count();
    let count = |holds: fn(&super::Partner) -> bool| partners().filter(holds).count();
    let (mean, sd) = mean_and_sd(
        partners()
            .filter(is_timed)
            .map(|partner| partner.off_grid.ms()),
    );
    Summary {
        expected: expected.notes.len() - left_out,
        matched,
        missed: expected.notes.len() - left_out - matched,
        extra: judgement.extra.len(),
        pitch_right: count(|partner| partner.pitch == Pitch::Right),
        timing_in: count(|partner| partner.timing == Timing::In),
        timing_unjudged: count(|partner| partner.timing == Timing::Unjudged),
        length_in: count(|partner| partner.length == Some(Length::In)),
        offset_mean_ms: mean,
        offset_sd_ms: sd,
        swing_ratio: swing_ratio(expected, judgement),
        tempo_drift_pct: tempo_drift(expected, &[&judgement.readings]),
    }
}

/// Mean from one value on, standard deviation (n − 1) from two.
pub fn mean_and_sd(values: impl Iterator<Item = f64>) -> (Option<f64>, Option<f64>) {
    // Welford's recurrence: one pass, no cancellation.
    let (mut n, mut mean, mut squares) = (0usize, 0.0, 0.0);
    for value in values {
        n += 1;
        let before = value - mean;
        mean += before / n as f64;
        squares += before * (value - mean);
    }
    (
        (n > 0).then_some(mean),
        (n > 1).then(|| (squares / (n - 1) as f64).sqrt()),
    )
}

/// Whether nothing was played for a note that need not be heard: a ghost note, or one whose place fell into a glitch.
pub fn left_out(expected: &Expected, reading: &super::Reading) -> bool {
    let is_optional = expected.notes[reading.note as usize].is.optional;
    reading.partner.is_none() && (is_optional || reading.is_unheard)
}

/// Whether the time of a note is to be believed.
pub fn is_timed(partner: &super::Partner) -> bool {
    partner.timing != Timing::Unjudged
}

/// The logarithms of the ratios of pairs, the mean of which is [`Summary::swing_ratio`]: over pairs on-beat, upbeat, next
/// beat that were all played, the upbeat written halfway and one of those that belong: (u − d) : (n − u).
pub fn swing_logs(
    expected: &Expected,
    judgement: &Judgement,
    belongs: impl Fn(&ExpectedNote) -> bool,
) -> Vec<f64> {
    let onset = |note: usize| {
        let partner = judgement.readings[note].partner.filter(is_timed)?;
        Some(judgement.played[partner.played as usize].onset)
    };
    let ratio = |middle: usize| {
        let (beat, next) = swung_pair(expected, middle)?;
        let (beat, upbeat, next) = (onset(beat)?, onset(middle)?, onset(next)?);
        let ratio = (upbeat - beat).0 as f64 / (next - upbeat).0 as f64;
        PLAUSIBLE_RATIOS.contains(&ratio).then(|| ratio.ln())
    };
    (1..expected.notes.len().saturating_sub(1))
        .filter(|middle| belongs(&expected.notes[*middle]))
        .filter_map(ratio)
        .collect()
}

fn swing_ratio(expected: &Expected, judgement: &Judgement) -> Option<f64> {
    let logs = swing_logs(expected, judgement, |_| true);
    (logs.len() >= FEWEST_PAIRS).then(|| (logs.iter().sum::<f64>() / logs.len() as f64).exp())
}

/// The same as the line has it, over all its pairs; `None` where they are even, or there are none.
pub fn written_swing(expected: &Expected) -> Option<f64> {
    let onset = |note: usize| expected.notes[note].onset;
    let ratio = |middle: usize| {
        let (beat, next) = swung_pair(expected, middle)?;
        let (long, short) = (onset(middle) - onset(beat), onset(next) - onset(middle));
        Some((long.0 as f64 / short.0 as f64).ln())
    };
    let ratios = (1..expected.notes.len().saturating_sub(1)).filter_map(ratio);
    let mean = mean_and_sd(ratios).0?.exp();
    const EVEN: f64 = 1.01;
    (mean > EVEN).then_some(mean)
}

/// The notes before and after an upbeat when the three make a pair and the note after it.
fn swung_pair(expected: &Expected, middle: usize) -> Option<(usize, usize)> {
    let position = |note: usize| {
        let note = &expected.notes[note];
        expected.bars[note.bar as usize].start + note.at
    };
    let (before, after) = (middle - 1, middle + 1);
    let is_pair = expected.notes[middle].is.upbeat
        && !expected.notes[before].is.upbeat
        && !expected.notes[after].is.upbeat
        && position(middle) - position(before) == position(after) - position(middle);
    is_pair.then_some((before, after))
}

/// Slope of offset over expected time: a player who gets earlier and earlier is faster than the line. Over several
/// runs it is the slope within them: a step from one to the next is no drift.
pub(super) fn tempo_drift(expected: &Expected, runs: &[&[super::Reading]]) -> Option<f64> {
    let (mut n, mut sxy, mut sxx) = (0, 0.0, 0.0);
    for run in runs {
        let points = || run.iter().filter_map(|reading| point(expected, reading));
        let count = points().count();
        let (sum_x, sum_y) = points().fold((0.0, 0.0), |(x, y), point| (x + point.0, y + point.1));
        let (mean_x, mean_y) = (sum_x / count as f64, sum_y / count as f64);
        for (x, y) in points() {
            sxy += (x - mean_x) * (y - mean_y);
            sxx += (x - mean_x) * (x - mean_x);
        }
        n += count;
    }
    (n >= 3 && sxx > 0.0).then(|| -100.0 * sxy / sxx)
}

/// When a note was expected, and its offset, in seconds.
fn point(expected: &Expected, reading: &super::Reading) -> Option<(f64, f64)> {
    let partner = reading.partner.filter(is_timed)?;
    let note = &expected.notes[reading.note as usize];
    Some((note.onset.seconds(), partner.off_grid.seconds()))
}
