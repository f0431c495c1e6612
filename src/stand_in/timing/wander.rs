//! The chance part of the offsets.

use crate::expected::ExpectedBar;
use crate::stand_in::Habits;
use crate::stand_in::chance::{Chance, Stream};

/// Every this many bars of the line come a rough one.
const ROUGH_EVERY: u32 = 4;

/// A first-order autoregression `x' = r·x + √(1 − r²)·s·N(0, 1)`, whose standard deviation is s and whose lag-1
/// correlation is r; in rough bars an independent part on top.
pub(super) struct Wander {
    chance: Chance,
    correlation: f64,
    fresh_ms: f64,
    now_ms: f64,
    rough: Chance,
    rough_ms: f64,
}

impl Wander {
    pub(super) fn new(habits: &Habits, seed: u64) -> Wander {
        let mut chance = Chance::new(seed, Stream::Timing);
        let correlation = habits.correlation;
        Wander {
            now_ms: habits.spread_ms * chance.normal(),
            chance,
            correlation,
            fresh_ms: habits.spread_ms * (1.0 - correlation * correlation).sqrt(),
            rough: Chance::new(seed, Stream::RoughBars),
            rough_ms: habits.rough_bars_ms,
        }
    }

    /// The offset of the next strike, which is in this bar.
    pub(super) fn next_ms(&mut self, bar: &ExpectedBar) -> f64 {
        let now = self.now_ms;
        self.now_ms = self.correlation * now + self.fresh_ms * self.chance.normal();
        let rough = self.rough_ms * self.rough.normal();
        let is_rough = bar.number > 0 && bar.number.is_multiple_of(ROUGH_EVERY);
        now + if is_rough { rough } else { 0.0 }
    }
}
