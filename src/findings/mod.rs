//! Findings: statements about the playing, each with its evidence and its uncertainty.
//!
//! One file a finding (or a pair that are each other's mirror): its question, its statistic, its threshold, its
//! sentence and its advice. `ALL` is the one place that knows them all. A finding is made only when the evidence
//! carries it: an interval that excludes the [harmless](evidence::Evidence::harmless_ms) range, from at least
//! [`FEWEST`] notes, or a stated smaller count of gross misses. A clean take yields none.

mod entries;
pub mod evidence;
mod latency_suspect;
mod missed_muting;
mod short_notes;
pub mod stats;
mod upbeats;

use evidence::Evidence;
use serde::Serialize;

/// One statement about the playing.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Finding {
    /// Its stable name, such as `late-entries`.
    pub id: &'static str,
    /// How many notes show it.
    pub count: usize,
    /// Out of how many that could.
    pub of: usize,
    /// The mean effect in ms (negative is early, or too short), where it has one.
    pub mean_ms: Option<f64>,
    /// The interval of that mean at [`LEVEL`].
    pub interval_ms: Option<[f64; 2]>,
    /// One sentence that says what was heard.
    pub text: String,
    /// One sentence that says what to practise.
    pub advice: &'static str,
    /// Indices of the notes that show it.
    pub notes: Vec<u32>,
}

/// A question asked of a take.
type Question = fn(&Evidence) -> Option<Finding>;

/// Every question but that after the latency, in the order in which findings are told.
const ALL: [Question; 4] = [
    entries::ask,
    upbeats::ask,
    missed_muting::ask,
    short_notes::ask,
];

/// Notes that a statistical finding needs at least.
pub const FEWEST: usize = 5;

/// Level of the intervals: 95 % over all the questions together (Bonferroni: 5 % shared by those of `ALL` and the one
/// after the latency).
pub const LEVEL: f64 = 1.0 - 0.05 / (ALL.len() + 1) as f64;

/// All findings of a take. A latency that depends on pitch is asked for first: what it explains is no habit of the
/// player, and is taken out before the others are asked.
pub fn find(evidence: &Evidence) -> Vec<Finding> {
    let Some(suspicion) = latency_suspect::ask(evidence) else {
        return ask_all(evidence).collect();
    };
    let without = evidence.less_periods(suspicion.periods);
    std::iter::once(suspicion.finding)
        .chain(ask_all(&without))
        .collect()
}

fn ask_all(evidence: &Evidence) -> impl Iterator<Item = Finding> {
    ALL.iter().filter_map(move |question| question(evidence))
}
