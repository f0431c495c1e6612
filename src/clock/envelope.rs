//! The line under delayed points: what a clock's offset would be if nothing were ever late.
//!
//! A measured offset (arrival − stamp, or the heard time of a block − its nominal time) can be too large by a delay but
//! never too small, so the line that lies under all points is the offset without the delays (Moon, Skelly & Towsley,
//! INFOCOM 1999; with resets: Zhang, Liu & Xia, INFOCOM 2002). The published line is the one nearest to the points,
//! the most likely one for exponential delays; from few points its slope is wild. Here the lines under all points are
//! averaged, each weighed by how likely it makes the points and by what crystals can do. For n exponential delays of
//! unknown mean, with the height of the line and that mean integrated out, a slope s weighs
//! `(mean excess over the highest line of slope s under all points) ^ −(n − 1)`.

use crate::units::Nanos;
use std::collections::VecDeque;

/// One point, the lowest, is kept for each stretch of this length.
const STRETCH: Nanos = Nanos::from_ms(100);
/// Points that are kept however old they are: a rest of some minutes does not make a clock unknown.
const KEPT: usize = 32;
/// Two crystals differ by this much (one standard deviation), in ns a second; ±50 parts in a million each are usual.
const APART: f64 = 150e3;
/// And no more than this.
const FARTHEST: f64 = 500e3;
/// A clock that was fitted before keeps its rate this closely.
const REMEMBERED: f64 = 20e3;
/// A fit this long knows its rate.
const LONG: Nanos = Nanos::from_ms(5000);
/// A delay below this is none, in ns.
const NO_DELAY: f64 = 1000.0;
/// Slopes to either side of the middle one that are weighed in a pass.
const SLOPES: i32 = 16;
/// Each pass looks closer where the weight is.
const PASSES: usize = 3;

/// The fit. Positions never fall.
#[derive(Clone, Debug)]
pub struct Envelope {
    window: Nanos,
    /// The lowest point of each of the latest stretches, in order.
    points: VecDeque<Point>,
    hull: Vec<Point>,
    prior: Prior,
    line: Option<Line>,
}

#[derive(Clone, Copy, Debug)]
struct Point {
    at: i64,
    value: i64,
}

/// What is known of the slope beforehand, in ns a second.
#[derive(Clone, Copy, Debug)]
struct Prior {
    slope: f64,
    deviation: f64,
}

#[derive(Clone, Copy, Debug)]
struct Line {
    through: Point,
    /// ns a second.
    slope: f64,
    error_ns: f64,
}

impl Envelope {
    /// Nothing is known yet; points count for `window`. What is allocated is allocated here.
    pub fn new(window: Nanos) -> Envelope {
        let stretches = KEPT.max((window.0 / STRETCH.0) as usize) + 2;
        Envelope {
            window,
            points: VecDeque::with_capacity(stretches),
            hull: Vec::with_capacity(stretches),
            prior: Prior {
                slope: 0.0,
                deviation: APART,
            },
            line: None,
        }
    }

    /// Forgets the points. The rate of the clocks, once known, is still theirs.
    pub fn restart(&mut self) {
        if let (Some(line), true) = (self.line, self.span() > LONG) {
            self.prior = Prior {
                slope: line.slope,
                deviation: REMEMBERED,
            };
        }
        self.points.clear();
        self.line = None;
    }

    /// Adds a measured offset.
    pub fn add(&mut self, at: Nanos, offset: Nanos) {
        let point = Point {
            at: at.0,
            value: offset.0,
        };
        let stretch = |at: i64| at.div_euclid(STRETCH.0);
        match self.points.back_mut() {
            Some(last) if stretch(last.at) == stretch(point.at) => {
                if point.value >= last.value {
                    return;
                }
                *last = point;
            }
            _ => self.push(point),
        }
        self.fit();
    }

    fn push(&mut self, point: Point) {
        let is_old = |first: &Point| point.at - first.at > self.window.0;
        while self.points.len() >= KEPT && self.points.front().is_some_and(is_old) {
            self.points.pop_front();
        }
        self.points.push_back(point);
    }

    /// The line at a position; `None` before the first point.
    pub fn offset_at(&self, at: Nanos) -> Option<Nanos> {
        let line = self.line?;
        let since_s = (at.0 - line.through.at) as f64 / 1e9;
        Some(Nanos(
            line.through.value + (line.slope * since_s).round() as i64,
        ))
    }

    /// How well the line is known at its newest point, one standard deviation.
    pub fn standard_error(&self) -> Option<Nanos> {
        self.line.map(|line| Nanos(line.error_ns.round() as i64))
    }

    /// How many points there are.
    pub fn points(&self) -> usize {
        self.points.len()
    }

    /// From the oldest point to the newest.
    pub fn span(&self) -> Nanos {
        let ends = self.points.front().zip(self.points.back());
        ends.map_or(Nanos::ZERO, |(first, last)| Nanos(last.at - first.at))
    }

    fn fit(&mut self) {
        let (Some(&first), Some(&last)) = (self.points.front(), self.points.back()) else {
            return;
        };
        self.find_hull();
        let n = self.points.len() as f64;
        let mean = |of: fn(&Point, &Point) -> i64| {
            self.points
                .iter()
                .map(|point| of(point, &first) as f64)
                .sum::<f64>()
                / n
        };
        let middle = Point {
            at: first.at + mean(|point, first| point.at - first.at) as i64,
            value: first.value,
        };
        let mean_value = mean(|point, first| point.value - first.value);
        let to_end_s = (last.at - middle.at) as f64 / 1e9;
        let mut lines = Weighed::default();
        let mut around = self.prior.slope;
        let mut reach = 4.0 * self.prior.deviation;
        for _ in 0..PASSES {
            lines = Weighed::default();
            for step in -SLOPES..=SLOPES {
                let slope = around + reach * f64::from(step) / f64::from(SLOPES);
                let slope = slope.clamp(-FARTHEST, FARTHEST);
                let height = self.height(slope, &middle);
                let unlikely = (slope - self.prior.slope) / self.prior.deviation;
                let log_weight =
                    -(n - 1.0) * (mean_value - height + NO_DELAY).ln() - 0.5 * unlikely * unlikely;
                lines.add(log_weight, slope, height, to_end_s);
            }
            around = lines.slope();
            reach = (4.0 * lines.slope_deviation()).max(reach / f64::from(SLOPES));
        }
        let height = lines.height();
        self.line = Some(Line {
            through: Point {
                at: middle.at,
                value: middle.value + height.round() as i64,
            },
            slope: lines.slope(),
            // The line itself still lies above the truth by about a delay's mean over n.
            error_ns: lines
                .end_deviation()
                .hypot((mean_value - height).max(0.0) / n),
        });
    }

    /// The highest line of a slope under all points, at the middle: it touches the lower hull.
    fn height(&self, slope: f64, middle: &Point) -> f64 {
        let over = |point: &Point| {
            (point.value - middle.value) as f64 - slope * (point.at - middle.at) as f64 / 1e9
        };
        self.hull.iter().map(over).fold(f64::INFINITY, f64::min)
    }

    fn find_hull(&mut self) {
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
    }
}

/// Sums over weighed lines; the weights are relative to the largest so far.
#[derive(Clone, Copy, Debug, Default)]
struct Weighed {
    largest: Option<f64>,
    weight: f64,
    slope: f64,
    slope_squared: f64,
    height: f64,
    end: f64,
    end_squared: f64,
}

impl Weighed {
    fn add(&mut self, log_weight: f64, slope: f64, height: f64, to_end_s: f64) {
        let largest = self.largest.unwrap_or(log_weight).max(log_weight);
        let fade = self.largest.map_or(0.0, |before| (before - largest).exp());
        let weight = (log_weight - largest).exp();
        let end = height + slope * to_end_s;
        self.largest = Some(largest);
        let sums = [
            (&mut self.weight, 1.0),
            (&mut self.slope, slope),
            (&mut self.slope_squared, slope * slope),
            (&mut self.height, height),
            (&mut self.end, end),
            (&mut self.end_squared, end * end),
        ];
        for (sum, value) in sums {
            *sum = *sum * fade + weight * value;
        }
    }

    fn slope(&self) -> f64 {
        self.slope / self.weight
    }

    fn height(&self) -> f64 {
        self.height / self.weight
    }

    fn slope_deviation(&self) -> f64 {
        deviation(self.slope_squared / self.weight, self.slope())
    }

    fn end_deviation(&self) -> f64 {
        deviation(self.end_squared / self.weight, self.end / self.weight)
    }
}

fn deviation(mean_square: f64, mean: f64) -> f64 {
    (mean_square - mean * mean).max(0.0).sqrt()
}

/// Whether b lies below the line from a to c, so that it belongs to the lower hull.
fn turns_left(a: Point, b: Point, c: Point) -> bool {
    let cross = i128::from(b.at - a.at) * i128::from(c.value - a.value)
        - i128::from(b.value - a.value) * i128::from(c.at - a.at);
    cross > 0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ms(ms: i64) -> Nanos {
        Nanos::from_ms(ms)
    }

    /// A clock that is `ppm` fast against the other, without delays.
    fn exact(envelope: &mut Envelope, seconds: std::ops::Range<i64>, ppm: i64) {
        for tenth in 10 * seconds.start..10 * seconds.end {
            envelope.add(ms(100 * tenth), Nanos(100 * ppm * tenth + 7_000_000));
        }
    }

    #[test]
    fn clocks_without_delays_are_met_within_a_microsecond() {
        for ppm in [-200, -37, 0, 123, 200] {
            let mut envelope = Envelope::new(ms(10_000));
            exact(&mut envelope, 0..60, ppm);
            let there = envelope.offset_at(ms(60_000)).unwrap();
            let truth = Nanos(1000 * ppm * 60 + 7_000_000);
            assert!((there - truth).abs() < Nanos(1000), "{ppm}: {there:?}");
            assert!(envelope.standard_error().unwrap() < Nanos(2000));
        }
    }

    #[test]
    fn the_line_is_never_above_its_points() {
        let mut envelope = Envelope::new(ms(60_000));
        let delays = [3, 9, 1, 4, 0, 12, 2, 7, 0, 5, 6, 1, 30, 2];
        for (n, delay) in (0i64..).zip(delays) {
            let (at, offset) = (ms(250 * n), ms(100 + delay));
            envelope.add(at, offset);
            assert!(envelope.offset_at(at).unwrap() <= offset, "{n}");
        }
        // Two delays were 0; the truth is 100 ms.
        let end = envelope.offset_at(ms(3250)).unwrap();
        assert!((end - ms(100)).abs() < Nanos(200_000), "{end:?}");
    }

    #[test]
    fn a_restart_forgets_the_height_and_keeps_the_rate() {
        let mut envelope = Envelope::new(ms(10_000));
        exact(&mut envelope, 0..30, 180);
        envelope.restart();
        assert_eq!(envelope.offset_at(ms(0)), None);
        envelope.add(ms(40_000), ms(500));
        let later = envelope.offset_at(ms(50_000)).unwrap();
        assert!((later - ms(500) - Nanos(1_800_000)).abs() < Nanos(5000));
    }

    #[test]
    fn what_is_older_than_the_window_is_forgotten() {
        let mut envelope = Envelope::new(ms(5_000));
        envelope.add(ms(0), ms(100));
        for tenth in 1..=90 {
            envelope.add(ms(100 * tenth), ms(110));
        }
        let there = envelope.offset_at(ms(9000)).unwrap();
        assert!((there - ms(110)).abs() < Nanos(1000), "{there:?}");
    }
}
