//! What lies behind the numbers of a take: effects of the kind of note, on top of a slow wandering.
//!
//! A partial linear model (Speckman 1988, J. R. Statist. Soc. B 50:413): `value = wandering(time) + Σ size · column +
//! chance`. The wandering (lean, drift) is the moving mean over eight beats; it is taken out of the values *and* of
//! the columns, so that it takes no part of an effect with it. Each effect is then what its column explains beside those
//! that have been taken before (Frisch & Waugh 1933, Econometrica 1:387).
//!
//! Neighbouring notes are alike (lag-1 correlation 0.25 in real bass): the variance of an effect is that under a
//! first-order autoregression, so that slow columns count for fewer notes than they have and alternating ones for more.

use super::evidence::Heard;
use super::stats::estimate::Estimate;
use statrs::distribution::{ContinuousCDF, FisherSnedecor};
use std::ops::Range;
use std::rc::Rc;

/// The window of the moving mean: longer than any figure, shorter than a drift that matters (40 ms over 32 intervals
/// wreck an estimate that does not take it out).
const WINDOW_BEATS: f64 = 8.0;
/// A column of which the others leave less than this share is not told apart from them.
const TOLD_APART: f64 = 0.05;
/// An estimated correlation beyond this says that the model does not fit.
const MOST_ALIKE: f64 = 0.9;
/// How sure it has to be that the notes in question scatter more than the others.
const SCATTERS_MORE: f64 = 0.01;
/// An alternating column is never taken for more than this many times its notes.
const LEAST_VARIANCE: f64 = 0.3;

/// The values of a take with the slow wandering and the effects taken so far out of them.
#[derive(Clone)]
pub struct Model {
    windows: Rc<[Range<usize>]>,
    /// What is left of the values.
    left: Vec<f64>,
    /// What was taken, each orthogonal to those before it.
    basis: Vec<Vec<f64>>,
    /// Degrees of freedom that are left.
    freedom: f64,
    /// What the moving mean takes off the lag-1 correlation of values that have none.
    bias: f64,
}

impl Model {
    /// A model of one value for each of these notes, which are in playing order.
    pub fn new(values: &[f64], heard: &[Heard]) -> Model {
        let windows = windows(heard);
        // The trace of (I − S)ᵀ(I − S) for a moving mean S: n − 2 Σ 1/k + Σ 1/k.
        let spent: f64 = windows.iter().map(|window| 1.0 / window.len() as f64).sum();
        let left = detrended(values, &windows);
        Model {
            left,
            basis: Vec::new(),
            freedom: values.len() as f64 - spent,
            bias: spent / values.len().max(1) as f64,
            windows: windows.into(),
        }
    }

    /// A model without a wandering: values around one level, so that what is slow can be asked for.
    pub fn level(values: &[f64]) -> Model {
        let windows = vec![0..values.len(); values.len()];
        Model {
            left: detrended(values, &windows),
            basis: Vec::new(),
            freedom: values.len() as f64 - 1.0,
            bias: 1.0 / values.len().max(1) as f64,
            windows: windows.into(),
        }
    }

    /// A column without its wandering.
    pub fn steadied(&self, column: &[f64]) -> Vec<f64> {
        detrended(column, &self.windows)
    }

    /// How large the effect of a column is beside those taken; `None` where too little is left to tell.
    pub fn ask(&self, column: &[f64]) -> Option<Estimate> {
        let x = self.told_apart(column)?;
        let squares = dot(&x, &x);
        let mean = dot(&x, &self.left) / squares;
        let residuals: Vec<f64> = std::iter::zip(&self.left, &x)
            .map(|(y, x)| y - mean * x)
            .collect();
        let freedom = self.freedom - 1.0;
        if freedom < 2.0 {
            return None;
        }
        let alike = self.alike(&residuals);
        let variance = dot(&residuals, &residuals) / (freedom - self.spent_more(alike)).max(2.0);
        let own = own_scatter(column, &residuals, variance, freedom);
        let (variance, freedom) = own.unwrap_or((variance, freedom));
        Some(Estimate {
            mean,
            standard_error: (variance / squares * surely(&self.weights(&x), squares, alike)).sqrt(),
            freedom,
        })
    }

    /// Takes an effect out, so that what is asked next is asked beside it.
    pub fn take(&mut self, column: &[f64]) {
        let Some(x) = self.told_apart(column) else {
            return;
        };
        let size = dot(&x, &self.left) / dot(&x, &x);
        for (left, x) in self.left.iter_mut().zip(&x) {
            *left -= size * x;
        }
        self.freedom -= 1.0;
        self.basis.push(x);
    }

    /// Whether a column is told apart from those taken.
    pub fn tells(&self, column: &[f64]) -> bool {
        self.told_apart(column).is_some()
    }

    /// By how much other values rise with a column, beside what was taken; 0 where it is not told apart.
    pub fn goes_with(&self, column: &[f64], values: &[f64]) -> f64 {
        self.told_apart(column)
            .map_or(0.0, |x| dot(&x, &self.steadied(values)) / dot(&x, &x))
    }

    /// The model with an effect taken out.
    pub fn with(mut self, column: &[f64]) -> Model {
        self.take(column);
        self
    }

    /// What is left of the values: the chance in them, as far as it is known.
    pub fn left(&self) -> &[f64] {
        &self.left
    }

    /// Degrees of freedom of what is left.
    pub fn freedom(&self) -> f64 {
        self.freedom
    }

    /// The lag-1 correlation of what is left.
    pub fn correlation(&self) -> f64 {
        self.alike(&self.left)
    }

    /// What is left of a column without the wandering and what was taken.
    fn told_apart(&self, column: &[f64]) -> Option<Vec<f64>> {
        let mut x = detrended(column, &self.windows);
        let whole = dot(&x, &x);
        for other in &self.basis {
            let share = dot(&x, other) / dot(other, other);
            for (x, other) in x.iter_mut().zip(other) {
                *x -= share * other;
            }
        }
        let squares = dot(&x, &x);
        (squares > 1e-9 && squares >= TOLD_APART * whole).then_some(x)
    }

    /// How much each value counts for a column's effect: the column's remainder with the moving mean taken out once more,
    /// the other way round.
    fn weights(&self, x: &[f64]) -> Vec<f64> {
        // Each value is in the means of a whole range of notes.
        let mut steps = vec![0.0; x.len() + 1];
        for (x, window) in x.iter().zip(&*self.windows) {
            let share = x / window.len() as f64;
            steps[window.start] += share;
            steps[window.end] -= share;
        }
        let mut sum = 0.0;
        std::iter::zip(x, steps)
            .map(|(x, step)| {
                sum += step;
                x - sum
            })
            .collect()
    }

    /// The lag-1 correlation of the chance part. A negative one is taken as none.
    ///
    /// The moving mean of values that are alike scatters more, by `(1 + ρ) / (1 − ρ)`, and takes as much more off what
    /// is left: a correlation of ρ shows as `(ρ − b) / (1 − b)`, with b that share of the variance.
    fn alike(&self, residuals: &[f64]) -> f64 {
        let squares = dot(residuals, residuals);
        if squares <= 0.0 {
            return 0.0;
        }
        let lagged: f64 = residuals.windows(2).map(|pair| pair[0] * pair[1]).sum();
        let seen = lagged / squares;
        let mut alike = 0.0;
        const ROUNDS: usize = 4;
        for _ in 0..ROUNDS {
            let taken = (self.bias * more_alike(alike)).min(1.0);
            alike = (seen * (1.0 - taken) + taken).clamp(0.0, MOST_ALIKE);
        }
        alike
    }

    /// Degrees of freedom that the moving mean of values so alike spends beyond those of values that are not.
    fn spent_more(&self, alike: f64) -> f64 {
        self.bias * self.left.len() as f64 * (more_alike(alike) - 1.0)
    }
}

/// The variance of the notes in question and its degrees of freedom, where they scatter more than the others.
fn own_scatter(
    column: &[f64],
    residuals: &[f64],
    variance: f64,
    freedom: f64,
) -> Option<(f64, f64)> {
    let own = || std::iter::zip(column, residuals).filter(|(x, _)| **x != 0.0);
    let count = own().count() as f64;
    // A column that nearly all notes have is judged by all of them.
    if count < 3.0 || 2.0 * count > column.len() as f64 {
        return None;
    }
    let own_variance = own().map(|(_, left)| left * left).sum::<f64>() / (count - 1.0);
    let limit = FisherSnedecor::new(count - 1.0, freedom)
        .ok()?
        .inverse_cdf(1.0 - SCATTERS_MORE);
    (own_variance > limit * variance).then_some((own_variance, count - 1.0))
}

/// By how much the mean of values that are alike scatters more than that of values that are not.
fn more_alike(alike: f64) -> f64 {
    (1.0 + alike) / (1.0 - alike)
}

/// The [`inflation`], where alike neighbours make it smaller only as far as their correlation is sure: one standard error
/// (`1 / √n`) below what was estimated, since the estimate errs to both sides and only one is cut off.
fn surely(weights: &[f64], squares: f64, alike: f64) -> f64 {
    let (none, estimated) = (
        inflation(weights, squares, 0.0),
        inflation(weights, squares, alike),
    );
    if estimated >= none {
        return estimated;
    }
    let sure = alike - 1.0 / (weights.len() as f64).sqrt();
    inflation(weights, squares, sure.max(0.0))
}

/// By how much a first-order autoregression of the values, and what the moving mean does to them, change the variance of
/// a column's effect from that of least squares: `Σᵢⱼ ρ^|i − j| wᵢ wⱼ / Σ x²`.
fn inflation(weights: &[f64], squares: f64, alike: f64) -> f64 {
    const NEGLIGIBLE: f64 = 0.005;
    let mut sum = dot(weights, weights);
    let mut weight = alike;
    let mut lag = 1;
    while weight > NEGLIGIBLE && lag < weights.len() {
        sum += 2.0 * weight * dot(&weights[lag..], &weights[..weights.len() - lag]);
        weight *= alike;
        lag += 1;
    }
    (sum / squares).max(LEAST_VARIANCE)
}

/// For each note those within half a window on either side.
fn windows(heard: &[Heard]) -> Vec<Range<usize>> {
    let (mut first, mut end) = (0, 0);
    heard
        .iter()
        .map(|here| {
            let half = here.note.beat.ms() * WINDOW_BEATS / 2.0;
            let at = here.note.onset.ms();
            while heard[first].note.onset.ms() < at - half {
                first += 1;
            }
            end = end.max(first);
            while end < heard.len() && heard[end].note.onset.ms() <= at + half {
                end += 1;
            }
            first..end
        })
        .collect()
}

/// The slow wandering alone: the moving mean of one value for each of these notes, which are in playing order.
pub fn wandering(values: &[f64], heard: &[Heard]) -> Vec<f64> {
    moving_mean(values, &windows(heard))
}

/// The values less their moving mean.
fn detrended(values: &[f64], windows: &[Range<usize>]) -> Vec<f64> {
    let means = moving_mean(values, windows);
    std::iter::zip(values, means)
        .map(|(value, mean)| value - mean)
        .collect()
}

fn moving_mean(values: &[f64], windows: &[Range<usize>]) -> Vec<f64> {
    let mut sums = Vec::with_capacity(values.len() + 1);
    let mut sum = 0.0;
    sums.push(sum);
    for value in values {
        sum += value;
        sums.push(sum);
    }
    let mean =
        |window: &Range<usize>| (sums[window.end] - sums[window.start]) / window.len() as f64;
    windows.iter().map(mean).collect()
}

fn dot(one: &[f64], other: &[f64]) -> f64 {
    std::iter::zip(one, other).map(|(a, b)| a * b).sum()
}
