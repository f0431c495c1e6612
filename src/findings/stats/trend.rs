//! The slope of values over a column, in runs that each start where they like.
//!
//! Least squares with one constant a run; what stands beside is taken out first (Frisch & Waugh 1933, Econometrica
//! 1:387). The values of a run are taken for a first-order autoregression, whose correlation is measured in what is left.
//! What was fitted took slow variation with it, so that what is left seems less alike than the values are: each smooth
//! column takes the variance of a mean, `(1 + r) / (1 − r)` of the variance, from the sums at lag 0 and at lag 1 (the order-1/n bias
//! of Marriott & Pope 1954, Biometrika 41:390; from memory), which is put back.

use super::estimate::Estimate;
use std::ops::Range;

/// Stronger correlation says that the model does not fit.
const MOST_ALIKE: f64 = 0.9;

/// A slope with what is left beside it.
#[derive(Clone, Debug)]
pub struct Trend {
    /// The slope.
    pub slope: Estimate,
    /// What is left of the values, runs one after the other.
    pub left: Vec<f64>,
    /// What the values were alike by.
    pub alike: Alike,
    /// The variance of one value.
    pub variance: f64,
}

/// How alike neighbours are, and on how many values that rests.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alike {
    /// The lag-1 correlation, 0 to 0.9: a negative one is taken as none.
    pub correlation: f64,
    /// How many values say so, less what was fitted to them.
    pub free: f64,
}

/// Correlation and variance of what is left of values after so many smooth columns were fitted; `None` where nothing is
/// left to tell.
pub fn measure(left: &[f64], runs: &[Range<usize>], fitted: usize) -> Option<(Alike, f64)> {
    let values: usize = runs.iter().map(Range::len).sum();
    let free = values.checked_sub(fitted).filter(|free| *free > 0)? as f64;
    let (mut squares, mut lagged) = (0.0, 0.0);
    for run in runs {
        let left = &left[run.clone()];
        squares += dot(left, left);
        lagged += left.windows(2).map(|pair| pair[0] * pair[1]).sum::<f64>();
    }
    let (count, pairs) = (values as f64, (values - runs.len()).max(1) as f64);
    let (mut variance, mut correlation) = (squares / free, 0.0);
    const SETTLED: usize = 4;
    for _ in 0..SETTLED {
        let taken = fitted as f64 * variance * (1.0 + correlation) / (1.0 - correlation);
        variance = (squares + taken) / count;
        let alike = (lagged + taken) / pairs / variance.max(f64::MIN_POSITIVE);
        correlation = alike.clamp(0.0, MOST_ALIKE);
    }
    let variance = if squares > 0.0 { variance } else { 0.0 };
    Some((Alike { correlation, free }, variance))
}

/// Degrees of freedom of a slope's variance, when variance and correlation are both measured: 2 over the variance of its
/// logarithm (Satterthwaite 1946, Biometrics Bulletin 2:110), to first order. The variance has `2 (1 + r²) / (1 − r²) / n`,
/// the factor `(1 + r) / (1 − r)` has `4 / (1 − r²) / n`, and the two go together by `8 r / (1 − r²) / n`.
fn freedom(free: f64, alike: Alike) -> f64 {
    let r = alike.correlation;
    let of_variance = 2.0 * (1.0 + r * r) / free;
    let of_factor = (4.0 + 8.0 * r) / alike.free;
    (2.0 * (1.0 - r * r) / (of_variance + of_factor)).max(1.0)
}

/// The slope of `y` over `x` with `beside` taken out of both; `None` where too little is left to tell. `alike`: the
/// correlation of neighbours where more than these values say it.
pub fn trend(
    x: &[f64],
    y: &[f64],
    beside: Option<&[f64]>,
    runs: &[Range<usize>],
    alike: Option<Alike>,
) -> Option<Trend> {
    let (mut x_left, mut y_left) = (centred(x, runs), centred(y, runs));
    let whole = squares(&x_left, runs);
    let mut fitted = runs.len() + 1;
    if let Some(beside) = beside {
        let beside = centred(beside, runs);
        if squares(&beside, runs) > 0.0 {
            fitted += 1;
            take(&mut x_left, &beside, runs);
            take(&mut y_left, &beside, runs);
        }
    }
    let left_of_x = squares(&x_left, runs);
    const TOLD_APART: f64 = 1e-3;
    if left_of_x <= TOLD_APART * whole || left_of_x == 0.0 {
        return None;
    }
    let slope = product(&x_left, &y_left, runs) / left_of_x;
    for run in runs {
        for index in run.clone() {
            y_left[index] -= slope * x_left[index];
        }
    }
    let (own, variance) = measure(&y_left, runs, fitted)?;
    let alike = alike.unwrap_or(own);
    let inflation = inflation(&x_left, left_of_x, runs, alike.correlation);
    Some(Trend {
        slope: Estimate {
            mean: slope,
            standard_error: (variance / left_of_x * inflation).sqrt(),
            freedom: freedom(own.free, alike),
        },
        left: y_left,
        alike,
        variance,
    })
}

/// What an autoregression makes of a column's variance: `1 + 2 Σ ρᵏ r(k)`, r the column's own correlation in its runs.
fn inflation(x: &[f64], squares: f64, runs: &[Range<usize>], alike: f64) -> f64 {
    const NEGLIGIBLE: f64 = 0.005;
    let longest = runs.iter().map(Range::len).max().unwrap_or(0);
    let (mut sum, mut weight, mut lag) = (1.0, alike, 1);
    while weight > NEGLIGIBLE && lag < longest {
        let lagged = |run: &Range<usize>| match run.len() > lag {
            true => dot(&x[run.start + lag..run.end], &x[run.start..run.end - lag]),
            false => 0.0,
        };
        sum += 2.0 * weight * runs.iter().map(lagged).sum::<f64>() / squares;
        weight *= alike;
        lag += 1;
    }
    // A rising column is never worth more than independent values make it.
    sum.max(1.0)
}

fn centred(values: &[f64], runs: &[Range<usize>]) -> Vec<f64> {
    let mut centred = values.to_vec();
    for run in runs {
        let mean = values[run.clone()].iter().sum::<f64>() / run.len().max(1) as f64;
        centred[run.clone()]
            .iter_mut()
            .for_each(|value| *value -= mean);
    }
    centred
}

fn take(from: &mut [f64], column: &[f64], runs: &[Range<usize>]) {
    let share = product(from, column, runs) / squares(column, runs);
    for index in runs.iter().flat_map(Clone::clone) {
        from[index] -= share * column[index];
    }
}

fn squares(column: &[f64], runs: &[Range<usize>]) -> f64 {
    product(column, column, runs)
}

fn product(one: &[f64], other: &[f64], runs: &[Range<usize>]) -> f64 {
    let in_run = |run: &Range<usize>| dot(&one[run.clone()], &other[run.clone()]);
    runs.iter().map(in_run).sum()
}

fn dot(one: &[f64], other: &[f64]) -> f64 {
    std::iter::zip(one, other).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{Distribution, StandardNormal};

    fn one_run(end: usize) -> Range<usize> {
        0..end
    }

    const UNLIKE: Alike = Alike {
        correlation: 0.0,
        free: 1e9,
    };

    /// By hand: Sxy = 3, Sxx = 10, residual squares 9.1: slope 0.3, standard error √(9.1/3/10) = 0.5507571.
    #[test]
    fn one_run_of_unlike_values_is_least_squares() {
        let (x, y) = ([1.0, 2.0, 3.0, 4.0, 5.0], [1.0, 5.0, 2.0, 4.0, 3.0]);
        let fit = trend(&x, &y, None, &[one_run(5)], Some(UNLIKE)).unwrap();
        assert!((fit.slope.mean - 0.3).abs() < 1e-12);
        assert!((fit.slope.freedom - 3.0).abs() < 1e-6);
        let plain = (9.1f64 / 3.0 / 10.0).sqrt();
        // All five values carry the variance of a slope and a mean put back: (9.1 + 2 · 9.1/3) / 5 = 9.1/3.
        assert!((fit.slope.standard_error - plain).abs() < 1e-9);
    }

    #[test]
    fn each_run_starts_where_it_likes() {
        let x: Vec<f64> = (0..8).map(f64::from).collect();
        let y: Vec<f64> = (0..8)
            .map(|i| f64::from(i % 4) * 3.0 + f64::from(i / 4) * 50.0)
            .collect();
        let fit = trend(&x, &y, None, &[0..4, 4..8], None).unwrap();
        assert!((fit.slope.mean - 3.0).abs() < 1e-9);
        assert!(fit.slope.standard_error < 1e-6);
    }

    /// An interval that is said to hold 99 % of slopes holds them, alike or not, from 12 values on.
    #[test]
    fn the_interval_holds_what_it_says_also_of_values_that_are_alike() {
        let mut chance = ChaCha8Rng::seed_from_u64(5);
        let mut normal = move || -> f64 { StandardNormal.sample(&mut chance) };
        for (count, correlation) in [(12, 0.0f64), (12, 0.25), (48, 0.25), (48, 0.5)] {
            const TAKES: usize = 2000;
            let x: Vec<f64> = (0..count).map(f64::from).collect();
            let mut outside = 0;
            for _ in 0..TAKES {
                let mut now = normal();
                let y: Vec<f64> = x
                    .iter()
                    .map(|_| {
                        now =
                            correlation * now + (1.0 - correlation * correlation).sqrt() * normal();
                        now
                    })
                    .collect();
                let fit = trend(&x, &y, None, &[one_run(x.len())], None).unwrap();
                let [low, high] = fit.slope.interval_at(0.99);
                outside += usize::from(low > 0.0 || high < 0.0);
            }
            let percent = 100.0 * outside as f64 / TAKES as f64;
            println!("{count} values alike by {correlation}: {percent} % outside");
            assert!(percent < 2.0, "{count}, {correlation}: {percent} %");
        }
    }
}
