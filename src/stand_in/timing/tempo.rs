//! Tempo that is not the click's: an old one kept after a change, and sections with one of their own.

use crate::expected::Expected;
use crate::stand_in::Habits;
use crate::units::{Nanos, Ticks};

/// Beats over which the player gets back to the click.
const BACK_BEATS: i64 = 4;

/// Where in time a player's own tempo takes them.
pub(super) struct OwnTempo {
    ramps: Vec<Ramp>,
    /// When each section begins.
    starts: Vec<Nanos>,
    /// What a span takes in sections with a tempo of their own, as a share of the click's.
    own_share: f64,
}

/// One change of tempo that the player does not follow at once.
#[derive(Clone, Copy, Debug)]
struct Ramp {
    at: Nanos,
    /// How far the player falls behind for each nanosecond of the line.
    falls: f64,
    /// For how long they keep the old tempo.
    keeps: Nanos,
    /// How long they take to get back.
    back: Nanos,
}

impl OwnTempo {
    pub(super) fn new(expected: &Expected, habits: &Habits) -> OwnTempo {
        let start = |section: usize| {
            let mut bars = expected.bars.iter();
            let first = bars.find(|bar| usize::from(bar.section) == section);
            first.map_or(expected.end, |bar| bar.onset)
        };
        OwnTempo {
            ramps: if habits.old_tempo_beats > 0.0 {
                ramps(expected, habits.old_tempo_beats)
            } else {
                Vec::new()
            },
            starts: (0..expected.sections.len()).map(start).collect(),
            own_share: 1.0 / (1.0 + habits.section_drift_percent / 100.0),
        }
    }

    /// How much later than the click the player is at a time of the line, while playing a section of it.
    pub(super) fn shift(&self, section: u16, time: Nanos) -> Nanos {
        let ramps: f64 = self.ramps.iter().map(|ramp| ramp.shift_at(time)).sum();
        let own = if section % 2 == 1 {
            let into = time - self.starts[usize::from(section)];
            into.0 as f64 * (self.own_share - 1.0)
        } else {
            0.0
        };
        Nanos((ramps + own).round() as i64)
    }
}

fn ramps(expected: &Expected, beats: f64) -> Vec<Ramp> {
    let changes: Vec<_> = expected.tempo_map.changes().collect();
    let ramp = |pair: &[(Ticks, Nanos, crate::expected::tempo_map::Rate)]| {
        let ((_, _, old), (start, at, new)) = (pair[0], pair[1]);
        let bar = expected.bars.iter().find(|bar| bar.start == start);
        let beat = bar.map_or(Ticks(crate::units::TICKS_PER_QUARTER), |bar| bar.beat);
        let falls = new.quarters_per_minute() / old.quarters_per_minute() - 1.0;
        let keeps = new.duration(Ticks((beats * beat.0 as f64).round() as i64));
        let behind = Nanos((keeps.0 as f64 * falls) as i64);
        Ramp {
            at,
            falls,
            keeps,
            // Nobody goes back to the click at more than twice its tempo.
            back: new
                .duration(Ticks(BACK_BEATS * beat.0))
                .max(behind + behind),
        }
    };
    changes.windows(2).map(ramp).collect()
}

impl Ramp {
    fn shift_at(&self, time: Nanos) -> f64 {
        let into = time - self.at;
        let behind = into.max(Nanos::ZERO).min(self.keeps).0 as f64 * self.falls;
        let left = 1.0 - (into - self.keeps).max(Nanos::ZERO).0 as f64 / self.back.0 as f64;
        behind * left.max(0.0)
    }
}
