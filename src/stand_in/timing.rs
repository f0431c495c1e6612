//! When the stand-in strikes.

use super::Habits;
use super::chance::{Chance, Stream};
use crate::expected::ExpectedNote;
use crate::units::Nanos;

/// The least time between two strikes of one hand, where the line itself does not ask for less: nobody plucks more than
/// sixteen or so notes a second.
const LEAST_GAP: Nanos = Nanos::from_ms(60);

/// The part of a player's time that does not depend on chance: tempo and lean.
#[derive(Clone, Copy)]
pub(super) struct OwnTime {
    stretch: f64,
    mean: Nanos,
}

impl OwnTime {
    pub(super) fn new(habits: &Habits) -> OwnTime {
        OwnTime {
            stretch: 1.0 + habits.drift_percent / 100.0,
            mean: Nanos::from_ms_f64(habits.mean_ms),
        }
    }

    /// When the player feels a moment of the line to be.
    pub(super) fn moment(self, time: Nanos) -> Nanos {
        self.span(time) + self.mean
    }

    /// How long a span of the line lasts for the player.
    pub(super) fn span(self, span: Nanos) -> Nanos {
        Nanos((span.0 as f64 / self.stretch).round() as i64)
    }
}

/// When each strike begins, in order: the notes of a double stop begin together, and nobody plays a later note first.
pub(super) fn onsets(strikes: &[&[ExpectedNote]], habits: &Habits, seed: u64) -> Vec<Nanos> {
    let own = OwnTime::new(habits);
    let mut wander = Wander::new(habits, seed);
    let mut onsets: Vec<Nanos> = Vec::with_capacity(strikes.len());
    for (index, strike) in strikes.iter().enumerate() {
        let note = &strike[0];
        let mut habit_ms = wander.next_ms();
        if note.is.entry {
            habit_ms += habits.late_entries_ms;
        }
        if note.is.upbeat {
            habit_ms += habits.upbeats_ms;
        }
        let mut onset = own.moment(note.onset) + Nanos::from_ms_f64(habit_ms);
        if let Some(before) = onsets.last() {
            let asked = own.span(note.onset - strikes[index - 1][0].onset);
            onset = onset.max(*before + asked.min(LEAST_GAP));
        }
        onsets.push(onset);
    }
    onsets
}

/// The chance part of the offsets: a first-order autoregression `x' = r·x + √(1 − r²)·s·N(0, 1)`, whose standard
/// deviation is s and whose lag-1 correlation is r.
struct Wander {
    chance: Chance,
    correlation: f64,
    fresh_ms: f64,
    now_ms: f64,
}

impl Wander {
    fn new(habits: &Habits, seed: u64) -> Wander {
        let mut chance = Chance::new(seed, Stream::Timing);
        let correlation = habits.correlation;
        Wander {
            now_ms: habits.spread_ms * chance.normal(),
            chance,
            correlation,
            fresh_ms: habits.spread_ms * (1.0 - correlation * correlation).sqrt(),
        }
    }

    fn next_ms(&mut self) -> f64 {
        let now = self.now_ms;
        self.now_ms = self.correlation * now + self.fresh_ms * self.chance.normal();
        now
    }
}
