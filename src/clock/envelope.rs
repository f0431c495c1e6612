//! The lower envelope of arrival − stamp: when a stamped event happened on the host's clock.
//!
//! An event can arrive late but never early, so the line under all points (stamp, arrival − stamp) is the port clock's
//! offset without the delays (Moon, Skelly & Towsley, INFOCOM 1999). Of the lines under all points the one through the
//! lower hull's edge over the mean stamp is the nearest to them all.

use crate::units::Nanos;

/// How far back points count.
const WINDOW: Nanos = Nanos::from_ms(10_000);
/// One point, the lowest, is kept for each stretch of this length.
const STRETCH: Nanos = Nanos::from_ms(100);
const STRETCHES: usize = (WINDOW.0 / STRETCH.0) as usize;
/// No two clocks of a computer drift apart faster: 500 parts in a million.
const STEEPEST: f64 = 500e-6;
/// Points that lie closer together than this say nothing about a slope.
const SHORTEST: Nanos = Nanos::from_ms(1000);
/// A point so far below the line, which no delay explains, means that the port's clock has jumped.
const JUMP_DOWN: Nanos = Nanos::from_ms(50);
/// A point so far above the line is no delay either.
const JUMP_UP: Nanos = Nanos::from_ms(1000);
/// A stamp that stands still for this long of arrivals says nothing.
const STANDSTILL: Nanos = Nanos::from_ms(100);

/// The fit of one port's clock. Arrivals are counted from the owner's origin, stamps from the port's.
#[derive(Clone, Debug)]
pub struct Envelope {
    /// The lowest point of each of the latest stretches, in order of stamps.
    points: Vec<Point>,
    hull: Vec<Point>,
    last: Option<(Nanos, Nanos)>,
}

#[derive(Clone, Copy, Debug)]
struct Point {
    stamp: i64,
    /// arrival − stamp.
    offset: i64,
}

impl Envelope {
    /// Nothing is known yet. What is allocated is allocated here.
    pub fn new() -> Envelope {
        Envelope {
            points: Vec::with_capacity(STRETCHES + 2),
            hull: Vec::with_capacity(STRETCHES + 2),
            last: None,
        }
    }

    /// Forgets the fit: the port was connected anew.
    pub fn restart(&mut self) {
        self.points.clear();
        self.last = None;
    }

    /// When an event with this stamp happened, on the clock of the arrivals. Never later than it arrived.
    pub fn happened(&mut self, stamp: Nanos, arrival: Nanos) -> Nanos {
        if self.has_jumped(stamp, arrival) {
            self.restart();
        }
        self.last = Some((stamp, arrival));
        self.add(Point {
            stamp: stamp.0,
            offset: arrival.0 - stamp.0,
        });
        let fitted = stamp + Nanos(self.offset_at(stamp.0));
        fitted.min(arrival)
    }

    fn has_jumped(&mut self, stamp: Nanos, arrival: Nanos) -> bool {
        let Some((last_stamp, last_arrival)) = self.last else {
            return false;
        };
        let above = (arrival - stamp).0 - self.offset_at(stamp.0);
        stamp < last_stamp
            || stamp == last_stamp && arrival - last_arrival > STANDSTILL
            || !(-JUMP_DOWN.0..=JUMP_UP.0).contains(&above)
    }

    fn add(&mut self, point: Point) {
        let stretch = |stamp: i64| stamp.div_euclid(STRETCH.0);
        match self.points.last_mut() {
            Some(last) if stretch(last.stamp) == stretch(point.stamp) => {
                if point.offset < last.offset {
                    *last = point;
                }
            }
            _ => self.points.push(point),
        }
        self.points
            .retain(|old| point.stamp - old.stamp <= WINDOW.0);
    }

    /// The line at `stamp`. There is at least one point.
    fn offset_at(&mut self, stamp: i64) -> i64 {
        let slope = self.slope();
        let over = |point: &Point| point.offset as f64 + slope * (stamp - point.stamp) as f64;
        let lowest = self.points.iter().map(over).fold(f64::INFINITY, f64::min);
        lowest.round() as i64
    }

    /// The slope of the lower hull's edge over the mean stamp, within what clocks can do.
    fn slope(&mut self) -> f64 {
        let [first, .., last] = self.points[..] else {
            return 0.0;
        };
        if last.stamp - first.stamp < SHORTEST.0 {
            return 0.0;
        }
        self.hull.clear();
        for &point in &self.points {
            while let [.., a, b] = self.hull[..] {
                if turns_left(a, b, point) {
                    break;
                }
                self.hull.pop();
            }
            self.hull.push(point);
        }
        let since_first = |point: &Point| i128::from(point.stamp - first.stamp);
        let sum: i128 = self.points.iter().map(since_first).sum();
        let mean = first.stamp + (sum / self.points.len() as i128) as i64;
        let after = self.hull.partition_point(|point| point.stamp < mean);
        match self.hull[after.saturating_sub(1)..] {
            [a, b, ..] => slope_between(a, b).clamp(-STEEPEST, STEEPEST),
            _ => 0.0,
        }
    }
}

impl Default for Envelope {
    fn default() -> Envelope {
        Envelope::new()
    }
}

fn slope_between(a: Point, b: Point) -> f64 {
    (b.offset - a.offset) as f64 / (b.stamp - a.stamp).max(1) as f64
}

/// Whether b lies below the line from a to c, so that it belongs to the lower hull.
fn turns_left(a: Point, b: Point, c: Point) -> bool {
    let cross = i128::from(b.stamp - a.stamp) * i128::from(c.offset - a.offset)
        - i128::from(b.offset - a.offset) * i128::from(c.stamp - a.stamp);
    cross > 0
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{Rng, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    fn ms(ms: i64) -> Nanos {
        Nanos::from_ms(ms)
    }

    #[test]
    fn a_late_arrival_does_not_move_its_event() {
        let mut envelope = Envelope::new();
        // The port's clock started 100 ms after the host's.
        assert_eq!(envelope.happened(ms(0), ms(100)), ms(100));
        assert_eq!(envelope.happened(ms(200), ms(300)), ms(300));
        assert_eq!(envelope.happened(ms(400), ms(540)), ms(500));
        assert_eq!(envelope.happened(ms(600), ms(700)), ms(700));
    }

    #[test]
    fn the_line_goes_under_all_points() {
        let mut envelope = Envelope::new();
        // Worked by hand: offsets 100, 104, 100.2, 103 ms at 0, 1, 2, 3 s. The mean is 1.5 s, the hull's edge over it
        // goes from (0, 100) to (2, 100.2): 100 parts in a million; at 3 s it is at 100.3 ms.
        let us = |us: i64| Nanos(us * 1000);
        envelope.happened(ms(0), ms(100));
        envelope.happened(ms(1000), ms(1104));
        envelope.happened(ms(2000), us(2_100_200));
        assert_eq!(envelope.happened(ms(3000), ms(3103)), us(3_100_300));
    }

    #[test]
    fn a_clock_that_jumps_is_fitted_anew() {
        let mut envelope = Envelope::new();
        envelope.happened(ms(5000), ms(100));
        // Backwards, as after a new connection.
        assert_eq!(envelope.happened(ms(0), ms(1100)), ms(1100));
        // Far ahead.
        assert_eq!(envelope.happened(ms(9000), ms(2100)), ms(2100));
        // Standing still.
        assert_eq!(envelope.happened(ms(9000), ms(3100)), ms(3100));
        assert_eq!(envelope.happened(ms(9000), ms(4100)), ms(4100));
    }

    #[test]
    fn what_is_older_than_the_window_is_forgotten() {
        let mut envelope = Envelope::new();
        envelope.happened(ms(0), ms(100));
        for second in 1..=11 {
            envelope.happened(ms(1000 * second), ms(1000 * second + 110));
        }
        assert_eq!(envelope.happened(ms(12_000), ms(12_110)), ms(12_110));
    }

    /// The median distance from the truth after two seconds, in ms: eight events a second, as a walking line has.
    fn median_error_ms(ppm: f64, seed: u64) -> f64 {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let mut envelope = Envelope::new();
        let mut errors = Vec::new();
        for event in 0..240 {
            let truth = Nanos(125_000_000 * event + random.random_range(0..100_000_000));
            let stamp = Nanos((truth.0 as f64 * (1.0 + ppm * 1e-6)) as i64 + 77_000_000);
            let delay_ms = -(1.0 - random.random::<f64>()).ln();
            let happened = envelope.happened(stamp, truth + Nanos::from_ms_f64(delay_ms));
            if truth > ms(2000) {
                errors.push((happened - truth).abs().ms());
            }
        }
        errors.sort_by(f64::total_cmp);
        errors[errors.len() / 2]
    }

    #[test]
    fn drift_and_jitter_leave_less_than_half_a_millisecond() {
        for ppm in [-200.0, 0.0, 200.0] {
            for seed in 0..20 {
                let error = median_error_ms(ppm, seed);
                assert!(error < 0.5, "{error} ms at {ppm} ppm, seed {seed}");
            }
        }
    }
}
