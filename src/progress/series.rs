//! The values of sessions: the mean of their takes, and how sure it is.
//!
//! What takes of one session differ by is more than their notes explain. Where it is, its variance is measured over all
//! sessions together, drawn towards what the notes say as by [`PRIOR`] more takes (a moderated variance: Smyth 2004,
//! Stat. Appl. Genet. Mol. Biol. 3:3; from memory).

use super::basis::Session;
use super::detectable;
use super::history::Entry;
use super::measure::{Measure, Sampled};
use super::outcome::Point;

/// What the notes say of the noise of takes counts as so many degrees of freedom.
const PRIOR: f64 = 4.0;

/// A measure from session to session, on its scale.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Series {
    pub values: Vec<SessionValue>,
    /// What two takes of one session differ by: the smallest difference that means more than chance.
    pub between_takes: f64,
}

/// The value of one session.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct SessionValue {
    pub session: i64,
    pub begun_ms: i64,
    pub takes: usize,
    pub value: f64,
    /// From notes and takes; the day's is not in it.
    pub variance: f64,
    /// The mean logarithm of its takes' speeds.
    pub log_speed: f64,
    /// Takes before its middle.
    pub practised: f64,
}

impl Series {
    /// The sessions that say anything, in order.
    pub fn of(sessions: &[Session<'_>], of: impl Fn(&Entry) -> Option<Sampled>) -> Series {
        let (mut values, mut squares, mut freedom) = (Vec::new(), 0.0, 0.0);
        let (mut known, mut takes) = (0.0, 0.0);
        let mut sampled: Vec<Sampled> = Vec::new();
        for session in sessions {
            sampled.clear();
            let mut log_speed = 0.0;
            for entry in &session.takes {
                if let Some(value) = of(entry) {
                    sampled.push(value);
                    log_speed += entry.speed.max(1.0).ln();
                }
            }
            let count = sampled.len() as f64;
            if sampled.is_empty() {
                continue;
            }
            let mean = sampled.iter().map(|take| take.value).sum::<f64>() / count;
            let off = |take: &Sampled| (take.value - mean).powi(2);
            let of_session = sampled.iter().map(|take| take.variance).sum::<f64>();
            squares += sampled.iter().map(off).sum::<f64>();
            freedom += count - 1.0;
            known += of_session;
            takes += count;
            values.push(SessionValue {
                session: session.number,
                begun_ms: session.begun_ms,
                takes: sampled.len(),
                value: mean,
                variance: of_session / (count * count),
                log_speed: log_speed / count,
                practised: session.practised,
            });
        }
        let known = known / f64::max(takes, 1.0);
        let moderated = (PRIOR * known + squares) / (PRIOR + freedom);
        let of_take = moderated.max(known);
        if known > 0.0 {
            let times = of_take / known;
            values.iter_mut().for_each(|value| value.variance *= times);
        }
        Series {
            values,
            between_takes: detectable::between_two(of_take.sqrt()),
        }
    }

    /// The points to be drawn.
    pub fn points(&self, measure: Measure) -> Vec<Point> {
        const Z: f64 = 1.959_963_984_540_054;
        let point = |value: &SessionValue| {
            let half = Z * value.variance.sqrt();
            let shown = |value: f64| measure.shown(value);
            Point {
                session: value.session,
                begun_ms: value.begun_ms,
                takes: value.takes,
                value: shown(value.value),
                interval: [shown(value.value - half), shown(value.value + half)],
            }
        };
        self.values.iter().map(point).collect()
    }
}
