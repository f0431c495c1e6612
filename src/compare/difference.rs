//! Differences between players, and which of them are beyond chance.
//!
//! Two players are compared by Welch's t over their takes (Welch 1947, Biometrika 34:28; degrees of freedom by Satterthwaite
//! 1946, Biometrics Bulletin 2:110), ratios by their logarithms. All pairs and measures are judged together, so that at
//! most [`FALSE_SHARE`] of what is said to be beyond chance is chance ([`discovery`]); pairs that share a player go
//! together, for which that rule holds up as well (Williams, Jones & Tukey 1999, J. Educ. Behav. Stat. 24:42; from memory).

use super::measure::{Measure, Scale};
use super::pooled::{Pooled, back};
use crate::findings::stats::discovery;
use crate::findings::stats::estimate::Estimate;

/// Share of the differences told as beyond chance that may be chance. Where no two players differ, no more than this share
/// of comparisons says anything at all.
pub const FALSE_SHARE: f64 = 0.05;

/// Fewer takes of a player say too little of how they differ among themselves (our choice).
pub const FEWEST_TAKES: usize = 3;

/// The first player against the second, in one measure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// In what.
    pub measure: Measure,
    /// Who, by their places in the order given.
    pub players: [usize; 2],
    /// First less second, or first over second where the measure is compared by [`Scale::Ratio`].
    pub size: f64,
    /// Its 95 % interval (of this pair alone).
    pub interval: [f64; 2],
    /// How likely chance alone shows as much (p), of this pair alone.
    pub chance: f64,
    /// Whether it stands among all that were asked.
    pub is_beyond_chance: bool,
}

/// All pairs of players with takes enough, in the order given, measure by measure; not yet judged together.
pub(super) fn pairs(measure: Measure, players: &[Option<Pooled>]) -> Vec<Difference> {
    let known: Vec<(usize, Estimate)> = players
        .iter()
        .enumerate()
        .filter_map(|(place, pooled)| {
            let pooled = pooled
                .as_ref()
                .filter(|pooled| pooled.takes >= FEWEST_TAKES)?;
            Some((place, pooled.estimate?))
        })
        .collect();
    let against = |(first, one): &(usize, Estimate), (second, other): &(usize, Estimate)| {
        let between = welch(one, other);
        let back = back(measure.scale());
        Difference {
            measure,
            players: [*first, *second],
            size: back(between.mean),
            interval: between.interval().map(back),
            chance: between.chance(),
            is_beyond_chance: false,
        }
    };
    known
        .iter()
        .enumerate()
        .flat_map(|(place, one)| {
            known[place + 1..]
                .iter()
                .map(move |other| against(one, other))
        })
        .collect()
}

/// The first mean less the second.
fn welch(one: &Estimate, other: &Estimate) -> Estimate {
    let [v1, v2] = [one, other].map(|of| of.standard_error * of.standard_error);
    Estimate {
        mean: one.mean - other.mean,
        standard_error: (v1 + v2).sqrt(),
        freedom: (v1 + v2).powi(2) / (v1 * v1 / one.freedom + v2 * v2 / other.freedom),
    }
}

/// Judges them all together.
pub(super) fn judge<'a>(differences: impl Iterator<Item = &'a mut Difference>) {
    let differences: Vec<&mut Difference> = differences.collect();
    let chances: Vec<f64> = differences.iter().map(|one| one.chance).collect();
    let standing = discovery::standing(&chances, FALSE_SHARE);
    for (one, stands) in std::iter::zip(differences, standing) {
        one.is_beyond_chance = stands;
    }
}

impl Difference {
    /// Whether [`Difference::size`] is a ratio.
    pub fn is_ratio(&self) -> bool {
        self.measure.scale() == Scale::Ratio
    }
}
