//! How coarse a driver's stamps are.
//!
//! A stamp of 1 ms resolution lies up to 1 ms before (or after) its event. The lower envelope settles at the extreme of
//! that, so half a grain added to every time leaves ± half a grain, evenly spread: a median of a quarter of a grain,
//! whichever way the driver rounds.

use crate::units::Nanos;

/// Differences of stamps that have to agree.
const ENOUGH: u32 = 16;
/// Finer stamps need no correction.
const FINEST: i64 = 100_000;
/// Coarser ones cannot be told from events that come in a rhythm.
const COARSEST: i64 = 20_000_000;

/// Finds the largest step that all differences of stamps are multiples of.
#[derive(Clone, Copy, Debug, Default)]
pub struct Grain {
    last: Option<Nanos>,
    divisor: i64,
    seen: u32,
}

impl Grain {
    /// Learns from a stamp.
    pub fn add(&mut self, stamp: Nanos) {
        let step = self.last.map_or(0, |last| (stamp - last).0.abs());
        self.last = Some(stamp);
        if step != 0 {
            self.divisor = greatest_common_divisor(self.divisor, step);
            self.seen = self.seen.saturating_add(1);
        }
    }

    /// The next stamp counts from another origin.
    pub fn restart(&mut self) {
        self.last = None;
    }

    /// Half a grain; 0 for fine stamps, and while too few are known.
    pub fn half(&self) -> Nanos {
        let is_grain = self.seen >= ENOUGH && (FINEST..=COARSEST).contains(&self.divisor);
        Nanos(if is_grain { self.divisor / 2 } else { 0 })
    }
}

fn greatest_common_divisor(a: i64, b: i64) -> i64 {
    let (mut a, mut b) = (a, b);
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

#[cfg(test)]
mod tests {
    use super::*;

    fn half_of(stamps: impl Iterator<Item = i64>) -> Nanos {
        let mut grain = Grain::default();
        stamps.for_each(|stamp| grain.add(Nanos(stamp)));
        grain.half()
    }

    #[test]
    fn milliseconds_microseconds_and_rhythms_are_told_apart() {
        let anyhow = |n: i64| 125 * n + n * n % 17;
        assert_eq!(
            half_of((0..40).map(|n| 1_000_000 * anyhow(n))),
            Nanos(500_000)
        );
        assert_eq!(half_of((0..40).map(|n| 1000 * anyhow(n))), Nanos::ZERO);
        assert_eq!(half_of((0..40).map(|n| 125_000_000 * n)), Nanos::ZERO);
        assert_eq!(half_of((0..5).map(|n| 1_000_000 * anyhow(n))), Nanos::ZERO);
    }
}
