//! The figures of one take, small enough to be kept by the thousand: what progress is told from.
//!
//! Kept as JSON, some 250 bytes for the whole take, each section and each finding. Groups of values are arrays:
//! [`Group`] is `[n, mean, sd, se]`, [`Scatter`] is `[sd, freedom, alike]`. Milliseconds, logarithms and shares are rounded
//! to three decimals.

use crate::line::bar_range::BarRange;
use serde::{Deserialize, Serialize};

/// What the numbers mean; figures of another version are worked out again from the take.
pub const VERSION: u32 = 1;

/// What one take comes to.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TakeFigures {
    /// [`VERSION`] when they were made.
    pub v: u32,
    /// The whole take.
    pub whole: Part,
    /// Its sections, all passes together, in the order of the line.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sections: Vec<SectionFigures>,
    /// What was said of it, that which hurts most first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub findings: Vec<FindingFigures>,
}

/// A take, or what belongs to a section of it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Part {
    /// Notes that had to be played.
    pub expected: u32,
    /// Those that something was played for.
    pub matched: u32,
    /// Those that nothing was played for.
    pub missed: u32,
    /// Played notes that belong nowhere; 0 in a section.
    pub extra: u32,
    /// Matched notes that have a pitch to judge.
    pub pitched: u32,
    /// Those of the right pitch.
    pub pitch_right: u32,
    /// Matched notes whose time is to be believed.
    pub timed: u32,
    /// Those inside the timing window.
    pub timing_in: u32,
    /// Timed notes whose length was judged.
    pub lengths: u32,
    /// Those inside the length window.
    pub length_in: u32,
    /// Those that ring over.
    pub rings: u32,
    /// Offsets in ms: the player's own place.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lean: Option<Group>,
    /// How much they scatter, in ms, without the slow wandering (moving mean over eight beats) and without what
    /// entries and upbeats have of their own.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spread: Option<Scatter>,
    /// Entries against the other notes, in ms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub entries: Option<Group>,
    /// Upbeats against the other notes, in ms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub upbeats: Option<Group>,
    /// Logarithms of the swing ratios as played, where the line swings.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub swing: Option<Group>,
    /// The mean logarithm of the ratios that the line asks for at the same places.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub swing_asked: Option<f64>,
    /// Logarithms of the lengths as played over those expected; muted and dead notes aside.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length: Option<Group>,
}

/// A section's figures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SectionFigures {
    /// Its name.
    pub name: String,
    /// Its bars, as numbered in the line.
    pub bars: BarRange,
    /// What it comes to.
    #[serde(flatten)]
    pub part: Part,
}

/// A group of values.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(from = "(u32, f64, f64, f64)", into = "(u32, f64, f64, f64)")]
pub struct Group {
    /// How many.
    pub n: u32,
    /// Their mean.
    pub mean: f64,
    /// The standard deviation of one of them.
    pub sd: f64,
    /// The standard error of the mean; neighbours that are alike count for less.
    pub se: f64,
}

/// How much values scatter.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(from = "(f64, f64, f64)", into = "(f64, f64, f64)")]
pub struct Scatter {
    /// The standard deviation, in ms.
    pub sd: f64,
    /// Degrees of freedom that it rests on, as many independent normal values would have.
    pub freedom: f64,
    /// The correlation of neighbours.
    pub alike: f64,
}

/// A finding, as far as progress is told from it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct FindingFigures {
    /// Its id, such as `late-entries`.
    pub id: String,
    /// How many notes show it.
    pub count: u32,
    /// Out of how many.
    pub of: u32,
    /// How much it hurts: see [`crate::findings::Finding::hurting`].
    pub hurt: f64,
    /// Its mean effect in ms.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mean_ms: Option<f64>,
    /// The 95 % interval of that mean.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub interval_ms: Option<[f64; 2]>,
    /// The bars to practise for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bars: Option<BarRange>,
    /// The speed to practise them at, percent of the written tempo.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub speed: Option<f64>,
}

impl Part {
    /// Notes that had to be played and have a pitch: those right, those wrong, those missed.
    pub fn asked_for_pitch(&self) -> u32 {
        self.pitched + self.missed
    }
}

impl From<(u32, f64, f64, f64)> for Group {
    fn from((n, mean, sd, se): (u32, f64, f64, f64)) -> Group {
        Group { n, mean, sd, se }
    }
}

impl From<Group> for (u32, f64, f64, f64) {
    fn from(group: Group) -> (u32, f64, f64, f64) {
        (group.n, group.mean, group.sd, group.se)
    }
}

impl From<(f64, f64, f64)> for Scatter {
    fn from((sd, freedom, alike): (f64, f64, f64)) -> Scatter {
        Scatter { sd, freedom, alike }
    }
}

impl From<Scatter> for (f64, f64, f64) {
    fn from(scatter: Scatter) -> (f64, f64, f64) {
        (scatter.sd, scatter.freedom, scatter.alike)
    }
}
