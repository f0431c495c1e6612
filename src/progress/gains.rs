//! What came overnight against what came within a session, for the spread.
//!
//! In sequence learning on an instrument, accuracy was gained over a night and not over minutes (Simmons 2011, JRME 59:357). Here: the logarithm
//! of the spread, the first take of a session against its last, and its last against the first of the next session (means of
//! several takes would count part of a session as night). Each session is one value, each night is one; their means have
//! Student's intervals. Whoever stops when it goes well ends on a lucky take, which makes nights look worse than they are.

use super::basis::Session;
use super::measure::{Measure, Sampled};
use super::outcome::{Gain, Gains, Told, WhyNot};
use crate::findings::stats::mean_estimate;

/// Fewer sessions with two takes, each with a night after it, say nothing.
pub const FEWEST: usize = 5;
/// After more days than this, forgetting has its part.
const MOST_DAYS: i64 = 3;

/// A session, by its ends.
struct Ends {
    first: f64,
    last: f64,
    first_day: i64,
    last_day: i64,
}

pub(super) fn gains(sessions: &[Session<'_>]) -> Told<Gains> {
    // A session in which too little was heard parts those around it.
    let ends: Vec<Option<Ends>> = sessions.iter().map(ends).collect();
    let within = |ends: &Ends| ends.first - ends.last;
    let mut pairs = Vec::new();
    for pair in ends.windows(2) {
        if let [Some(evening), Some(morning)] = pair {
            let days = morning.first_day - evening.last_day;
            if (1..=MOST_DAYS).contains(&days) {
                pairs.push((within(evening), evening.last - morning.first));
            }
        }
    }
    if pairs.len() < FEWEST {
        return Told::NotYet(WhyNot::FewLongSessions {
            have: pairs.len(),
            need: FEWEST,
        });
    }
    let all: Vec<f64> = ends.iter().flatten().map(within).collect();
    let nights: Vec<f64> = pairs.iter().map(|(_, night)| *night).collect();
    let more: Vec<f64> = pairs.iter().map(|(within, night)| night - within).collect();
    let told = || {
        Some(Gains {
            within: gain(&all)?,
            overnight: gain(&nights)?,
            difference: gain(&more)?,
        })
    };
    told().map_or(Told::NotYet(WhyNot::NothingHeard), Told::Known)
}

/// `None` for a session of less than two takes.
fn ends(session: &Session<'_>) -> Option<Ends> {
    let spreads: Vec<(f64, i64)> = session
        .takes
        .iter()
        .filter_map(|take| {
            let Sampled { value, .. } = Measure::Spread.of(&take.figures.whole)?;
            Some((value, take.day()))
        })
        .collect();
    match spreads.as_slice() {
        [(first, first_day), .., (last, last_day)] => Some(Ends {
            first: *first,
            last: *last,
            first_day: *first_day,
            last_day: *last_day,
        }),
        _ => None,
    }
}

/// Of logarithms of how many times the spread was larger before.
fn gain(logs: &[f64]) -> Option<Gain> {
    let estimate = mean_estimate(logs)?;
    let percent = |log: f64| 100.0 * (1.0 - (-log).exp());
    Some(Gain {
        percent: percent(estimate.mean),
        interval: estimate.interval().map(percent),
        of: logs.len(),
    })
}
