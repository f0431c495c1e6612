//! Is a new tempo taken at once, or is the old one kept for a while?
//!
//! A player who keeps the old tempo falls behind a faster click, or gets ahead of a slower one, by a slope that is known:
//! `new / old − 1` of the time. Then they get back, here evenly over [`RETURN_BEATS`]. Statistic: the share of that shape in the
//! offsets of the section's first beats, 1 being the whole of it; the length of keeping is the one whose whole shape
//! leaves the smallest squares, and the chance is multiplied by how many unlike lengths were tried ([`UNLIKE`], Bonferroni). A section that wanders evenly off, and explains the notes better so, has drifted and not kept.

use super::strikes::{Change, Section, Strikes};
use crate::findings::stats::discovery::FALSE_SHARE;
use crate::findings::stats::estimate::Estimate;
use crate::findings::stats::trend::{Alike, Trend, trend};
use std::ops::Range;

/// Beats that the way back takes.
pub const RETURN_BEATS: f64 = 4.0;
/// Beats that the old tempo may be kept at the most.
pub const LONGEST_BEATS: f64 = 16.0;
/// Lengths of 1, 2, 4, 8 and 16 beats have unlike shapes; those between are like one of them.
const UNLIKE: f64 = 5.0;
/// Of a shape of which less than two beats of return are in the section nothing tells a new tempo from a slope.
const LEAST_RETURN: f64 = 2.0;
/// Beats that are looked at: the longest shape, and as much again as the shortest section.
const LOOKED_AT: f64 = 28.0;
/// Fewer strikes say nothing.
const FEWEST: usize = 8;
/// The length by which it is told that a tempo was taken at once, and the most of it that may have been there.
const AT_ONCE_BEATS: f64 = 4.0;
const AT_ONCE_SHARE: f64 = 0.5;

/// How a section's new tempo was taken.
pub struct Step {
    /// How likely chance alone shows as much.
    pub chance: f64,
    /// How many beats the old tempo was kept.
    pub beats: f64,
    /// By how much the player was off at the most, in ms: late when the new tempo is faster.
    pub peak_ms: Estimate,
    /// Whether chance and size both say that the old tempo was kept.
    pub is_kept: bool,
    /// Whether it is certain that it was not kept for two beats.
    pub is_at_once: bool,
}

/// The shape of keeping the old tempo, in ms at a time since the change.
struct Shape {
    /// ms per second of the line.
    slope: f64,
    beat_s: f64,
    kept_beats: f64,
}

impl Shape {
    fn of(section: &Section, change: Change, kept_beats: f64) -> Shape {
        Shape {
            slope: 1000.0 * (change.to / change.from - 1.0),
            beat_s: section.beat_ms / 1000.0,
            kept_beats,
        }
    }

    fn peak_ms(&self) -> f64 {
        self.slope * self.kept_beats * self.beat_s
    }

    fn at(&self, since_s: f64) -> f64 {
        let kept = self.kept_beats * self.beat_s;
        let back = RETURN_BEATS * self.beat_s;
        if since_s <= kept {
            self.slope * since_s.max(0.0)
        } else {
            self.peak_ms() * (1.0 - (since_s - kept) / back).max(0.0)
        }
    }
}

/// The strikes of a section's beginning, those in one run with the first.
pub struct Beginning<'a> {
    section: &'a Section,
    change: Change,
    since_s: Vec<f64>,
    plain_ms: &'a [f64],
    /// One.
    run: Vec<Range<usize>>,
    length_beats: f64,
}

impl<'a> Beginning<'a> {
    /// `None` where the tempo does not change, or too little was played.
    pub fn of(strikes: &'a Strikes, section: &'a Section) -> Option<Beginning<'a>> {
        let change = section.change?;
        let from = section.strikes.start;
        let since = |index: usize| strikes.at_s[from + index] - section.spans_s[0];
        let looked_at = LOOKED_AT * section.beat_ms / 1000.0;
        let run = section.runs.first()?;
        let end = run.clone().find(|index| since(*index) > looked_at);
        let run = run.start..end.unwrap_or(run.end);
        (run.len() >= FEWEST).then(|| Beginning {
            change,
            since_s: run.clone().map(since).collect(),
            plain_ms: &strikes.plain_ms[from + run.start..from + run.end],
            run: vec![Range {
                start: 0,
                end: run.len(),
            }],
            length_beats: (section.spans_s[1] - section.spans_s[0]) * 1000.0 / section.beat_ms,
            section,
        })
    }

    fn shape(&self, kept_beats: f64) -> (Shape, Vec<f64>) {
        let shape = Shape::of(self.section, self.change, kept_beats);
        let column = self.since_s.iter().map(|since| shape.at(*since)).collect();
        (shape, column)
    }

    fn share(&self, kept_beats: f64, alike: Alike) -> Option<Trend> {
        let (_, column) = self.shape(kept_beats);
        trend(&column, self.plain_ms, None, &self.run, Some(alike))
    }

    /// How the new tempo was taken; `tried`: how many changes are asked after.
    pub fn step(&self, alike: Alike, tried: usize) -> Option<Step> {
        let is_at_once = self
            .share(AT_ONCE_BEATS, alike)
            .is_some_and(|share| share.slope.interval()[1] < AT_ONCE_SHARE);
        let beats = self.beats();
        let share = self.share(beats, alike)?;
        let chance = match share.slope.mean > 0.0 {
            true => share.slope.chance() * UNLIKE * tried as f64,
            false => 1.0,
        };
        let peak = self.shape(beats).0.peak_ms();
        let peak_ms = Estimate {
            mean: share.slope.mean * peak,
            standard_error: share.slope.standard_error * peak.abs(),
            ..share.slope
        };
        let is_slope = trend(&self.since_s, self.plain_ms, None, &self.run, Some(alike))
            .is_some_and(|slope| squares(&slope) < squares(&share));
        let is_kept = chance <= FALSE_SHARE
            && !is_slope
            && peak_ms.is_beyond(super::harmless_ms(self.section.beat_ms));
        Some(Step {
            chance: chance.min(1.0),
            beats,
            peak_ms,
            is_kept,
            is_at_once: is_at_once && !is_kept,
        })
    }

    /// The length of keeping that explains the notes best, to half a beat.
    pub fn beats(&self) -> f64 {
        let longest = LONGEST_BEATS.min(self.length_beats - LEAST_RETURN);
        let lengths = (2..=(2.0 * longest) as u32).map(|halves| f64::from(halves) / 2.0);
        let left = |kept_beats: f64| {
            let (_, column) = self.shape(kept_beats);
            let left = || std::iter::zip(self.plain_ms, &column).map(|(y, x)| y - x);
            let mean = left().sum::<f64>() / column.len() as f64;
            left().map(|left| (left - mean).powi(2)).sum::<f64>()
        };
        lengths
            .map(|beats| (beats, left(beats)))
            .min_by(|one, other| one.1.total_cmp(&other.1))
            .map_or(1.0, |(beats, _)| beats)
    }

    /// The shape that was found, for each strike of the section.
    pub fn column(&self, strikes: &Strikes, beats: f64) -> Vec<f64> {
        let shape = Shape::of(self.section, self.change, beats);
        self.section
            .strikes
            .clone()
            .map(|strike| shape.at(strikes.at_s[strike] - self.section.spans_s[0]))
            .collect()
    }
}

fn squares(trend: &Trend) -> f64 {
    trend.left.iter().map(|left| left * left).sum()
}
