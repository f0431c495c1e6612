//! What to practise next: a few bars, a speed and a click that the tool can set up.

use super::evidence::Evidence;
use crate::click::Pattern;
use serde::Serialize;
use std::collections::BTreeMap;

/// How a kind of finding is practised.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drill {
    /// Share of the take's speed.
    pub speed: f64,
    /// Where the click sounds.
    pub click: Pattern,
}

impl Drill {
    /// With the click on every beat, at a share of the take's speed.
    pub const fn at(speed: f64) -> Drill {
        Drill {
            speed,
            click: Pattern::Beats,
        }
    }

    /// With another click.
    pub const fn with_click(self, click: Pattern) -> Drill {
        Drill { click, ..self }
    }
}

/// What to set up: `leadsman play LINE --bars 3-6 --speed 80`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Practice {
    /// First and last bar, as numbered in the line.
    pub bars: [u32; 2],
    /// Percent of the written tempo.
    pub speed: f64,
    /// Where the click sounds.
    pub click: Pattern,
}

/// Bars that are practised at a time: what the ear keeps as one phrase (common practice).
const BARS: u32 = 4;
/// Speeds are set in steps of this many percent, and not below the slowest.
const STEP_PERCENT: f64 = 5.0;
const SLOWEST_PERCENT: f64 = 40.0;

impl Practice {
    /// The four bars in a row that hold most of the notes; fewer where they are all in fewer. `None` without notes.
    pub fn of(evidence: &Evidence, notes: &[u32], drill: Drill) -> Option<Practice> {
        let mut counts: BTreeMap<u32, usize> = BTreeMap::new();
        for note in notes {
            *counts.entry(evidence.bar_number(*note)).or_default() += 1;
        }
        let held = |first: u32| -> usize {
            counts
                .range(first..first + BARS)
                .map(|(_, count)| count)
                .sum()
        };
        // The first of several that are alike.
        let first = counts.keys().rev().copied().max_by_key(|bar| held(*bar))?;
        let last = *counts.range(first..first + BARS).next_back()?.0;
        let speed = evidence.speed.percent() * drill.speed;
        let speed = (speed / STEP_PERCENT).round() * STEP_PERCENT;
        Some(Practice {
            bars: [first, last],
            speed: speed.max(SLOWEST_PERCENT),
            click: drill.click,
        })
    }
}
