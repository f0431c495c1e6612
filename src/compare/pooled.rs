//! What a player comes to over several takes. The takes are the units: notes of one take are alike, so that an interval
//! over all notes would be too narrow for what the player does another time.

use super::measure::{Figure, Measure, Measured, Scale};
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
///
/// Takes cannot differ less than chance from note to note makes them: where a few happen to, or are copies of one
/// another, that chance is the standard error.
pub fn pooled(measure: Measure, takes: &[&Measured]) -> Option<Pooled> {
    let figures: Vec<Figure> = takes
        .iter()
        .filter_map(|take| take.figures[measure.place()])
        .collect();
    let (mean, sd) = mean_and_sd(figures.iter().map(|figure| figure.mean));
    let (mean, count) = (mean?, figures.len() as f64);
    let of_notes: f64 = figures.iter().map(|figure| figure.variance).sum();
    let estimate = sd.map(|sd| Estimate {
        mean,
        standard_error: (sd / count.sqrt()).max(of_notes.sqrt() / count),
        freedom: count - 1.0,
    });
    let back = back(measure.scale());
    let within = |bound: f64| match measure.scale() {
        Scale::Share => bound.clamp(0.0, 100.0),
        Scale::Plain | Scale::Ratio => bound,
    };
    Some(Pooled {
        value: back(mean),
        interval: estimate.map(|estimate| estimate.interval().map(|bound| within(back(bound)))),
        takes: figures.len(),
        estimate,
    })
}

/// From the scale on which values are averaged back to the values.
pub(super) fn back(scale: Scale) -> fn(f64) -> f64 {
    match scale {
        Scale::Plain | Scale::Share => |value| value,
        Scale::Ratio => f64::exp,
    }
}
