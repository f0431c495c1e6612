//! Swing: found in the onsets, taken out of them, and put back to see how far a note was moved.
//!
//! A pair is swung eighths (or sixteenths) where a note begins near its start, one inside it, and no other. Its ratio is
//! long to short half. Ratios are averaged as logarithms, over [`LEAST_PAIRS`] pairs or more, and only those between 1:4
//! and 4:1 are looked at (practice of published annotation studies of swing; see `findings`).

use super::frame::Bar;
use crate::line::{SwingRatio, Swung};
use crate::units::TICKS_PER_QUARTER;
use std::collections::HashSet;
use std::fmt;
use std::str::FromStr;

/// Fewer pairs make no claim.
pub const LEAST_PAIRS: usize = 15;
/// Below this the pairs are straight.
const STRAIGHT_TO: f64 = 1.15;
/// From here on a pair is as well a dotted note and a short one, which is what is then written.
const DOTTED_FROM: f64 = 2.75;
/// How near a note is to the start of a pair, as a share of the pair.
const NEAR: f64 = 0.12;
/// How far a ratio may be from the average and still agree with it, as a logarithm.
const AGREES: f64 = 0.35;
/// How many in a hundred have to agree.
const AGREEING: usize = 85;
/// Ratios that a player would name.
const SIMPLE: [f64; 8] = [1.25, 4.0 / 3.0, 1.5, 5.0 / 3.0, 1.75, 2.0, 2.5, 3.0];

/// An onset as it is in the file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Which bar.
    pub bar: usize,
    /// From its start, in ticks of a line.
    pub at: f64,
}

/// What the player is told to do about swing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SwingChoice {
    /// As the file says: written as it is.
    Straight,
    /// This ratio, whatever the onsets are.
    Ratio(SwingRatio),
}

/// The text is no choice of swing.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is neither `straight` nor a ratio such as `2:1` (1:1 to 4:1)")]
pub struct NotASwing(pub String);

impl FromStr for SwingChoice {
    type Err = NotASwing;

    fn from_str(text: &str) -> Result<SwingChoice, NotASwing> {
        if text == "straight" {
            return Ok(SwingChoice::Straight);
        }
        let ratio = text.parse().map_err(|_| NotASwing(text.to_owned()))?;
        Ok(SwingChoice::Ratio(ratio))
    }
}

/// How the pairs of a file are divided.
#[derive(Clone, Debug, PartialEq)]
pub struct Feel {
    /// `None` is straight.
    pub swing: Option<(SwingRatio, Swung)>,
    /// Pairs (bar, pair) that triplets fill: those are not swung.
    ternary: HashSet<(usize, i64)>,
    /// Of each bar, how far into its meter it begins and ends.
    bars: Vec<(i64, i64)>,
}

/// What was found in the pairs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Found {
    /// As it will be written.
    pub ratio: SwingRatio,
    /// As it was played.
    pub played: f64,
    /// Which notes.
    pub swung: Swung,
    /// How many pairs there are.
    pub pairs: usize,
}

impl fmt::Display for Found {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} pairs of {} swing at {:.2}:1 on average, written as {}: --swing straight writes them as they are",
            self.pairs, self.swung, self.played, self.ratio
        )
    }
}

fn pair_of(swung: Swung) -> i64 {
    match swung {
        Swung::Eighth => TICKS_PER_QUARTER,
        Swung::Sixteenth => TICKS_PER_QUARTER / 2,
    }
}

/// The swing in the onsets, which are in order; eighths are asked first.
pub fn find(onsets: &[Place], bars: &[Bar]) -> Option<Found> {
    [Swung::Eighth, Swung::Sixteenth]
        .into_iter()
        .find_map(|swung| {
            let ratios = ratios(onsets, bars, pair_of(swung));
            let pairs = ratios.len();
            if pairs < LEAST_PAIRS {
                return None;
            }
            let mean = ratios.iter().sum::<f64>() / pairs as f64;
            let agree = ratios
                .iter()
                .filter(|ratio| (*ratio - mean).abs() <= AGREES);
            let played = mean.exp();
            let swings = (STRAIGHT_TO..DOTTED_FROM).contains(&played);
            let ratio = written(played, standard_error(&ratios, mean));
            (swings && agree.count() * 100 >= AGREEING * pairs).then_some(Found {
                ratio,
                played,
                swung,
                pairs,
            })
        })
}

fn standard_error(ratios: &[f64], mean: f64) -> f64 {
    let squares: f64 = ratios.iter().map(|ratio| (ratio - mean).powi(2)).sum();
    (squares / (ratios.len() as f64 - 1.0) / ratios.len() as f64).sqrt()
}

/// A ratio that a player would name, where the average is within two standard errors or 3 % of it; else two decimals.
fn written(played: f64, standard_error: f64) -> SwingRatio {
    let distance = |simple: &f64| (simple / played).ln().abs();
    let near = SIMPLE
        .into_iter()
        .min_by(|one, other| distance(one).total_cmp(&distance(other)))
        .filter(|simple| distance(simple) <= (2.0 * standard_error).max(0.03));
    let (long, short) = match near {
        Some(simple) if simple == 4.0 / 3.0 => (4000, 3000),
        Some(simple) if simple == 5.0 / 3.0 => (5000, 3000),
        Some(simple) => ((simple * 1000.0) as u32, 1000),
        None => ((played * 100.0).round() as u32 * 10, 1000),
    };
    SwingRatio { long, short }
}

/// Logarithms of long to short, one for each pair.
fn ratios(onsets: &[Place], bars: &[Bar], pair: i64) -> Vec<f64> {
    let pairs = Pairs::new(onsets, bars, pair);
    let size = pair as f64;
    let ratio = |first: f64, inside: f64, next: f64| {
        let ratio = (inside - first) / (next - inside);
        (0.25..=4.0).contains(&ratio).then(|| ratio.ln())
    };
    let of_pair = |(index, of): (usize, &(usize, i64, Vec<f64>))| {
        let (bar, number, places) = of;
        let [first, inside] = places[..] else {
            return None;
        };
        let follows = pairs.of.get(index + 1).filter(|(next_bar, next, _)| {
            (*next_bar, *next) == (*bar, number + 1) || (*next_bar == bar + 1 && *next == 0)
        });
        let next = follows.map(|(_, _, places)| places[0]);
        let next = next.filter(|next| next.abs() < NEAR * size).unwrap_or(0.0) + size;
        let in_place = first.abs() < NEAR * size && inside > 0.15 * size;
        in_place.then(|| ratio(first, inside, next)).flatten()
    };
    pairs.of.iter().enumerate().filter_map(of_pair).collect()
}

/// The onsets by pair: (bar, pair, onsets from the start of the pair). A note just before a pair belongs to it.
struct Pairs {
    of: Vec<(usize, i64, Vec<f64>)>,
}

impl Pairs {
    fn new(onsets: &[Place], bars: &[Bar], pair: i64) -> Pairs {
        let mut of: Vec<(usize, i64, Vec<f64>)> = Vec::new();
        let size = pair as f64;
        for Place { bar, at } in onsets {
            let begins = bars.get(*bar).map_or(0, |bar| bar.into);
            let end = bars.get(*bar).map_or(0, |bar| bar.into + bar.length);
            let at = at + begins as f64;
            let early = (at / size + NEAR).floor();
            let (mut bar, mut number, mut into) = (*bar, early as i64, at - early * size);
            if number * pair >= end {
                (bar, number, into) = (bar + 1, 0, at - end as f64);
            } else if (number + 1) * pair > end {
                // What is left over at the end of a bar does not swing.
                continue;
            }
            match of.last_mut() {
                Some(last) if (last.0, last.1) == (bar, number) => last.2.push(into),
                _ => of.push((bar, number, vec![into])),
            }
        }
        Pairs { of }
    }
}

impl Feel {
    /// A feel for the onsets of a file, which are in order.
    pub fn new(swing: Option<(SwingRatio, Swung)>, onsets: &[Place], bars: &[Bar]) -> Feel {
        let swing = swing.filter(|(ratio, _)| ratio.long != ratio.short);
        let mut ternary = HashSet::new();
        if let Some((_, swung)) = swing {
            let pair = pair_of(swung);
            let third = |at: &f64| (at / pair as f64 - 1.0 / 3.0).abs() < 0.09;
            let pairs = Pairs::new(onsets, bars, pair);
            let filled = pairs.of.iter().filter(|(.., at)| at.iter().any(third));
            let plain = filled.filter(|(.., at)| at.len() <= 3);
            ternary = plain.map(|(bar, number, _)| (*bar, *number)).collect();
        }
        Feel {
            swing,
            ternary,
            bars: bars
                .iter()
                .map(|bar| (bar.into, bar.into + bar.length))
                .collect(),
        }
    }

    /// Where a written place in a bar falls.
    pub fn bend(&self, Place { bar, at }: Place) -> f64 {
        self.mapped(bar, at, |into, pair, long| {
            let half = pair / 2.0;
            match into < half {
                true => into * long / half,
                false => long + (into - half) * (pair - long) / half,
            }
        })
    }

    /// Where a place in a bar is written.
    pub fn unbend(&self, Place { bar, at }: Place) -> f64 {
        self.mapped(bar, at, |into, pair, long| {
            let half = pair / 2.0;
            match into < long {
                true => into * half / long,
                false => half + (into - long) * half / (pair - long),
            }
        })
    }

    fn mapped(&self, bar: usize, at: f64, map: impl Fn(f64, f64, f64) -> f64) -> f64 {
        let Some((ratio, swung)) = self.swing else {
            return at;
        };
        let pair = pair_of(swung);
        let Some((into, end)) = self.bars.get(bar) else {
            return at;
        };
        let in_meter = at + *into as f64;
        let number = (in_meter / pair as f64).floor() as i64;
        let whole = number >= 0 && (number + 1) * pair <= *end;
        if !whole || self.ternary.contains(&(bar, number)) {
            return at;
        }
        let start = (number * pair) as f64;
        let (long, short) = (f64::from(ratio.long), f64::from(ratio.short));
        let size = pair as f64;
        let mapped = start + map(in_meter - start, size, size * long / (long + short));
        mapped - *into as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ratios_are_named_as_a_player_would() {
        let text = |played: f64, error: f64| written(played, error).to_string();
        assert_eq!(text(2.04, 0.0), "2:1");
        assert_eq!(text(1.46, 0.0), "1.5:1");
        assert_eq!(text(1.34, 0.0), "4:3");
        assert_eq!(text(2.2, 0.0), "2.2:1");
        assert_eq!(text(2.2, 0.05), "2:1");
    }

    #[test]
    fn a_choice_is_straight_or_a_ratio() {
        assert_eq!("straight".parse(), Ok(SwingChoice::Straight));
        let ratio = SwingRatio {
            long: 2000,
            short: 1000,
        };
        assert_eq!("2:1".parse(), Ok(SwingChoice::Ratio(ratio)));
        for text in ["", "2", "5:1", "1:2", "x:1", "2:0", "NaN:1", "inf:inf"] {
            assert!(text.parse::<SwingChoice>().is_err(), "{text}");
        }
    }
}
