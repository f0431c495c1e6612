#![doc = include_str!("today.txt")]
//!
//! Deterministic: of several that are alike, the line that was given first.

use super::History;
use super::clean;
use super::history::{Entry, Footing};
use crate::line::bar_range::BarRange;
use serde::Serialize;
use std::collections::BTreeMap;

/// The rule in words, to be shown with what it suggests.
pub const RULE: &str = include_str!("today.txt");

/// From here on a line is stale.
const STALE_DAYS: i64 = 14;
/// Percent of the written tempo from one speed to the next.
const STEP: u32 = 5;

/// One line that the player has played.
#[derive(Clone, Copy, Debug)]
pub struct Practised<'a> {
    /// Its title.
    pub title: &'a str,
    /// The takes of it.
    pub history: &'a History,
}

/// Something to play.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Suggestion {
    /// The line's title.
    pub title: String,
    /// Its place among the lines that were given.
    #[serde(skip)]
    pub line: usize,
    /// The bars; null: all of the line.
    pub bars: Option<BarRange>,
    /// Percent of the written tempo.
    pub speed: u32,
    /// Why.
    #[serde(flatten)]
    pub reason: Reason,
}

/// Why something is suggested.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "why")]
pub enum Reason {
    /// The latest take there was clean: one more holds the speed.
    NearlyThere,
    /// The finding that hurts most.
    Weakest {
        /// Its id.
        finding: String,
        /// Notes that showed it in the session, of all takes.
        count: u32,
        /// Out of how many.
        of: u32,
    },
    /// It has not been played for long.
    Stale {
        /// Whole days, by the player's own calendar.
        days: i64,
    },
    /// Nothing stands out: the next speed.
    NextSpeed {
        /// The speed that was held clean; null: none yet, and the slowest is played again.
        held: Option<u32>,
    },
}

/// What to play today, in this order; at the most one suggestion a reason. `now_ms`: since 1970, UTC; `utc_offset_s`: how far
/// the player's clock is ahead of it.
pub fn today(lines: &[Practised<'_>], now_ms: i64, utc_offset_s: i32) -> Vec<Suggestion> {
    let day = (now_ms.div_euclid(1000) + i64::from(utc_offset_s)).div_euclid(86_400);
    let played: Vec<Line<'_>> = lines
        .iter()
        .enumerate()
        .filter_map(|(index, line)| Line::of(index, line))
        .collect();
    let (stale_ones, fresh): (Vec<_>, Vec<_>) = played
        .iter()
        .partition(|line| day - line.latest.day() >= STALE_DAYS);
    let rules = [
        nearly_there(&fresh),
        weakest(&fresh),
        stale(&stale_ones, day),
    ];
    let mut told: Vec<Suggestion> = rules.into_iter().flatten().collect();
    if told.is_empty() {
        told.extend(next_speed(&played));
    }
    told
}

/// A line with at least one take.
struct Line<'a> {
    index: usize,
    title: &'a str,
    history: &'a History,
    latest: &'a Entry,
}

impl<'a> Line<'a> {
    fn of(index: usize, line: &Practised<'a>) -> Option<Line<'a>> {
        let latest = line
            .history
            .entries()
            .iter()
            .max_by_key(|entry| entry.begun_ms)?;
        Some(Line {
            index,
            title: line.title,
            history: line.history,
            latest,
        })
    }

    fn suggest(&self, footing: Footing, reason: Reason) -> Suggestion {
        Suggestion {
            title: self.title.into(),
            line: self.index,
            bars: footing.bars,
            speed: footing.speed,
            reason,
        }
    }

    /// All of the line at the highest speed held clean, else at the slowest played.
    fn known(&self) -> (Option<u32>, u32) {
        let records = clean::records(self.history, None);
        let mut held = records.iter().rev();
        let held = held.find(|(_, record)| record.held_ms.is_some());
        let held = held.map(|(speed, _)| *speed);
        let speeds = self
            .history
            .entries()
            .iter()
            .map(|entry| entry.footing().speed);
        let slowest = records.keys().next().copied().or(speeds.min());
        (held, held.or(slowest).unwrap_or(100))
    }
}

/// The last of the greatest is the first that was given.
fn greatest<T>(
    candidates: impl DoubleEndedIterator<Item = T>,
    order: impl Fn(&T, &T) -> std::cmp::Ordering,
) -> Option<T> {
    candidates.rev().max_by(|one, other| order(one, other))
}

fn nearly_there(lines: &[&Line<'_>]) -> Option<Suggestion> {
    let mut candidates = Vec::new();
    for line in lines {
        for bars in clean::bars_played(line.history) {
            for (speed, record) in clean::records(line.history, bars) {
                if record.held_ms.is_none() && record.in_a_row > 0 {
                    candidates.push((record.last_ms, line, Footing { bars, speed }));
                }
            }
        }
    }
    let latest = greatest(candidates.into_iter(), |one, other| one.0.cmp(&other.0));
    latest.map(|(_, line, footing)| line.suggest(footing, Reason::NearlyThere))
}

/// What a finding came to in a session.
#[derive(Default)]
struct Sum {
    hurt: f64,
    count: u32,
    of: u32,
    /// Of the latest take that says so.
    drill: Option<(BarRange, f64)>,
}

fn weakest(lines: &[&Line<'_>]) -> Option<Suggestion> {
    let candidates = lines.iter().flat_map(|line| {
        let takes = || {
            let entries = line.history.entries().iter();
            entries.filter(|entry| entry.session == line.latest.session)
        };
        let count = takes().count() as f64;
        let mut sums: BTreeMap<&str, Sum> = BTreeMap::new();
        for finding in takes().flat_map(|take| &take.figures.findings) {
            let sum = sums.entry(&finding.id).or_default();
            sum.hurt += finding.hurt / count;
            sum.count += finding.count;
            sum.of += finding.of;
            sum.drill = finding.bars.zip(finding.speed).or(sum.drill);
        }
        sums.into_iter().map(move |(id, sum)| (line, id, sum))
    });
    let candidates: Vec<_> = candidates.filter(|(.., sum)| sum.drill.is_some()).collect();
    let (line, id, sum) = greatest(candidates.into_iter(), |one, other| {
        one.2.hurt.total_cmp(&other.2.hurt)
    })?;
    let (bars, speed) = sum.drill?;
    let footing = Footing {
        bars: Some(bars),
        speed: speed.round() as u32,
    };
    let reason = Reason::Weakest {
        finding: id.into(),
        count: sum.count,
        of: sum.of,
    };
    Some(line.suggest(footing, reason))
}

fn stale(lines: &[&Line<'_>], day: i64) -> Option<Suggestion> {
    let days = |line: &Line<'_>| day - line.latest.day();
    let line = greatest(lines.iter(), |one, other| days(one).cmp(&days(other)))?;
    let (_, speed) = line.known();
    Some(line.suggest(
        Footing { bars: None, speed },
        Reason::Stale { days: days(line) },
    ))
}

fn next_speed(lines: &[Line<'_>]) -> Option<Suggestion> {
    let line = greatest(lines.iter(), |one, other| {
        one.latest.begun_ms.cmp(&other.latest.begun_ms)
    })?;
    let (held, speed) = line.known();
    let speed = if held.is_some() { speed + STEP } else { speed };
    Some(line.suggest(Footing { bars: None, speed }, Reason::NextSpeed { held }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::progress::figures::{FindingFigures, Part, TakeFigures};

    const DAY_MS: i64 = 86_400_000;

    /// A take on a day at a speed, clean or not, with a finding that hurts as much.
    fn take(day: i64, speed: f64, clean: bool, hurt: f64) -> Entry {
        let finding = FindingFigures {
            id: "late-entries".into(),
            count: 4,
            of: 9,
            hurt,
            mean_ms: None,
            interval_ms: None,
            bars: Some([5, 8].into()),
            speed: Some(75.0),
        };
        let whole = Part {
            expected: 50,
            timed: 50,
            timing_in: if clean { 50 } else { 20 },
            ..Part::default()
        };
        Entry {
            take: day,
            session: day,
            session_begun_ms: day * DAY_MS,
            begun_ms: day * DAY_MS,
            utc_offset_s: 0,
            speed,
            bars: None,
            figures: TakeFigures {
                whole,
                findings: if hurt > 0.0 {
                    vec![finding]
                } else {
                    Vec::new()
                },
                ..TakeFigures::default()
            },
        }
    }

    fn suggested(lines: &[Vec<Entry>], day: i64) -> Vec<(usize, u32, Reason)> {
        let histories: Vec<History> = lines.iter().cloned().map(History::new).collect();
        let practised: Vec<Practised<'_>> = histories
            .iter()
            .map(|history| Practised {
                title: "a",
                history,
            })
            .collect();
        let told = today(&practised, day * DAY_MS, 0).into_iter();
        told.map(|told| (told.line, told.speed, told.reason))
            .collect()
    }

    #[test]
    fn nearly_there_comes_before_weakest_and_stale() {
        let lines = [
            vec![
                take(1, 80.0, true, 0.0),
                take(2, 80.0, true, 0.0),
                take(3, 90.0, false, 0.9),
            ],
            vec![take(98, 70.0, true, 0.1), take(99, 85.0, true, 0.1)],
            vec![take(97, 100.0, false, 0.4)],
        ];
        let weakest = Reason::Weakest {
            finding: "late-entries".into(),
            count: 4,
            of: 9,
        };
        assert_eq!(
            suggested(&lines, 100),
            [
                (1, 85, Reason::NearlyThere),
                (2, 75, weakest),
                (0, 80, Reason::Stale { days: 97 }),
            ]
        );
    }

    #[test]
    fn two_weeks_make_a_line_stale_and_a_day_less_does_not() {
        let line = [vec![take(10, 60.0, false, 0.0)]];
        assert_eq!(suggested(&line, 24), [(0, 60, Reason::Stale { days: 14 })]);
        assert_eq!(
            suggested(&line, 23),
            [(0, 60, Reason::NextSpeed { held: None })]
        );
    }

    #[test]
    fn a_line_that_is_held_goes_on_five_percent_faster() {
        let line = [vec![take(1, 80.0, true, 0.0), take(2, 80.0, true, 0.0)]];
        assert_eq!(
            suggested(&line, 3),
            [(0, 85, Reason::NextSpeed { held: Some(80) })]
        );
    }

    #[test]
    fn of_lines_that_are_alike_the_first_is_suggested_and_of_none_nothing() {
        let alike = vec![take(1, 80.0, true, 0.2)];
        let told = suggested(&[alike.clone(), alike], 2);
        assert!(
            told.iter().all(|(line, ..)| *line == 0) && told.len() == 2,
            "{told:?}"
        );
        assert_eq!(suggested(&[Vec::new()], 2), []);
    }

    #[test]
    fn the_rule_names_what_it_goes_by() {
        assert!(RULE.contains("two weeks") && STALE_DAYS == 14);
        assert!(RULE.contains("five percent") && STEP == 5);
        assert!(RULE.contains("two clean takes") && clean::HOLDS == 2);
    }
}
