//! Findings from session to session.

use super::basis::Session;
use super::figures::FindingFigures;
use super::history::Entry;
use super::measure::Sampled;
use super::outcome::FindingPoint;
use super::series::Series;
use std::collections::BTreeMap;

/// A finding that was told of any take.
pub(super) struct Recurring {
    pub id: String,
    pub points: Vec<FindingPoint>,
    /// The share of takes in which it was told, as an angle.
    pub series: Series,
    /// How much it hurt in the latest session, all takes of it together.
    hurt: f64,
    /// In how many takes it was told.
    told: usize,
}

/// That which hurts most lately first.
pub(super) fn recurring(sessions: &[Session<'_>]) -> Vec<Recurring> {
    let mut takes: BTreeMap<&str, usize> = BTreeMap::new();
    for finding in sessions.iter().flat_map(of_session) {
        *takes.entry(&finding.id).or_default() += 1;
    }
    let mut recurring: Vec<Recurring> = takes
        .into_iter()
        .map(|(id, told)| Recurring {
            id: id.into(),
            points: sessions.iter().map(|session| point(session, id)).collect(),
            series: shares(sessions, id),
            hurt: sessions.last().map_or(0.0, |session| {
                let findings = of_session(session).filter(|finding| finding.id == id);
                findings.map(|finding| finding.hurt).sum()
            }),
            told,
        })
        .collect();
    recurring.sort_by(|one, other| {
        let told = || other.told.cmp(&one.told);
        let hurt = other.hurt.total_cmp(&one.hurt);
        hurt.then_with(told).then_with(|| one.id.cmp(&other.id))
    });
    recurring
}

fn of_session<'a>(session: &'a Session<'_>) -> impl Iterator<Item = &'a FindingFigures> {
    session.takes.iter().flat_map(|take| &take.figures.findings)
}

fn is_told(entry: &Entry, id: &str) -> bool {
    entry
        .figures
        .findings
        .iter()
        .any(|finding| finding.id == id)
}

fn point(session: &Session<'_>, id: &str) -> FindingPoint {
    let findings = || of_session(session).filter(|finding| finding.id == id);
    let (sum, sizes) = findings()
        .filter_map(|finding| finding.mean_ms)
        .fold((0.0, 0.0), |(sum, sizes), mean| (sum + mean, sizes + 1.0));
    FindingPoint {
        session: session.number,
        begun_ms: session.begun_ms,
        told: session
            .takes
            .iter()
            .filter(|take| is_told(take, id))
            .count(),
        takes: session.takes.len(),
        notes: [
            findings().map(|finding| finding.count).sum(),
            findings().map(|finding| finding.of).sum(),
        ],
        mean_ms: (sizes > 0.0).then(|| sum / sizes),
    }
}

/// All takes of a session together are so many of so many.
fn shares(sessions: &[Session<'_>], id: &str) -> Series {
    let mut series = Series::of(sessions, |_| Sampled::share(0, 1));
    for (value, session) in series.values.iter_mut().zip(sessions) {
        let told = session
            .takes
            .iter()
            .filter(|take| is_told(take, id))
            .count();
        if let Some(share) = Sampled::share(told as u32, session.takes.len() as u32) {
            (value.value, value.variance) = (share.value, share.variance);
        }
    }
    series
}
