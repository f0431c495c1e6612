//! One thing that was worked on, measured in two takes in the same way, and whether the difference is more than chance.
//!
//! The measure is taken anew from each take's readings and not from its findings: one that is no finding any more has a size
//! too, and what was told because it was large must not be compared with itself. Displacements are one effect each
//! in [`Model`] (slow wandering out, neighbours alike) and compared by Welch's t (Welch 1947, Biometrika 34:28; Satterthwaite's
//! degrees of freedom), spreads by F ([`Spread::chance_alike`]), shares by Fisher's exact test (Fisher 1935, J. R. Statist.
//! Soc. 98:39), two-sided as twice the smaller tail (all from memory). A difference counts from a chance of [`CHANCE`] on, as
//! strict as findings are: what was told was picked because it was large, and is smaller the next time by that alone.

use crate::expected::tempo_map::Speed;
use crate::findings::Finding;
use crate::findings::evidence::{Evidence, Heard};
use crate::findings::model::Model;
use crate::findings::slips::Slip;
use crate::findings::stats::discovery::FALSE_SHARE;
use crate::findings::stats::estimate::Estimate;
use crate::findings::stats::proportion::Proportion;
use crate::findings::stats::spread::{Spread, excess_kurtosis};
use crate::judge::Length;
use crate::judge::cost::Pitch;
use crate::report::Checked;
use statrs::distribution::{DiscreteCDF, Hypergeometric};

/// How likely chance alone may show as much.
const CHANCE: f64 = FALSE_SHARE;
/// Fewer notes of a kind, or other notes, have no size.
const FEWEST: usize = 5;
/// Fewer notes have no spread.
const FEWEST_FOR_SPREAD: usize = 16;

/// What is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum What {
    Entries,
    Upbeats,
    Spread,
    Wrong(Kind),
    Ringing,
    Short,
}

/// Wrong notes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Octaves,
    NextFrets,
    NextStrings,
    All,
}

/// How large it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Size {
    /// A displacement in ms.
    Offset(Estimate),
    /// A standard deviation in ms.
    Spread(Spread),
    /// So many of so many notes.
    Share(Proportion),
}

/// How a size compares with the one before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Change {
    Better,
    Alike,
    Worse,
}

impl What {
    /// What a finding is about; `None` where it is not one number of the whole take (a bar, a phrase, a change of tempo), or
    /// its name stands for several things.
    pub fn of(finding: &Finding) -> Option<What> {
        Some(match finding.id {
            "late-entries" | "early-entries" => What::Entries,
            "rushed-upbeats" | "dragged-upbeats" | "swing-flat" | "swing-wide" => What::Upbeats,
            // The same name is given to single bars.
            "unsteady" if finding.text.starts_with("Your notes") => What::Spread,
            "octave-slips" => What::Wrong(Kind::Octaves),
            "neighbour-frets" => What::Wrong(Kind::NextFrets),
            "wrong-string" => What::Wrong(Kind::NextStrings),
            // A wrong degree is only found where it is wrong throughout.
            "wrong-degree" => What::Wrong(Kind::All),
            "missed-muting" => What::Ringing,
            "short-notes" => What::Short,
            _ => return None,
        })
    }

    /// What it is called.
    pub fn name(self) -> &'static str {
        match self {
            What::Entries => "entries",
            What::Upbeats => "upbeats",
            What::Spread => "spread",
            What::Wrong(Kind::Octaves) => "notes in another octave",
            What::Wrong(Kind::NextFrets) => "notes a fret out",
            What::Wrong(Kind::NextStrings) => "notes on the next string",
            What::Wrong(Kind::All) => "wrong notes",
            What::Ringing => "notes that rang over",
            What::Short => "notes cut short",
        }
    }

    /// How large it is in a take; `None` where that has too little of it.
    pub fn size(self, checked: &Checked) -> Option<Size> {
        let speed = Speed((checked.line.speed * 1000.0).round() as u32);
        let windows = &checked.settings.windows;
        let evidence = Evidence::new(checked.expected, checked.judgement, windows)
            .with_latency(checked.settings.latency)
            .at_speed(speed);
        match self {
            What::Entries => offset(&evidence, |heard| heard.note.is.entry),
            What::Upbeats => offset(&evidence, |heard| heard.note.is.upbeat),
            What::Spread => spread(&evidence),
            What::Wrong(kind) => wrong(&evidence, kind),
            What::Ringing => lengths(&evidence, Length::Rings),
            What::Short => lengths(&evidence, Length::Short),
        }
    }
}

fn offset(evidence: &Evidence, is_of_kind: impl Fn(&Heard) -> bool) -> Option<Size> {
    let column = evidence.column(is_of_kind);
    let count = column.iter().filter(|share| **share != 0.0).count();
    if count < FEWEST || column.len() < count + FEWEST {
        return None;
    }
    let offsets: Vec<f64> = evidence.heard.iter().map(|heard| heard.offset_ms).collect();
    let model = Model::new(&offsets, &evidence.heard);
    model.ask(&column).map(Size::Offset)
}

/// Of the notes of no wrong pitch, which may not be the line's, about their slow wandering.
fn spread(evidence: &Evidence) -> Option<Size> {
    let is_right = |heard: &&Heard| matches!(heard.partner.pitch, Pitch::Right | Pitch::Unjudged);
    let heard: Vec<Heard> = evidence.heard.iter().filter(is_right).copied().collect();
    if heard.len() < FEWEST_FOR_SPREAD {
        return None;
    }
    let offsets: Vec<f64> = heard.iter().map(|heard| heard.offset_ms).collect();
    let model = Model::new(&offsets, &heard);
    let left = model.left().iter().copied();
    let squares = left.clone().map(|left| left * left).sum();
    let kurtosis = excess_kurtosis(left);
    Spread::new(squares, model.freedom(), model.correlation(), kurtosis).map(Size::Spread)
}

fn wrong(evidence: &Evidence, kind: Kind) -> Option<Size> {
    let causes = evidence.slips().causes();
    let pitched = std::iter::zip(&evidence.heard, causes)
        .filter(|(heard, _)| heard.note.key.is_some())
        .map(|(_, cause)| *cause);
    let is_kind = |cause: &Option<Slip>| match kind {
        Kind::Octaves => *cause == Some(Slip::Octave),
        Kind::NextFrets => *cause == Some(Slip::NextFret),
        Kind::NextStrings => matches!(cause, Some(Slip::NextString(..))),
        Kind::All => cause.is_some(),
    };
    share(pitched, is_kind)
}

fn lengths(evidence: &Evidence, verdict: Length) -> Option<Size> {
    let lengths = evidence
        .heard
        .iter()
        .filter_map(|heard| heard.partner.length);
    share(lengths, |length| *length == verdict)
}

fn share<T>(cases: impl Iterator<Item = T>, shows: impl Fn(&T) -> bool) -> Option<Size> {
    let cases: Vec<T> = cases.collect();
    let count = cases.iter().filter(|case| shows(case)).count();
    let proportion = Proportion::new(count, cases.len());
    (cases.len() >= FEWEST).then_some(Size::Share(proportion))
}

impl Size {
    /// How this take compares with the one before; `None` where they are sizes of different things.
    pub fn against(self, before: Size) -> Option<Change> {
        let (chance, is_less) = match (self, before) {
            (Size::Offset(now), Size::Offset(then)) => (
                difference(now, then).chance(),
                now.mean.abs() < then.mean.abs(),
            ),
            (Size::Spread(now), Size::Spread(then)) => {
                let tail = now.chance_alike(&then).min(then.chance_alike(&now));
                (2.0 * tail, now.sd < then.sd)
            }
            (Size::Share(now), Size::Share(then)) => {
                (fisher(now, then), now.share() < then.share())
            }
            _ => return None,
        };
        Some(match (chance <= CHANCE, is_less) {
            (false, _) => Change::Alike,
            (true, true) => Change::Better,
            (true, false) => Change::Worse,
        })
    }

    /// `+34 ms`, `24 ms`, `5 of 60`.
    pub fn said(self) -> String {
        match self {
            Size::Offset(estimate) if estimate.mean.round() == 0.0 => "0 ms".into(),
            Size::Offset(estimate) => format!("{:+.0} ms", estimate.mean),
            Size::Spread(spread) => format!("{:.0} ms", spread.sd),
            Size::Share(share) => format!("{} of {}", share.count, share.of),
        }
    }
}

/// Welch's.
fn difference(now: Estimate, then: Estimate) -> Estimate {
    let [a, b] = [now, then].map(|one| one.standard_error.powi(2));
    let under = a * a / now.freedom.max(1.0) + b * b / then.freedom.max(1.0);
    Estimate {
        mean: now.mean - then.mean,
        standard_error: (a + b).sqrt(),
        freedom: if under > 0.0 {
            (a + b).powi(2) / under
        } else {
            f64::MAX.sqrt()
        },
    }
}

/// How likely chance deals the cases out at least so unevenly, two-sided.
fn fisher(now: Proportion, then: Proportion) -> f64 {
    let (all, shown) = (now.of + then.of, now.count + then.count);
    let dealt = Hypergeometric::new(all as u64, shown as u64, now.of as u64);
    let Ok(dealt) = dealt else { return 1.0 };
    let count = now.count as u64;
    let at_most = dealt.cdf(count);
    let at_least = count.checked_sub(1).map_or(1.0, |below| dealt.sf(below));
    (2.0 * at_most.min(at_least)).min(1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn offset(mean: f64, standard_error: f64) -> Size {
        Size::Offset(Estimate {
            mean,
            standard_error,
            freedom: 30.0,
        })
    }

    #[test]
    fn a_displacement_is_better_when_it_is_nearer_to_its_place_on_whichever_side() {
        let against = |now: f64, then: f64| offset(now, 4.0).against(offset(then, 4.0));
        assert_eq!(against(10.0, 40.0), Some(Change::Better));
        assert_eq!(against(-10.0, 40.0), Some(Change::Better));
        assert_eq!(against(40.0, 10.0), Some(Change::Worse));
        assert_eq!(against(-45.0, 40.0), Some(Change::Worse));
        assert_eq!(against(28.0, 40.0), Some(Change::Alike));
    }

    /// scipy 1.17.1 `ttest_ind_from_stats(10, 4*sqrt(31), 31, 0, 5*sqrt(11), 11, equal_var=False)` has these degrees of
    /// freedom by hand: (16 + 25)² / (16²/30 + 25²/10) = 1681 / 71.033 = 23.665.
    #[test]
    fn the_degrees_of_freedom_are_satterthwaites() {
        let one = |mean, standard_error, freedom| Estimate {
            mean,
            standard_error,
            freedom,
        };
        let found = difference(one(10.0, 4.0, 30.0), one(0.0, 5.0, 10.0));
        assert!((found.freedom - 23.665).abs() < 1e-3, "{}", found.freedom);
        assert!((found.standard_error - 41f64.sqrt()).abs() < 1e-12);
    }

    /// By hand: 3 of 4 against 1 of 4 (the tea-tasting table): P(at least 3) = 17/70, twice that is 0.4857.
    #[test]
    fn shares_are_compared_exactly() {
        let chance = fisher(Proportion::new(3, 4), Proportion::new(1, 4));
        assert!((chance - 34.0 / 70.0).abs() < 1e-9, "{chance}");
        assert_eq!(fisher(Proportion::new(0, 9), Proportion::new(0, 9)), 1.0);
        let of = |count| Size::Share(Proportion::new(count, 60));
        assert_eq!(of(2).against(of(14)), Some(Change::Better));
        assert_eq!(of(14).against(of(2)), Some(Change::Worse));
        assert_eq!(of(6).against(of(10)), Some(Change::Alike));
    }

    /// F(0.995; 60, 60) = 1.96 from the table: a ratio of spreads of 1.4.
    #[test]
    fn spreads_are_compared_by_f() {
        let spread = |sd| Size::Spread(Spread { sd, freedom: 60.0 });
        assert_eq!(spread(20.0).against(spread(28.5)), Some(Change::Better));
        assert_eq!(spread(20.0).against(spread(27.5)), Some(Change::Alike));
        assert_eq!(spread(20.0).against(offset(1.0, 1.0)), None);
    }

    #[test]
    fn sizes_are_said_with_their_sign_or_their_count() {
        assert_eq!(offset(-0.3, 1.0).said(), "0 ms");
        assert_eq!(offset(-3.4, 1.0).said(), "-3 ms");
        assert_eq!(Size::Share(Proportion::new(2, 9)).said(), "2 of 9");
    }
}
