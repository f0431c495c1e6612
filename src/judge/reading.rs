//! Readings: one expected note against what was played for it, with three independent verdicts.

use super::cost::Pitch;
use super::settings::Windows;
use crate::expected::ExpectedNote;
use crate::units::{Nanos, Ticks};
use serde::{Deserialize, Serialize};

/// The comparison of one expected note with what was played for it, or the lack of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Index of the expected note.
    pub note: u32,
    /// What was played for it; `None`: missed, or a ghost note that was left out.
    pub partner: Option<Partner>,
    /// Nothing was played for it, as far as can be told: it fell into a glitch, in which events may be lost.
    pub is_unheard: bool,
}

/// The played side of a reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Partner {
    /// Number of the played note.
    pub played: u32,
    /// Played onset − expected onset, with whatever the phrase is displaced by. Negative is early.
    pub offset: Nanos,
    /// How far the phrase is from its place; 0 where it is in place.
    pub displaced: Ticks,
    /// The offset from the displaced grid: what is left when the displacement is taken out.
    pub off_grid: Nanos,
    /// Played length ÷ expected sounding length; `None` while it sounds, or when its end never came.
    pub length_ratio: Option<f64>,
    /// How long it still sounded after the next note, or a written rest, had begun; 0 when it did not.
    pub ring_over: Option<Nanos>,
    /// Verdict on pitch.
    pub pitch: Pitch,
    /// Verdict on timing.
    pub timing: Timing,
    /// Verdict on length, where the length is known.
    pub length: Option<Length>,
}

/// The verdict on timing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Timing {
    /// Inside the window.
    In,
    /// Before it.
    Early,
    /// After it.
    Late,
    /// It was played while the machine, not the player, was out of time: see [`crate::clock::glitch`].
    Unjudged,
}

/// The verdict on length.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Length {
    /// Inside the window.
    In,
    /// Stopped too soon.
    Short,
    /// Held too long, but not into the next note or a rest.
    Long,
    /// Outlasts the start of the next note, or of a rest: a missed mute.
    Rings,
}

/// The share of its written length that a note marked short may sound, edges inside. By convention staccato is half;
/// players were measured at about 40 % of the inter-onset interval (Bresin & Battel 2000, JNMR 29:211).
const SHORT_SHARE: std::ops::RangeInclusive<f64> = 0.25..=0.65;

/// Judges the onset; the edges of the window are inside.
pub fn timing(off_grid: Nanos, windows: &Windows) -> Timing {
    let from_target = off_grid - windows.lean;
    match () {
        () if from_target < -windows.timing => Timing::Early,
        () if from_target > windows.timing => Timing::Late,
        () => Timing::In,
    }
}

/// How long a note that ends at `end` sounds into the next note or into the rest that is written after it. The rest
/// is where the line has it, on the grid that the phrase is on and the player leans to; the next note is where it
/// was played.
pub fn ring_over(end: Nanos, rest_at: Option<Nanos>, next_onset: Option<Nanos>) -> Nanos {
    let first = rest_at.into_iter().chain(next_onset).min();
    first.map_or(Nanos::ZERO, |stop| (end - stop).max(Nanos::ZERO))
}

/// Judges the length.
pub fn length(note: &ExpectedNote, played: Nanos, ring_over: Nanos, windows: &Windows) -> Length {
    if ring_over > windows.ring {
        return Length::Rings;
    }
    if note.is.short || note.is.muted || note.is.dead {
        return short_length(note, played);
    }
    let side = windows
        .length
        .0
        .max((windows.length_share * note.sounding.0 as f64).round() as i64);
    match (played - note.sounding).0 {
        over if over > side => Length::Long,
        over if over < -side => Length::Short,
        _ => Length::In,
    }
}

/// A short note is judged by the share of its written length; a muted or dead one cannot be too short.
fn short_length(note: &ExpectedNote, played: Nanos) -> Length {
    let share = played.0 as f64 / note.written.0.max(1) as f64;
    match share {
        _ if share > *SHORT_SHARE.end() => Length::Long,
        _ if share < *SHORT_SHARE.start() && !(note.is.muted || note.is.dead) => Length::Short,
        _ => Length::In,
    }
}
