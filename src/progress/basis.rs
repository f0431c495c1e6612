//! Like with like: which takes the statements rest on, and what is done about their speeds.
//!
//! The rule: of the line's latest `LATELY` sessions, the bars and the speed that most of them have, of several the ones played
//! last. Where these have fewer than [`FEWEST_SESSIONS`] sessions, all speeds of those bars are taken together with the
//! speed as a covariate, where there are [`FEWEST_MODELLED`] sessions; else it stays with the few.

use super::history::{Entry, Footing, History};
use super::outcome::{Basis, FootingSum, SpeedBasis};
use crate::line::bar_range::BarRange;
use std::collections::BTreeMap;

/// Sessions that the choice looks at: a month of playing on most days.
const LATELY: usize = 20;
/// Fewer sessions tell no change from chance: three leave one degree of freedom, and an interval twelve standard errors
/// wide on each side.
pub const FEWEST_SESSIONS: usize = 4;
/// The same with the speed beside the time.
pub const FEWEST_MODELLED: usize = 6;
/// A take with fewer of the notes than this share of the fullest one is not the same thing to play.
const LEAST_SHARE: f64 = 0.5;

/// What may be asked for instead of the rule's choice.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Choice {
    /// The rule's.
    #[default]
    Usual,
    /// These bars at this speed.
    At(Footing),
    /// All speeds of these bars, the speed as a covariate.
    AllSpeedsOf(Option<BarRange>),
}

/// The takes that may be compared, by session.
pub(super) struct Comparable<'a> {
    pub basis: Basis,
    pub sessions: Vec<Session<'a>>,
}

/// The takes of one session.
pub(super) struct Session<'a> {
    pub number: i64,
    pub begun_ms: i64,
    pub takes: Vec<&'a Entry>,
    /// Takes of the line before its middle, whatever their footing: how much was practised.
    pub practised: f64,
    /// All takes of the line in the session.
    pub all_takes: usize,
}

/// All footings, the one played last first.
pub(super) fn footings(entries: &[Entry]) -> Vec<FootingSum> {
    let mut sums: Vec<(FootingSum, i64)> = Vec::new();
    let mut at: BTreeMap<(Option<[u32; 2]>, u32), usize> = BTreeMap::new();
    for entry in entries {
        let footing = entry.footing();
        let key = (footing.bars.map(Into::into), footing.speed);
        let index = *at.entry(key).or_insert_with(|| {
            let sum = FootingSum {
                footing,
                takes: 0,
                sessions: 0,
                last_ms: entry.begun_ms,
            };
            sums.push((sum, i64::MIN));
            sums.len() - 1
        });
        let (sum, last_session) = &mut sums[index];
        sum.takes += 1;
        sum.sessions += usize::from(*last_session != entry.session);
        sum.last_ms = sum.last_ms.max(entry.begun_ms);
        *last_session = entry.session;
    }
    sums.sort_by_key(|(sum, _)| std::cmp::Reverse(sum.last_ms));
    sums.into_iter().map(|(sum, _)| sum).collect()
}

/// The takes that may be compared; `None` where there are none.
pub(super) fn comparable(history: &History, choice: Choice) -> Option<Comparable<'_>> {
    let choice = match choice {
        Choice::Usual => usual(history)?,
        other => other,
    };
    let (bars, at) = match choice {
        Choice::At(footing) => (footing.bars, Some(footing)),
        Choice::AllSpeedsOf(bars) => (bars, None),
        Choice::Usual => return None,
    };
    let is_chosen = |entry: &Entry| match at {
        Some(footing) => entry.footing() == footing,
        None => entry.bars == bars,
    };
    let chosen = || history.entries().iter().filter(|entry| is_chosen(entry));
    let fullest = chosen().map(|entry| entry.figures.whole.expected).max()?;
    let is_full =
        |entry: &Entry| f64::from(entry.figures.whole.expected) >= LEAST_SHARE * f64::from(fullest);
    let sessions = sessions(history, |entry| is_chosen(entry) && is_full(entry));
    let takes = sessions.iter().map(|session| session.takes.len()).sum();
    let speed = match choice {
        Choice::At(footing) => SpeedBasis::Same {
            speed: footing.speed,
        },
        _ => {
            let speeds = || chosen().map(|entry| entry.footing().speed);
            SpeedBasis::Modelled {
                slowest: speeds().min()?,
                fastest: speeds().max()?,
                speed: speeds().next_back()?,
            }
        }
    };
    Some(Comparable {
        basis: Basis {
            bars,
            speed,
            takes,
            sessions: sessions.len(),
            left_out: chosen().count() - takes,
        },
        sessions,
    })
}

fn usual(history: &History) -> Option<Choice> {
    let sums = footings(latest(history, LATELY));
    // The first of several that are alike is the one played last.
    let most = sums.iter().rev().max_by_key(|sum| sum.sessions)?.footing;
    let sessions = |is: &dyn Fn(&Entry) -> bool| {
        let mut sessions: Vec<i64> = history
            .entries()
            .iter()
            .filter(|entry| is(entry))
            .map(|entry| entry.session)
            .collect();
        sessions.dedup();
        sessions.len()
    };
    let has_one_speed = || {
        let bars = history.entries().iter().filter(|e| e.bars == most.bars);
        bars.clone().all(|entry| entry.footing() == most)
    };
    let is_enough = sessions(&|entry| entry.footing() == most) >= FEWEST_SESSIONS;
    let modelled = || sessions(&|entry| entry.bars == most.bars) >= FEWEST_MODELLED;
    if is_enough || has_one_speed() || !modelled() {
        return Some(Choice::At(most));
    }
    Some(Choice::AllSpeedsOf(most.bars))
}

/// The takes of the latest sessions.
fn latest(history: &History, count: usize) -> &[Entry] {
    let entries = history.entries();
    let runs: Vec<&[Entry]> = entries
        .chunk_by(|one, next| one.session == next.session)
        .collect();
    let kept: usize = runs.iter().rev().take(count).map(|run| run.len()).sum();
    &entries[entries.len() - kept..]
}

fn sessions(history: &History, counts: impl Fn(&Entry) -> bool) -> Vec<Session<'_>> {
    let mut before = 0;
    let runs = history
        .entries()
        .chunk_by(|one, next| one.session == next.session);
    let session = |run: &'_ [Entry]| {
        let practised = f64::from(before) + run.len() as f64 / 2.0;
        before += run.len() as u32;
        (practised, run.len())
    };
    let practised: Vec<(f64, usize)> = runs.clone().map(session).collect();
    std::iter::zip(runs, practised)
        .map(|(run, (practised, all_takes))| Session {
            number: run[0].session,
            begun_ms: run[0].session_begun_ms,
            takes: run.iter().filter(|entry| counts(entry)).collect(),
            practised,
            all_takes,
        })
        .filter(|session| !session.takes.is_empty())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::progress::figures::{Part, TakeFigures};

    fn take(session: i64, speed: f64, bars: Option<BarRange>, expected: u32) -> Entry {
        Entry {
            take: session,
            session,
            session_begun_ms: session * 1000,
            begun_ms: session * 1000 + speed as i64,
            utc_offset_s: 0,
            speed,
            bars,
            figures: TakeFigures {
                whole: Part {
                    expected,
                    ..Part::default()
                },
                ..TakeFigures::default()
            },
        }
    }

    fn basis(entries: Vec<Entry>, choice: Choice) -> Option<Basis> {
        comparable(&History::new(entries), choice).map(|comparable| comparable.basis)
    }

    #[test]
    fn the_bars_and_the_speed_of_most_sessions_are_compared() {
        let mut entries: Vec<Entry> = (1..=5).map(|day| take(day, 80.0, None, 60)).collect();
        entries.extend((1..=9).map(|day| take(day, 60.0, Some([5, 8].into()), 12)));
        entries.push(take(10, 100.0, None, 60));
        let most = basis(entries.clone(), Choice::Usual).expect("takes");
        assert_eq!(most.bars, Some([5, 8].into()));
        assert_eq!(
            (most.speed, most.sessions),
            (SpeedBasis::Same { speed: 60 }, 9)
        );
        let footing = Footing {
            bars: None,
            speed: 80,
        };
        let asked = basis(entries, Choice::At(footing)).expect("takes");
        assert_eq!((asked.takes, asked.sessions), (5, 5));
    }

    #[test]
    fn where_every_session_has_its_own_speed_the_speed_is_modelled() {
        let speeds = [70.0, 80.0, 75.0, 90.0, 85.0, 95.0];
        let entries: Vec<Entry> = (1..)
            .zip(speeds)
            .map(|(day, speed)| take(day, speed, None, 60))
            .collect();
        let modelled = SpeedBasis::Modelled {
            slowest: 70,
            fastest: 95,
            speed: 95,
        };
        assert_eq!(
            basis(entries.clone(), Choice::Usual).map(|b| b.speed),
            Some(modelled)
        );
        // Five sessions are too few for it.
        let few = basis(entries[..5].to_vec(), Choice::Usual).expect("takes");
        assert_eq!(
            (few.speed, few.sessions),
            (SpeedBasis::Same { speed: 85 }, 1)
        );
    }

    #[test]
    fn a_take_that_ended_before_its_half_is_left_out() {
        let entries = vec![
            take(1, 80.0, None, 60),
            take(2, 80.0, None, 30),
            take(3, 80.0, None, 29),
        ];
        let basis = basis(entries, Choice::Usual).expect("takes");
        assert_eq!((basis.takes, basis.left_out), (2, 1));
    }

    #[test]
    fn without_takes_there_is_nothing_to_compare() {
        assert_eq!(basis(Vec::new(), Choice::Usual), None);
    }
}
