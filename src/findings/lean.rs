//! The lean: where the player sits against the click, all through the take. A style, not a finding.
//!
//! Statistic: mean and t interval of the offsets on the beat, where the click is; entries are left out (theirs may be a habit), and
//! so are bars without the click.
//! It is a lean when the interval lies beyond the harmless range, and both halves of the take, each by its own mean, lie
//! there as well: whoever wanders off has none.

use super::evidence::{Evidence, Heard};
use super::stats::estimate::LEVEL;
use super::{FEWEST, stats};
use serde::Serialize;

/// A steady lean in ms; negative is ahead of the click.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Lean {
    /// Its mean.
    pub mean_ms: f64,
    /// The 95 % interval of that mean.
    pub interval_ms: [f64; 2],
}

/// The lean of a take; `None` where it is harmless, unsteady, or shown by fewer than [`FEWEST`] notes in each half.
pub fn lean(evidence: &Evidence) -> Option<Lean> {
    let on_the_click: Vec<&Heard> = evidence
        .heard
        .iter()
        .filter(|heard| is_on_the_click(evidence, heard))
        .collect();
    let offsets: Vec<f64> = on_the_click.iter().map(|heard| heard.offset_ms).collect();
    let (first, second) = offsets.split_at(offsets.len() / 2);
    if first.len() < FEWEST {
        return None;
    }
    let whole = stats::mean_interval(&offsets, LEVEL)?;
    let [low, high] = whole.interval();
    let harmless = evidence.harmless_ms(on_the_click.into_iter());
    let beyond = |side: f64| {
        let mean = |half: &[f64]| half.iter().sum::<f64>() / half.len() as f64;
        mean(first) * side > harmless && mean(second) * side > harmless
    };
    let steady = (low > harmless && beyond(1.0)) || (high < -harmless && beyond(-1.0));
    steady.then_some(Lean {
        mean_ms: whole.mean,
        interval_ms: [low, high],
    })
}

fn is_on_the_click(evidence: &Evidence, heard: &Heard) -> bool {
    let is_silent = evidence.expected.bars[heard.note.bar as usize].silent;
    let is_own_time = heard.note.is.entry || heard.note.is.upbeat || is_silent;
    !is_own_time && heard.partner.displaced.0 == 0
}
