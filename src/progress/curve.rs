//! The learning curve of the spread: `floor + gap · exp(−rate · takes)`.
//!
//! One player's practice follows an exponential, not a power law (Heathcote, Brown & Mewhort 2000, PB&R 7:185). Sessions
//! are the units; takes of the line before the middle of each are the time, since every take of it is practice. For each
//! rate, floor and gap are linear (variable projection: Golub & Pereyra 1973, SIAM J. Numer. Anal. 10:413), with weights by the noise of
//! notes, takes and days, which grows with the spread. Intervals are by profile likelihood (Venzon & Moolgavkar 1988, Appl.
//! Statist. 37:87) with Student's t for the normal quantile (Bates & Watts 1988, ch. 6; from memory): all values at which
//! the best curve is not worse by more than chance.

use super::outcome::{Curve, Fitted, Prediction, Told, WhyNot};
use super::random_effects::moments;
use super::series::{Series, SessionValue};
use crate::findings::stats::estimate::LEVEL;
use statrs::distribution::{ContinuousCDF, FisherSnedecor, StudentsT};

/// Three numbers are fitted, and five degrees of freedom are left for the noise.
pub const FEWEST: usize = 8;
/// So many sessions at the most: what was long before is another learning.
pub const SESSIONS: usize = 60;
/// Sessions ahead that are told.
const AHEAD: [u32; 3] = [5, 10, 20];
/// Half of the gap goes in no more than this many times what was played so far: beyond, it is as good as a straight line.
const SLOWEST: f64 = 2.0;
/// Rates that are looked at, evenly by their logarithm.
const RATES: usize = 96;
/// Parameters: floor, gap, rate.
const FITTED: usize = 3;

/// The curve of a series of spreads (logarithms of ms). `takes_a_session`: how many takes to reckon with later.
pub(super) fn curve(series: &Series, takes_a_session: f64) -> Told<Curve> {
    let values = &series.values[series.values.len().saturating_sub(SESSIONS)..];
    let have = values.len();
    match have {
        0 => return Told::NotYet(WhyNot::NothingHeard),
        _ if have < FEWEST => return Told::NotYet(WhyNot::FewSessions { have, need: FEWEST }),
        _ => {}
    }
    match Fit::of(values) {
        Ok(fit) => Told::Known(fit.tell(values, takes_a_session.max(1.0))),
        Err(why) => Told::NotYet(why),
    }
}

/// The best curve.
struct Fit {
    at: Vec<f64>,
    ms: Vec<f64>,
    weights: Vec<f64>,
    /// The rates that are looked at, and each session's `exp(−rate · takes)`.
    rates: Vec<Rate>,
    best: Exponential,
    /// The weighted squares of the best one.
    squares: f64,
    /// By how much squares may grow inside the interval.
    allowed: f64,
    /// The variance of a session's logarithm: a day and usual takes.
    log_variance: f64,
    freedom: f64,
}

struct Rate {
    rate: f64,
    decay: Vec<f64>,
}

impl Rate {
    fn new(rate: f64, at: &[f64]) -> Rate {
        Rate {
            rate,
            decay: at.iter().map(|at| (-rate * at).exp()).collect(),
        }
    }
}

#[derive(Clone, Copy, Debug)]
struct Exponential {
    floor: f64,
    gap: f64,
    rate: f64,
}

impl Exponential {
    fn at(self, takes: f64) -> f64 {
        self.floor + self.gap * (-self.rate * takes).exp()
    }
}

impl Fit {
    fn of(values: &[SessionValue]) -> Result<Fit, WhyNot> {
        let first = values[0].practised;
        let at: Vec<f64> = values.iter().map(|value| value.practised - first).collect();
        let ms: Vec<f64> = values.iter().map(|value| value.value.exp()).collect();
        let span = at[at.len() - 1];
        let rates = rates(&at, span);
        let freedom = (values.len() - FITTED) as f64;
        let known: Vec<f64> = values.iter().map(|value| value.variance).collect();
        // The noise is a share of the spread, which the curve says; it starts from their middle.
        let middle = ms.iter().map(|ms| ms.ln()).sum::<f64>() / ms.len() as f64;
        let mut fitted = vec![middle.exp(); ms.len()];
        let mut day = 0.0;
        let mut found = None;
        const ROUNDS: usize = 4;
        for _ in 0..ROUNDS {
            let weights: Vec<f64> = std::iter::zip(&fitted, &known)
                .map(|(ms, known)| 1.0 / (ms * ms * (known + day)))
                .collect();
            let (best, squares) = best(&rates, &at, &ms, &weights).ok_or(WhyNot::NoFall)?;
            let lowest = 0.1 * middle.exp();
            fitted = at.iter().map(|at| best.at(*at).max(lowest)).collect();
            let off: Vec<f64> = std::iter::zip(&ms, &fitted)
                .map(|(ms, fitted)| (ms - fitted) / fitted)
                .collect();
            let squares_at = |tau2: f64| {
                let terms = std::iter::zip(&off, &known);
                Some(terms.map(|(off, known)| off * off / (known + tau2)).sum())
            };
            day = moments(squares_at, freedom, &off).unwrap_or(0.0);
            found = Some((best, squares, weights));
        }
        let (best, squares, weights) = found.ok_or(WhyNot::NoFall)?;
        let scale = (squares / freedom).max(1.0);
        falls(&ms, &weights, best, squares, scale, freedom)?;
        const AS_GOOD_AS_STRAIGHT: f64 = 1.02;
        if best.rate < AS_GOOD_AS_STRAIGHT * rates[0].rate {
            return Err(WhyNot::NoBendYet);
        }
        let place = rates.partition_point(|rate| rate.rate < best.rate);
        let mut rates = rates;
        rates.insert(place, Rate::new(best.rate, &at));
        let usual = known.iter().sum::<f64>() / known.len() as f64;
        Ok(Fit {
            allowed: scale * quantile(freedom).powi(2),
            log_variance: scale * (usual + day),
            at,
            ms,
            weights,
            rates,
            best,
            squares,
            freedom,
        })
    }

    fn tell(&self, values: &[SessionValue], takes_a_session: f64) -> Curve {
        let first = values[0].practised;
        let last = self.at[self.at.len() - 1];
        let points = values.iter().zip(&self.at);
        Curve {
            floor_ms: self.interval_of(f64::INFINITY),
            halved_in_takes: self.halved(),
            from_to_ms: [self.best.at(0.0), self.best.at(last)],
            takes_a_session,
            predictions: AHEAD
                .iter()
                .map(|sessions| {
                    self.predict(*sessions, last + f64::from(*sessions) * takes_a_session)
                })
                .collect(),
            sessions: values.len(),
            points: points
                .map(|(value, at)| (value.session, first + at, self.best.at(*at)))
                .collect(),
        }
    }

    fn predict(&self, sessions: u32, at: f64) -> Prediction {
        let level = self.interval_of(at);
        // What the curve does not know and what the day does are independent.
        let day = quantile(self.freedom) * level.best * self.log_variance.sqrt();
        let [low, high] = level.interval.map(|end| end.unwrap_or(0.0));
        let beside = |end: f64| (end - level.best).hypot(day);
        Prediction {
            sessions,
            level_ms: level,
            session_ms: [
                (level.best - beside(low)).max(0.0),
                level.best + beside(high),
            ],
        }
    }

    /// The curve's value after so many takes with its interval; after infinitely many it is the floor.
    fn interval_of(&self, at: f64) -> Fitted {
        let best = self.best.at(at);
        let through: Vec<Through> = self
            .rates
            .iter()
            .map(|rate| Through::new(rate, at, &self.ms, &self.weights))
            .collect();
        let is_inside = |value: f64| {
            let squares = through.iter().map(|through| through.squares(value));
            squares.fold(f64::INFINITY, f64::min) <= self.squares + self.allowed
        };
        let largest = 4.0 * self.ms.iter().copied().fold(best, f64::max);
        Fitted {
            best,
            interval: [
                (!is_inside(0.0)).then(|| edge(&is_inside, best, 0.0)),
                (!is_inside(largest)).then(|| edge(&is_inside, best, largest)),
            ],
        }
    }

    /// The takes in which half of the gap goes; an end at the slowest or the quickest rate is open.
    fn halved(&self) -> Fitted {
        let is_inside = |rate: &Rate| {
            let fit = projected(rate, &self.ms, &self.weights);
            fit.is_some_and(|(_, squares)| squares <= self.squares + self.allowed)
        };
        let inside: Vec<usize> = (0..self.rates.len())
            .filter(|at| is_inside(&self.rates[*at]))
            .collect();
        let halved = |rate: f64| std::f64::consts::LN_2 / rate;
        let end = |at: Option<&usize>, edge: usize| {
            let at = *at?;
            (at != edge).then(|| halved(self.rates[at].rate))
        };
        Fitted {
            best: halved(self.best.rate),
            interval: [
                end(inside.last(), self.rates.len() - 1),
                end(inside.first(), 0),
            ],
        }
    }
}

/// The curves of one rate, by the value that they come to after so many takes: `value + gap · (decay − there)`.
struct Through {
    there: f64,
    /// Weighted sums of products: of 1, x = decay − there and y = ms.
    one: f64,
    x: f64,
    y: f64,
    xx: f64,
    xy: f64,
    yy: f64,
}

impl Through {
    fn new(rate: &Rate, at: f64, ms: &[f64], weights: &[f64]) -> Through {
        let there = (-rate.rate * at).exp();
        let mut sums = Through {
            there,
            one: 0.0,
            x: 0.0,
            y: 0.0,
            xx: 0.0,
            xy: 0.0,
            yy: 0.0,
        };
        for ((decay, y), weight) in rate.decay.iter().zip(ms).zip(weights) {
            let x = decay - there;
            sums.one += weight;
            sums.x += weight * x;
            sums.y += weight * y;
            sums.xx += weight * x * x;
            sums.xy += weight * x * y;
            sums.yy += weight * y * y;
        }
        sums
    }

    /// The least weighted squares: the gap alone is free.
    fn squares(&self, value: f64) -> f64 {
        let xy = self.xy - value * self.x;
        let yy = self.yy - 2.0 * value * self.y + value * value * self.one;
        // No floor is below none.
        let most = value / self.there.max(f64::MIN_POSITIVE);
        let gap = (xy / self.xx.max(f64::MIN_POSITIVE)).clamp(0.0, most);
        yy - 2.0 * gap * xy + gap * gap * self.xx
    }
}

/// Whether the fall stands out: the curve against no change, by F on the two numbers it has more. The rate means nothing without a
/// fall, so that this is no exact level; `tests/progress_truth.rs` has what it comes to.
fn falls(
    ms: &[f64],
    weights: &[f64],
    best: Exponential,
    squares: f64,
    scale: f64,
    freedom: f64,
) -> Result<(), WhyNot> {
    let sum: f64 = weights.iter().sum();
    let mean = std::iter::zip(ms, weights)
        .map(|(ms, w)| ms * w)
        .sum::<f64>()
        / sum;
    let flat: f64 = std::iter::zip(ms, weights)
        .map(|(ms, w)| w * (ms - mean).powi(2))
        .sum();
    let ratio = (flat - squares) / 2.0 / scale;
    let chance = FisherSnedecor::new(2.0, freedom).map_or(1.0, |f| f.sf(ratio.max(0.0)));
    if best.gap <= 0.0 || chance > 1.0 - LEVEL {
        return Err(WhyNot::NoFall);
    }
    Ok(())
}

/// From the slowest, which is as good as a straight line, to the one that halves the gap within one session.
fn rates(at: &[f64], span: f64) -> Vec<Rate> {
    let sessions = (at.len() - 1) as f64;
    let ln_2 = std::f64::consts::LN_2;
    let (slowest, quickest) = (ln_2 / (SLOWEST * span), ln_2 * sessions / span);
    (0..RATES)
        .map(|step| {
            let share = step as f64 / (RATES - 1) as f64;
            Rate::new(slowest * (quickest / slowest).powf(share), at)
        })
        .collect()
}

/// The best curve over all rates, and its weighted squares: the best of those that are looked at, then between its
/// neighbours by golden sections (Kiefer 1953, Proc. Am. Math. Soc. 4:502).
fn best(rates: &[Rate], at: &[f64], ms: &[f64], weights: &[f64]) -> Option<(Exponential, f64)> {
    let squares = |rate: &Rate| projected(rate, ms, weights).map_or(f64::INFINITY, |fit| fit.1);
    let (coarse, _) = rates
        .iter()
        .map(squares)
        .enumerate()
        .min_by(|one, other| one.1.total_cmp(&other.1))?;
    let log = |index: usize| rates[index].rate.ln();
    let (mut low, mut high) = (
        log(coarse.saturating_sub(1)),
        log((coarse + 1).min(rates.len() - 1)),
    );
    let golden = (5f64.sqrt() - 1.0) / 2.0;
    const SECTIONS: usize = 24;
    for _ in 0..SECTIONS {
        let (one, other) = (high - golden * (high - low), low + golden * (high - low));
        if squares(&Rate::new(one.exp(), at)) <= squares(&Rate::new(other.exp(), at)) {
            high = other;
        } else {
            low = one;
        }
    }
    projected(&Rate::new(f64::midpoint(low, high).exp(), at), ms, weights)
}

/// The best floor and gap at one rate, and their weighted squares.
fn projected(rate: &Rate, ms: &[f64], weights: &[f64]) -> Option<(Exponential, f64)> {
    let (mut w, mut x, mut y, mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0, 0.0, 0.0, 0.0);
    for ((decay, ms), weight) in rate.decay.iter().zip(ms).zip(weights) {
        w += weight;
        x += weight * decay;
        y += weight * ms;
        xx += weight * decay * decay;
        xy += weight * decay * ms;
        yy += weight * ms * ms;
    }
    let (sxx, sxy, syy) = (xx - x * x / w, xy - x * y / w, yy - y * y / w);
    if sxx <= 1e-12 * xx {
        return None;
    }
    let gap = sxy / sxx;
    let floor = (y - gap * x) / w;
    // A spread is never below none: the best of those that end there.
    if floor < 0.0 {
        let gap = xy / xx;
        let curve = Exponential {
            floor: 0.0,
            gap,
            rate: rate.rate,
        };
        return Some((curve, yy - gap * xy));
    }
    let curve = Exponential {
        floor,
        gap,
        rate: rate.rate,
    };
    Some((curve, syy - gap * sxy))
}

/// The edge between a value inside and one outside.
fn edge(is_inside: &impl Fn(f64) -> bool, inside: f64, outside: f64) -> f64 {
    let (mut inside, mut outside) = (inside, outside);
    const HALVINGS: usize = 24;
    for _ in 0..HALVINGS {
        let middle = (inside + outside) / 2.0;
        if is_inside(middle) {
            inside = middle;
        } else {
            outside = middle;
        }
    }
    inside
}

fn quantile(freedom: f64) -> f64 {
    StudentsT::new(0.0, 1.0, freedom).map_or(f64::INFINITY, |t| t.inverse_cdf(0.5 + LEVEL / 2.0))
}
