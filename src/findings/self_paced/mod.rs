//! Unsteadiness without the click, split into clock and hand.
//!
//! Wing & Kristofferson (1973, Perception & Psychophysics 14:5): an interval is what the inner clock counts plus the hand's
//! delay at its end less that at its start, `I = C + M′ − M`. So `γ(0) = σC² + 2 σM²`, `γ(1) = −σM²` and nothing at longer lags. It
//! holds for self-paced playing only: with a click every offset is corrected by the next beat (Vorberg & Wing 1996), and neither
//! number would mean anything.
//!
//! Each stretch of intervals has its line taken out, a short one its mean. That takes variance with it, in short stretches much of it; how much
//! of each covariance is left for a clock and a hand of 1 is known exactly, and the two are solved from that, so that stretches of
//! four intervals are without bias.

mod design;

use super::evidence::Evidence;
use crate::units::Ticks;
use design::{Design, Shape, Sums};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use serde::Serialize;

/// A split.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SelfPaced {
    /// Standard deviation of the clock, in ms.
    pub clock_ms: f64,
    /// Its 95 % interval.
    pub clock_interval_ms: [f64; 2],
    /// Standard deviation of the hand's delay, in ms.
    pub hand_ms: f64,
    /// Its 95 % interval.
    pub hand_interval_ms: [f64; 2],
    /// How many intervals it rests on.
    pub intervals: usize,
}

/// Why there is no split.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum WhyNot {
    /// Fewer than [`FEWEST_INTERVALS`].
    #[error("{0} intervals without the click are too few: it takes {FEWEST_INTERVALS}")]
    TooFew(usize),
    /// Some are not about one beat long.
    #[error("an interval of {0:.0} ms is not one of the same beat as the others")]
    NotOneBeat(f64),
    /// Intervals further apart are alike: the tempo wandered.
    #[error("the tempo wandered, so that the rest cannot be told apart")]
    Wanders,
    /// Long after long intervals, or short after long ones more than a hand can make them.
    #[error("neighbouring intervals do not go together as a clock and a hand make them")]
    OtherModel,
}

/// A stretch needs so many intervals: a bar of four beats, to the first beat with the click again.
pub const SHORTEST_STRETCH: usize = 4;
/// Fewer intervals in all are refused. This many still leave wide intervals: a clock of 20 ms is then some 35 ms wide, and 8 ms
/// with eight stretches of 32 (`tests/self_paced.rs` prints them).
pub const FEWEST_INTERVALS: usize = 48;
/// No interval is further from the middle one than this share of it: a beat left out, or one struck twice.
const ONE_BEAT: f64 = 0.4;
/// How many standard errors a covariance may be on the wrong side by chance.
const BY_CHANCE: f64 = 2.6;
/// Simulated takes behind the intervals.
const SIMULATED: usize = 400;

/// The intervals between beats in bars without the click, in ms, by stretch: every beat was struck, and the tempo is one.
pub fn stretches(evidence: &Evidence) -> Vec<Vec<f64>> {
    let mut stretches: Vec<Vec<f64>> = Vec::new();
    let mut last: Option<(Ticks, Ticks, f64)> = None;
    let bars = &evidence.expected.bars;
    for heard in &evidence.heard {
        let number = heard.note.bar as usize;
        let bar = &bars[number];
        let at = bar.start + heard.note.at;
        let from_first = heard.note.at.0 + bar.offset.0;
        // The first beat with the click again was still played without having heard it.
        let is_next = from_first == 0 && number > 0 && bars[number - 1].silent;
        if !bar.silent && !is_next {
            last = None;
            continue;
        }
        if from_first % bar.beat.0 != 0 {
            continue;
        }
        let onset_ms = (heard.note.onset + heard.partner.offset).ms();
        match last {
            // The other note of a double stop.
            Some((before, ..)) if before == at => continue,
            Some((before, beat, ms)) if at - before == beat => {
                if let Some(stretch) = stretches.last_mut() {
                    stretch.push(onset_ms - ms);
                }
            }
            _ => stretches.push(Vec::new()),
        }
        last = Some((at, bar.beat, onset_ms));
    }
    stretches.retain(|stretch| !stretch.is_empty());
    stretches
}

/// Splits the intervals between beats, in ms, that were played without the click; stretches that are too short are left
/// out.
///
/// # Errors
/// Where the model may not be used, the reason.
pub fn split(stretches: &[Vec<f64>]) -> Result<SelfPaced, WhyNot> {
    let long: Vec<&Vec<f64>> = stretches
        .iter()
        .filter(|stretch| stretch.len() >= SHORTEST_STRETCH)
        .collect();
    let intervals: usize = long.iter().map(|stretch| stretch.len()).sum();
    if intervals < FEWEST_INTERVALS {
        return Err(WhyNot::TooFew(intervals));
    }
    is_one_beat(&long)?;
    let shapes: Vec<Shape> = long
        .iter()
        .map(|stretch| Shape::of(stretch.len()))
        .collect();
    let design = Design::of(&shapes);
    let sums = std::iter::zip(&long, &shapes)
        .map(|(stretch, shape)| shape.sums(stretch))
        .fold(Sums::default(), Sums::plus);
    let [clock, hand] = design.solve(sums);
    let (clock_ms, hand_ms) = (clock.max(0.0).sqrt(), hand.max(0.0).sqrt());
    let simulated = simulate(&shapes, &design, clock_ms, hand_ms);
    let error = |of: fn(&Simulated) -> f64| {
        let mean = simulated.iter().map(of).sum::<f64>() / SIMULATED as f64;
        let squares = simulated.iter().map(|one| (of(one) - mean).powi(2));
        (squares.sum::<f64>() / SIMULATED as f64).sqrt()
    };
    // Lags beyond the first should be nothing.
    let farther = simulated.iter().map(|one| one.lag_2).sum::<f64>() / SIMULATED as f64;
    if sums.lag_2 - farther > BY_CHANCE * error(|one| one.lag_2) {
        return Err(WhyNot::Wanders);
    }
    if hand < -BY_CHANCE * error(|one| one.hand) || clock < -BY_CHANCE * error(|one| one.clock) {
        return Err(WhyNot::OtherModel);
    }
    Ok(SelfPaced {
        clock_ms,
        clock_interval_ms: interval(clock, &simulated, |one| one.clock),
        hand_ms,
        hand_interval_ms: interval(hand, &simulated, |one| one.hand),
        intervals,
    })
}

fn is_one_beat(stretches: &[&Vec<f64>]) -> Result<(), WhyNot> {
    let mut all: Vec<f64> = stretches
        .iter()
        .flat_map(|stretch| stretch.iter().copied())
        .collect();
    let beat = super::stats::median(&mut all).unwrap_or(0.0);
    match all
        .into_iter()
        .find(|interval| (interval - beat).abs() > ONE_BEAT * beat)
    {
        Some(other) => Err(WhyNot::NotOneBeat(other)),
        None => Ok(()),
    }
}

struct Simulated {
    clock: f64,
    hand: f64,
    lag_2: f64,
}

/// Takes of the same stretches by a player with this clock and hand, from a fixed seed.
fn simulate(shapes: &[Shape], design: &Design, clock_ms: f64, hand_ms: f64) -> Vec<Simulated> {
    let mut chance = ChaCha8Rng::seed_from_u64(1973);
    let mut normal = move || -> f64 { StandardNormal.sample(&mut chance) };
    let mut take = || {
        let sums = shapes.iter().map(|shape| {
            let mut hand = hand_ms * normal();
            let intervals: Vec<f64> = (0..shape.length())
                .map(|_| {
                    let next = hand_ms * normal();
                    let interval = clock_ms * normal() + next - hand;
                    hand = next;
                    interval
                })
                .collect();
            shape.sums(&intervals)
        });
        let sums = sums.fold(Sums::default(), Sums::plus);
        let [clock, hand] = design.solve(sums);
        Simulated {
            clock,
            hand,
            lag_2: sums.lag_2,
        }
    };
    (0..SIMULATED).map(|_| take()).collect()
}

/// An interval of a standard deviation that holds it in 92 to 100 % of simulated takes (see `tests/self_paced.rs`): the simulated ones as they lie and, where the
/// variance is beyond chance, also as shares of it, since its error grows with it; the wider on either side.
fn interval(variance: f64, simulated: &[Simulated], of: fn(&Simulated) -> f64) -> [f64; 2] {
    let mut sorted: Vec<f64> = simulated.iter().map(of).collect();
    sorted.sort_by(f64::total_cmp);
    let at = |share: f64| sorted[((sorted.len() - 1) as f64 * share).round() as usize];
    let (low, high) = (at(0.025), at(0.975));
    let bounds = match low > 0.0 && variance > 0.0 {
        true => [
            low.min(variance * variance / high),
            high.max(variance * variance / low),
        ],
        false => [low, high],
    };
    bounds.map(|bound| bound.max(0.0).sqrt())
}
