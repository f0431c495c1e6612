//! What a player comes to over several takes. The takes are the units: notes of one take are alike, so that an interval
//! over all notes would be too narrow for what the player does another time.

use super::measure::{Measure, Measured, Scale};
use crate::findings::stats::estimate::Estimate;
use crate::judge::summary::mean_and_sd;

/// A player's number with what is known of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pooled {
    /// The mean over the takes: of percents and ms as they are, of ratios the geometric one.
    pub value: f64,
    /// Its 95 % interval, from two takes on.
    pub interval: Option<[f64; 2]>,
    /// Takes that say something about it.
    pub takes: usize,
    /// The same on the scale on which it is compared.
    pub(super) estimate: Option<Estimate>,
}

/// Student's t over the takes: mean and interval. `None` where no take says anything.
pub fn pooled(measure: Measure, takes: &[&Measured]) -> Option<Pooled> {
    let values: Vec<f64> = takes.iter().filter_map(|take| measure.of(take)).collect();
    let (to_scale, back) = scales(measure.scale());
    let on_scale = || values.iter().map(|value| to_scale(*value));
    let (mean, sd) = mean_and_sd(on_scale());
    let (mean, count) = (mean?, values.len() as f64);
    let of_chance = match measure {
        Measure::Pitch => least_error_of_shares(takes),
        _ => 0.0,
    };
    let estimate = sd.map(|sd| Estimate {
        mean,
        standard_error: (sd / count.sqrt()).max(of_chance),
        freedom: count - 1.0,
    });
    // Takes that are equal to the bit are copies of one: what the player does another time is not known from them.
    let estimate = estimate.filter(|estimate| estimate.standard_error > 0.0);
    let within = |bound: f64| match measure.scale() {
        Scale::Share => bound.clamp(0.0, 100.0),
        Scale::Plain | Scale::Ratio => bound,
    };
    Some(Pooled {
        value: back(mean),
        interval: estimate.map(|estimate| estimate.interval().map(|bound| within(back(bound)))),
        takes: values.len(),
        estimate,
    })
}

type Change = fn(f64) -> f64;

/// From a value to the scale on which it is averaged, and back.
pub(super) fn scales(scale: Scale) -> (Change, Change) {
    match scale {
        Scale::Plain | Scale::Share => (|value| value, |value| value),
        Scale::Ratio => (f64::ln, f64::exp),
    }
}

/// The standard error, in percent points, that right and wrong notes alone give the mean share: takes without a mistake
/// are all alike, and still a mistake may come. Each take's share is drawn to the middle by two notes of each kind
/// (Agresti & Coull 1998, The American Statistician 52:119).
fn least_error_of_shares(takes: &[&Measured]) -> f64 {
    let shares: Vec<_> = takes
        .iter()
        .map(|take| take.pitch)
        .filter(|pitch| pitch.of > 0)
        .collect();
    let variance = shares.iter().map(|pitch| {
        let of = pitch.of as f64 + 4.0;
        let share = (pitch.count as f64 + 2.0) / of;
        share * (1.0 - share) / of
    });
    100.0 * variance.sum::<f64>().sqrt() / shares.len().max(1) as f64
}
