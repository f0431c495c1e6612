//! The part of a player's time that does not depend on chance: tempo and lean.

use super::tempo::OwnTempo;
use crate::expected::Expected;
use crate::stand_in::Habits;
use crate::units::Nanos;

/// What the line's time is to the player.
pub(in crate::stand_in) struct OwnTime {
    stretch: f64,
    mean: Nanos,
    tempo: OwnTempo,
}

impl OwnTime {
    pub(in crate::stand_in) fn new(expected: &Expected, habits: &Habits) -> OwnTime {
        OwnTime {
            stretch: 1.0 + habits.drift_percent / 100.0,
            mean: Nanos::from_ms_f64(habits.mean_ms),
            tempo: OwnTempo::new(expected, habits),
        }
    }

    /// When the player feels a moment of the line to be; `section` is the one that they are playing.
    pub(in crate::stand_in) fn moment(&self, section: u16, time: Nanos) -> Nanos {
        self.stretched(time + self.tempo.shift(section, time)) + self.mean
    }

    /// How long the player holds what lasts this long in the line from `at` on.
    pub(in crate::stand_in) fn span(&self, section: u16, at: Nanos, span: Nanos) -> Nanos {
        let shift = |time| self.tempo.shift(section, time);
        self.stretched(span + shift(at + span) - shift(at))
    }

    /// A span at the steady part of the player's tempo.
    pub(in crate::stand_in) fn stretched(&self, span: Nanos) -> Nanos {
        Nanos((span.0 as f64 / self.stretch).round() as i64)
    }
}
