//! An estimate with its uncertainty.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// A number that was estimated, and how well.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// The number.
    pub mean: f64,
    /// Its standard error.
    pub standard_error: f64,
    /// Degrees of freedom that the standard error rests on.
    pub freedom: f64,
}

/// Level of the intervals that are reported.
pub const LEVEL: f64 = 0.95;

impl Estimate {
    /// The 95 % interval, by Student's t.
    pub fn interval(&self) -> [f64; 2] {
        self.interval_at(LEVEL)
    }

    /// The interval at a level such as 0.95, by Student's t.
    pub fn interval_at(&self, level: f64) -> [f64; 2] {
        let half_width = self.students().inverse_cdf(0.5 + level / 2.0) * self.standard_error;
        [self.mean - half_width, self.mean + half_width]
    }

    /// How likely chance alone, with no effect at all, shows as much on either side (two-sided p).
    pub fn chance(&self) -> f64 {
        if self.standard_error <= 0.0 {
            return if self.mean == 0.0 { 1.0 } else { 0.0 };
        }
        let t = (self.mean / self.standard_error).abs();
        2.0 * self.students().sf(t)
    }

    /// How many standard errors it is from none, squared: what it explains against what is left.
    pub fn strength(&self) -> f64 {
        if self.standard_error <= 0.0 {
            return if self.mean == 0.0 { 0.0 } else { f64::INFINITY };
        }
        (self.mean / self.standard_error).powi(2)
    }

    /// Whether the interval excludes everything from `-harmless` to `harmless`.
    pub fn is_beyond(&self, harmless: f64) -> bool {
        let [low, high] = self.interval();
        low > harmless || high < -harmless
    }

    fn students(&self) -> StudentsT {
        StudentsT::new(0.0, 1.0, self.freedom.max(1.0))
            .unwrap_or_else(|_| unreachable!("one degree of freedom or more"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// scipy 1.17.1: `stats.t.interval(0.95, 4, 3, 0.7071067811865476)` = (1.0367568385, 4.9632431615) and
    /// `2 * stats.t.sf(3 / 0.7071067811865476, 4)` = 0.0132356.
    #[test]
    fn interval_and_chance_are_students() {
        let estimate = Estimate {
            mean: 3.0,
            standard_error: 0.5f64.sqrt(),
            freedom: 4.0,
        };
        let [low, high] = estimate.interval();
        assert!((low - 1.036_756_838_5).abs() < 1e-8 && (high - 4.963_243_161_5).abs() < 1e-8);
        assert!((estimate.chance() - 0.013_235_6).abs() < 1e-6);
        assert!(estimate.is_beyond(1.0) && !estimate.is_beyond(1.1));
    }
}
