//! Statistics that findings rest on.

pub mod discovery;
pub mod estimate;
pub mod proportion;
pub mod spread;
pub mod trend;

use estimate::Estimate;
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
/// size, as in [`mean_estimate`]. `None` for fewer than two values.
pub fn mean_interval(values: &[f64], level: f64) -> Option<Mean> {
    let estimate = mean_estimate(values)?;
    let [_, high] = estimate.interval_at(level);
    Some(Mean {
        mean: estimate.mean,
        half_width: high - estimate.mean,
    })
}

/// The mean of values in playing order, on the effective sample size `n (1 − r) / (1 + r)` with r the lag-1 correlation:
/// neighbouring notes are alike, so they count for less than as many independent ones. `None` for fewer than two values.
pub fn mean_estimate(values: &[f64]) -> Option<Estimate> {
    let n = values.len();
    if n < 2 {
        return None;
    }
    let mean = values.iter().sum::<f64>() / n as f64;
    let sum_of_squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
    let variance = sum_of_squares / (n - 1) as f64;
    let effective = effective_size(values, mean, sum_of_squares);
    Some(Estimate {
        mean,
        standard_error: (variance / effective).sqrt(),
        freedom: (effective - 1.0).max(1.0),
    })
}

/// The rise of y for each unit of x by least squares, in playing order, with its `level` interval; a constant and the
/// `beside` columns take what they explain out of both first (Frisch & Waugh 1933, Econometrica 1:387). Neighbours that
/// are alike count for less, as in [`mean_interval`]. `None` where too little is left to tell.
pub fn slope_interval(x: &[f64], y: &[f64], beside: &[Vec<f64>], level: f64) -> Option<Mean> {
    let n = x.len();
    let mut basis: Vec<Vec<f64>> = Vec::with_capacity(beside.len() + 1);
    for column in std::iter::once(&vec![1.0; n]).chain(beside) {
        let left = remainder(column, &basis);
        // A column that the others make up explains nothing more.
        if dot(&left, &left) > 1e-9 * dot(column, column) {
            basis.push(left);
        }
    }
    let (x_left, y_left) = (remainder(x, &basis), remainder(y, &basis));
    let xx = dot(&x_left, &x_left);
    if xx <= 1e-9 * dot(x, x) {
        return None;
    }
    let slope = dot(&x_left, &y_left) / xx;
    let residuals: Vec<f64> = y_left
        .iter()
        .zip(&x_left)
        .map(|(y, x)| y - slope * x)
        .collect();
    let squares = dot(&residuals, &residuals);
    let fitted = (basis.len() + 1) as f64;
    let effective = effective_size(&residuals, 0.0, squares);
    let free = (effective - fitted).max(1.0);
    let variance = squares / (n as f64 - fitted).max(1.0) * n as f64 / effective;
    let t = StudentsT::new(0.0, 1.0, free)
        .ok()?
        .inverse_cdf(0.5 + level / 2.0);
    Some(Mean {
        mean: slope,
        half_width: t * (variance / xx).sqrt(),
    })
}

/// What is left of a column when orthogonal ones are taken out.
fn remainder(column: &[f64], basis: &[Vec<f64>]) -> Vec<f64> {
    let mut left = column.to_vec();
    for other in basis {
        let share = dot(&left, other) / dot(other, other);
        for (value, other) in left.iter_mut().zip(other) {
            *value -= share * other;
        }
    }
    left
}

fn dot(one: &[f64], other: &[f64]) -> f64 {
    one.iter().zip(other).map(|(a, b)| a * b).sum()
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

    /// By hand: Sxy = 3, Sxx = 10, residual squares 9.1, so the slope is 0.3, its standard error √(9.1/3/10) = 0.5507571,
    /// and t(0.975, 3) = 3.1824463 from the table.
    #[test]
    fn the_slope_of_uncorrelated_values_is_that_of_least_squares() {
        let x = [1.0, 2.0, 3.0, 4.0, 5.0];
        let slope = slope_interval(&x, &[1.0, 5.0, 2.0, 4.0, 3.0], &[], 0.95).unwrap();
        assert!((slope.mean - 0.3).abs() < 1e-12);
        assert!((slope.half_width - 0.550_757_1 * 3.182_446_3).abs() < 1e-5);
    }

    #[test]
    fn what_stands_beside_takes_its_part() {
        // y = 2 x + 3 z exactly.
        let (x, z) = (
            [0.0, 1.0, 2.0, 3.0, 4.0, 5.0],
            [1.0, 0.0, 0.0, 1.0, 1.0, 0.0],
        );
        let y: Vec<f64> = x.iter().zip(z).map(|(x, z)| 2.0 * x + 3.0 * z).collect();
        let slope = slope_interval(&x, &y, &[z.to_vec()], 0.95).unwrap();
        assert!((slope.mean - 2.0).abs() < 1e-9 && slope.half_width < 1e-6);
        assert_eq!(slope_interval(&x, &y, &[x.to_vec()], 0.95), None);
    }

    #[test]
    fn one_value_has_no_interval_and_none_no_median() {
        assert_eq!(mean_interval(&[1.0], 0.95), None);
        assert_eq!(median(&mut []), None);
        assert_eq!(median(&mut [3.0, 1.0]), Some(2.0));
    }
}
