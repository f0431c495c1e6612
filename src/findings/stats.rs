//! Statistics that findings rest on.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// The mean of a group of values with its interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mean {
    /// The mean.
    pub mean: f64,
    /// Half the width of its interval.
    pub half_width: f64,
}

impl Mean {
    /// The interval.
    pub fn interval(self) -> [f64; 2] {
        [self.mean - self.half_width, self.mean + self.half_width]
    }
}

/// Mean and `level` interval (0.95 for 95 %) of values in playing order, by Student's t on the effective sample
/// size `n (1 − r) / (1 + r)` with r the lag-1 correlation: neighbouring notes are alike, so they count for less
/// than as many independent ones. `None` for fewer than two values.
pub fn mean_interval(values: &[f64], level: f64) -> Option<Mean> {
    let n = values.len();
    if n < 2 {
        return None;
    }
    let mean = values.iter().sum::<f64>() / n as f64;
    let sum_of_squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    let variance = sum_of_squares / (n - 1) as f64;
    let effective = effective_size(values, mean, sum_of_squares);
    let t = StudentsT::new(0.0, 1.0, (effective - 1.0).max(1.0))
        .ok()?
        .inverse_cdf(0.5 + level / 2.0);
    Some(Mean {
        mean,
        half_width: t * (variance / effective).sqrt(),
    })
}

/// A negative correlation is taken as none: it would make the interval narrower than independent notes do, on the
/// strength of an estimate that small samples pull below zero.
fn effective_size(values: &[f64], mean: f64, sum_of_squares: f64) -> f64 {
    let n = values.len() as f64;
    if sum_of_squares <= 0.0 {
        return n;
    }
    let lagged: f64 = values
        .windows(2)
        .map(|pair| (pair[0] - mean) * (pair[1] - mean))
        .sum();
    let r = (lagged / sum_of_squares).clamp(0.0, 0.9);
    (n * (1.0 - r) / (1.0 + r)).max(2.0)
}

/// The middle value, or the mean of the two middle ones; `None` of nothing.
pub fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let n = values.len();
    match n {
        0 => None,
        _ if n % 2 == 1 => Some(values[n / 2]),
        _ => Some((values[n / 2 - 1] + values[n / 2]) / 2.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// scipy 1.17.1: `stats.t.interval(0.95, 4, loc=3, scale=stats.sem([1, 5, 2, 4, 3]))` = (1.0367568, 4.9632432).
    #[test]
    fn the_interval_of_uncorrelated_values_is_students() {
        let mean = mean_interval(&[1.0, 5.0, 2.0, 4.0, 3.0], 0.95).unwrap();
        assert!((mean.interval()[0] - 1.036_756_8).abs() < 1e-6);
        assert!((mean.interval()[1] - 4.963_243_2).abs() < 1e-6);
    }

    #[test]
    fn values_that_follow_each_other_widen_the_interval() {
        let rising: Vec<f64> = (0..20).map(f64::from).collect();
        let shuffled: Vec<f64> = (0..20).map(|i| f64::from((i * 7) % 20)).collect();
        let (rising, shuffled) = (
            mean_interval(&rising, 0.95).unwrap(),
            mean_interval(&shuffled, 0.95).unwrap(),
        );
        assert!(rising.half_width > 1.5 * shuffled.half_width);
    }

    #[test]
    fn one_value_has_no_interval_and_none_no_median() {
        assert_eq!(mean_interval(&[1.0], 0.95), None);
        assert_eq!(median(&mut []), None);
        assert_eq!(median(&mut [3.0, 1.0]), Some(2.0));
    }
}
