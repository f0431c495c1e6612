//! `latency-suspect`: is it the player who is late, or what stands between finger and number?
//!
//! Two signs, of which no player has either:
//! - **Offsets that grow with the period of the note.** A converter waits for whole periods, so what is not taken off
//!   shows as a slope over `1 / f0`. Statistic: that slope by least squares, with time (tempo drift), upbeats and
//!   entries (their habits) beside it, displaced phrases and wrong pitches left out; its t interval on the effective sample size. Harmless:
//!   a slope that moves the lowest note against the highest by no more than can be heard. At least
//!   [`FEWEST_NOTES`] notes on three pitches spread over more than an octave, and a slope that a converter can have.
//!   A slope that falls counts only where periods were taken off: then they were too many.
//! - **A whole take off by more than a lean.** Professional drummers with a metronome are off by 1 to 10 ms on average
//!   (Fujii et al. 2011, Music Perception 28:491); listeners prefer ensembles within 19 ms (Hofmann et al. 2017, JNMR
//!   46:329), and trios spread by 27 to 49 ms in all (Rasch 1979). A mean (entries aside) that is beyond [`LARGEST_LEAN_MS`] for
//!   certain is no style; one that is also as steady as a recorded bass (standard deviation up to 28 ms, the upper
//!   decile of an annotated set) is no struggle either.

use super::evidence::{Evidence, Heard};
use super::{Finding, stats};
use crate::judge::cost::Pitch;
use crate::units::Key;

/// Asked before all other questions, and alone: 99 % certain (two-sided).
const LEVEL: f64 = 0.99;
/// Notes for either sign.
const FEWEST_NOTES: usize = 16;
const FEWEST_PITCHES: usize = 3;
const OCTAVE: u8 = 12;
/// No player leans by more than this, either way.
const LARGEST_LEAN_MS: f64 = 50.0;
/// A take that scatters by more is unsteady, and its mean says little about a latency.
const STEADY_MS: f64 = 28.0;
/// Periods that a converter can wait for (one to two: Fonseca & Tavares 2020), with room.
const MOST_PERIODS: f64 = 4.0;

/// What is suspected.
pub struct Suspicion {
    /// In words.
    pub finding: Finding,
    /// Periods that are suspected beyond those taken off; 0 when the whole take sits off by a constant.
    pub periods: f64,
}

pub fn ask(evidence: &Evidence) -> Option<Suspicion> {
    let is_in_place =
        |heard: &&Heard| heard.partner.pitch == Pitch::Right && heard.partner.displaced.0 == 0;
    let in_place: Vec<&Heard> = evidence.heard.iter().filter(is_in_place).collect();
    if in_place.len() < FEWEST_NOTES {
        return None;
    }
    by_pitch(evidence, &in_place).or_else(|| as_a_whole(evidence, &in_place))
}

fn by_pitch(evidence: &Evidence, in_place: &[&Heard]) -> Option<Suspicion> {
    let pitched: Vec<(&Heard, Key)> = in_place
        .iter()
        .filter_map(|heard| Some((*heard, heard.note.key?)))
        .collect();
    let range = Range::of(&pitched)?;
    let column = |of: fn(&Heard) -> f64| -> Vec<f64> {
        pitched.iter().map(|(heard, _)| of(heard)).collect()
    };
    let periods = column(|heard| heard.period_ms().unwrap_or(0.0));
    let beside = [
        column(|heard| heard.note.onset.seconds()),
        column(|heard| f64::from(u8::from(heard.note.is.upbeat))),
        column(|heard| f64::from(u8::from(heard.note.is.entry))),
    ];
    let offsets = column(|heard| heard.offset_ms);
    let slope = stats::slope_interval(&periods, &offsets, &beside, LEVEL)?;
    let [low, high] = slope.interval();
    let harmless = evidence.harmless_ms(in_place.iter().copied()) / range.periods_ms();
    let taken_off = evidence.latency.periods;
    let too_few = low > harmless && low < MOST_PERIODS;
    let too_many = high < -harmless && taken_off > 0.0;
    (too_few || too_many).then(|| Suspicion {
        finding: pitch_finding(evidence, &pitched, &range, &slope),
        periods: slope.mean,
    })
}

fn pitch_finding(
    evidence: &Evidence,
    pitched: &[(&Heard, Key)],
    range: &Range,
    slope: &stats::Mean,
) -> Finding {
    let apart = |periods: f64| periods * range.periods_ms();
    let [low, high] = slope.interval().map(apart);
    let size = slope.mean.abs();
    let taken_off = evidence.latency.periods;
    let text = format!(
        "Low notes come {} than high ones, {} by {:+.0} ms against {} ({low:+.0} to {high:+.0}): {}.",
        if slope.mean > 0.0 { "later" } else { "sooner" },
        range.lowest,
        apart(slope.mean),
        range.highest,
        match (slope.mean > 0.0, taken_off > 0.0) {
            (true, false) => format!("so does a converter that waits for about {size:.1} periods"),
            (true, true) => format!(
                "so does a converter that waits for about {size:.1} periods more than the {taken_off:.1} taken off"
            ),
            (false, _) => format!(
                "as if about {size:.1} of the {taken_off:.1} periods that are taken off were too many"
            ),
        },
    );
    let notes = pitched.iter().map(|(heard, _)| heard.index).collect();
    Finding::new("latency-suspect", notes, evidence.heard.len())
        .sized(apart(slope.mean), Some([low, high]))
        .told(text, ADVICE)
}

fn as_a_whole(evidence: &Evidence, in_place: &[&Heard]) -> Option<Suspicion> {
    let is_entry = |heard: &&&Heard| heard.note.is.entry;
    let plain: Vec<&Heard> = in_place
        .iter()
        .filter(|heard| !is_entry(heard))
        .copied()
        .collect();
    if plain.len() < FEWEST_NOTES {
        return None;
    }
    let lean = evidence.windows.lean.ms();
    let offsets: Vec<f64> = plain.iter().map(|heard| heard.offset_ms - lean).collect();
    let mean = stats::mean_interval(&offsets, LEVEL)?;
    let [low, high] = mean.interval();
    let squares: f64 = offsets.iter().map(|o| (o - mean.mean).powi(2)).sum();
    let spread = (squares / (offsets.len() - 1) as f64).sqrt();
    let is_far = low > LARGEST_LEAN_MS || high < -LARGEST_LEAN_MS;
    if !is_far || spread > STEADY_MS {
        return None;
    }
    let text = format!(
        "The whole take sits {:+.0} ms from where you aim ({low:+.0} to {high:+.0}), and steadily: more than a player leans.",
        mean.mean
    );
    let notes = plain.iter().map(|heard| heard.index).collect();
    Some(Suspicion {
        finding: Finding::new("latency-suspect", notes, evidence.heard.len())
            .sized(mean.mean, Some([low, high]))
            .told(text, ADVICE),
        periods: 0.0,
    })
}

/// The pitches of a group of notes.
struct Range {
    lowest: Key,
    highest: Key,
}

impl Range {
    /// `None` where the pitches are too few or too close.
    fn of(pitched: &[(&Heard, Key)]) -> Option<Range> {
        let mut keys: Vec<Key> = pitched.iter().map(|(_, key)| *key).collect();
        keys.sort_unstable();
        keys.dedup();
        let (lowest, highest) = (*keys.first()?, *keys.last()?);
        let is_wide = keys.len() >= FEWEST_PITCHES && highest.0 - lowest.0 > OCTAVE;
        is_wide.then_some(Range { lowest, highest })
    }

    /// The period of the lowest pitch less that of the highest, in ms.
    fn periods_ms(&self) -> f64 {
        1000.0 / self.lowest.frequency_hz() - 1000.0 / self.highest.frequency_hz()
    }
}

const ADVICE: &str = "Before you change anything in your playing, measure what stands between finger and number: `leadsman latency measure`, headphone on the pickup.";
