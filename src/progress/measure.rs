//! What is looked at from session to session, and on what scale.
//!
//! Spreads are compared by the logarithm of their ratio, and so are swing ratios and lengths; shares of right notes as
//! angles, `asin √((x + 3/8) / (n + 3/4))`, whose variance `1 / (4n + 2)` does not depend on the share (Anscombe 1948, Biometrika
//! 35:246). Lean, entries and upbeats stay in ms.

use super::figures::{Group, Part};
use serde::Serialize;

/// One thing that is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Measure {
    /// How much the notes scatter, ms.
    Spread,
    /// Where the player sits against the click, ms; negative is early. A style: it moves, it gets neither better nor
    /// worse.
    Lean,
    /// Entries against the other notes, ms.
    Entries,
    /// Upbeats against the other notes, ms.
    Upbeats,
    /// Swing as played over what the line asks for: 1 is as written.
    Swing,
    /// Length as played over what is expected: 1 is as written.
    Lengths,
    /// The share of notes of the right pitch, of those that had to be played.
    Pitch,
}

impl Measure {
    /// All of them, in the order in which they are told.
    pub const ALL: [Measure; 7] = [
        Measure::Spread,
        Measure::Lean,
        Measure::Entries,
        Measure::Upbeats,
        Measure::Swing,
        Measure::Lengths,
        Measure::Pitch,
    ];

    /// How a change of it is told.
    pub fn scale(self) -> Scale {
        match self {
            Measure::Spread | Measure::Swing | Measure::Lengths => Scale::Factor,
            Measure::Lean | Measure::Entries | Measure::Upbeats => Scale::DifferenceMs,
            Measure::Pitch => Scale::DifferenceOfShares,
        }
    }

    /// Where it is best.
    pub(super) fn aim(self) -> Aim {
        match self {
            Measure::Spread => Aim::Low,
            Measure::Pitch => Aim::High,
            Measure::Lean => Aim::Nowhere,
            Measure::Entries | Measure::Upbeats | Measure::Swing | Measure::Lengths => Aim::Zero,
        }
    }

    /// What a part of a take says of it, on its scale; `None` where it says too little.
    pub(super) fn of(self, part: &Part) -> Option<Sampled> {
        match self {
            Measure::Spread => part.spread.map(|spread| Sampled {
                value: spread.sd.ln(),
                // Of the logarithm of a standard deviation, to first order.
                variance: 1.0 / (2.0 * spread.freedom),
            }),
            Measure::Lean => part.lean.map(Sampled::from),
            Measure::Entries => part.entries.map(Sampled::from),
            Measure::Upbeats => part.upbeats.map(Sampled::from),
            Measure::Swing => part.swing.zip(part.swing_asked).map(|(swing, asked)| {
                let played = Sampled::from(swing);
                Sampled {
                    value: played.value - asked,
                    ..played
                }
            }),
            Measure::Lengths => part.length.map(Sampled::from),
            Measure::Pitch => Sampled::share(part.pitch_right, part.asked_for_pitch()),
        }
    }

    /// From its scale to what is shown: ms, a ratio or a share.
    pub(super) fn shown(self, value: f64) -> f64 {
        match self.scale() {
            Scale::Factor => value.exp(),
            Scale::DifferenceMs => value,
            Scale::DifferenceOfShares => share(value),
        }
    }
}

/// How a change is told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Scale {
    /// The later value over the earlier one: 0.8 is a fifth less.
    Factor,
    /// The later value less the earlier one, ms.
    DifferenceMs,
    /// The later share less the earlier one: 0.02 is two notes more of a hundred.
    DifferenceOfShares,
}

/// Where a measure is best, on its scale.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Aim {
    Low,
    High,
    Zero,
    Nowhere,
}

/// What one take says of a measure, on the measure's scale.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Sampled {
    pub value: f64,
    /// Of the value, from the notes alone.
    pub variance: f64,
}

impl Sampled {
    /// So many of so many, as an angle; `None` of nothing.
    pub fn share(count: u32, of: u32) -> Option<Sampled> {
        let (count, of) = (f64::from(count), f64::from(of));
        (of > 0.0).then(|| Sampled {
            value: ((count + 0.375) / (of + 0.75)).sqrt().min(1.0).asin(),
            variance: 1.0 / (4.0 * of + 2.0),
        })
    }
}

impl From<Group> for Sampled {
    fn from(group: Group) -> Sampled {
        Sampled {
            value: group.mean,
            // Rounded to a thousandth, it may be 0; nothing is as sure as that.
            variance: group.se.max(0.001).powi(2),
        }
    }
}

/// The share that an angle stands for.
pub(super) fn share(angle: f64) -> f64 {
    angle.clamp(0.0, std::f64::consts::FRAC_PI_2).sin().powi(2)
}
