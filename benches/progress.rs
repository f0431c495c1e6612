//! What progress can be trusted with, and what it costs.
//!
//!     cargo bench --bench progress                  # all tables, 1,000 months a cell
//!     cargo bench --bench progress -- false 4000    # one table, so many months a cell
//!
//! Tables: `false`, `power`, `curve`, `cost`.

#[path = "../tests/progress_players/mod.rs"]
mod progress_players;

use leadsman::progress::figures::TakeFigures;
use leadsman::progress::outcome::{Curve, Fitted, Told, Verdict};
use leadsman::progress::{History, Progress};
use progress_players::{Month, Player, STEADY, Said, of_spread};
use rayon::prelude::*;
use std::time::Instant;

/// Prints one table, of so many months a cell.
type Table = fn(usize);

fn main() {
    let words: Vec<String> = std::env::args()
        .skip(1)
        .filter(|word| !word.starts_with('-'))
        .collect();
    let months = words
        .iter()
        .find_map(|word| word.parse().ok())
        .unwrap_or(1000);
    let tables: [(&str, Table); 4] = [
        ("false", false_table),
        ("power", power_table),
        ("curve", curve_table),
        ("cost", cost_table),
    ];
    let named = |name: &str| words.iter().any(|word| word == name);
    let any_named = tables.iter().any(|(name, _)| named(name));
    for (name, table) in tables {
        if !any_named || named(name) {
            println!("\n## {name}, {months} months a cell\n");
            table(months);
        }
    }
}

/// Months of a player, each looked at by `of`.
fn each<T: Send>(
    player: Player,
    sessions: usize,
    months: usize,
    of: impl Fn(Month) -> T + Sync,
) -> Vec<T> {
    (0..months as u64)
        .into_par_iter()
        .map(|seed| of(player.month(sessions, seed)))
        .collect()
}

fn percent<T>(of: &[T], holds: impl Fn(&T) -> bool) -> f64 {
    100.0 * of.iter().filter(|one| holds(one)).count() as f64 / of.len().max(1) as f64
}

/// Players in whom nothing changes.
fn false_table(months: usize) {
    let kinds: [(&str, Player); 7] = [
        ("usual days, 1 to 5 takes", STEADY),
        (
            "no days",
            Player {
                days: 0.0,
                ..STEADY
            },
        ),
        (
            "days 2.5 times as different",
            Player {
                days: 2.5,
                ..STEADY
            },
        ),
        (
            "one take a session",
            Player {
                takes: [1, 1],
                ..STEADY
            },
        ),
        (
            "five takes a session",
            Player {
                takes: [5, 5],
                ..STEADY
            },
        ),
        (
            "36 notes a take",
            Player {
                notes: 36,
                ..STEADY
            },
        ),
        (
            "days alike by 0.5",
            Player {
                days_alike: 0.5,
                ..STEADY
            },
        ),
    ];
    println!("| player | sessions | better: whole line | better: anywhere | worse: anywhere |");
    println!("| --- | --- | --- | --- | --- |");
    for (name, player) in kinds {
        for sessions in [4, 6, 8, 12, 20] {
            let said = each(player, sessions, months, |month| {
                Said::of(&Progress::of(&month.history))
            });
            println!(
                "| {name} | {sessions} | {:.1} % | {:.1} % | {:.1} % |",
                percent(&said, |said| said.better_whole),
                percent(&said, Said::better),
                percent(&said, Said::worse),
            );
        }
    }
    let looks = each(STEADY, 20, months, |month| {
        let until = |session: i64| {
            let entries = month.history.entries().iter();
            let until = entries.filter(|entry| entry.session <= session).cloned();
            Said::of(&Progress::of(&History::new(until.collect()))).better()
        };
        (4..=20).any(until)
    });
    println!(
        "\nlooked at after every session of twenty: better at any time in {:.1} %",
        percent(&looks, |any| *any)
    );
}

/// Players whose spread falls by a share over the month, the same in each session.
fn power_table(months: usize) {
    println!(
        "| days | sessions | fall | told better | told worse | fall told (middle) | detectable (middle) |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- |");
    for days in [0.0, 1.0] {
        for sessions in [6, 12, 20] {
            for fall in [0.1f64, 0.2, 0.3, 0.4] {
                let player = Player {
                    days,
                    takes: [3, 3],
                    ..STEADY
                };
                let changes = each(player, sessions, months, |month| {
                    of_spread(&Progress::of(&falling(&month, fall, sessions)))
                });
                let changes: Vec<_> = changes.into_iter().flatten().collect();
                let middle = |of: &dyn Fn(usize) -> f64| {
                    let mut values: Vec<f64> = (0..changes.len()).map(of).collect();
                    values.sort_by(f64::total_cmp);
                    100.0 * (1.0 - values[values.len() / 2])
                };
                println!(
                    "| {days} | {sessions} | {:.0} % | {:.1} % | {:.1} % | {:.0} % | {:.0} % |",
                    100.0 * fall,
                    percent(&changes, |change| change.verdict == Verdict::Better),
                    percent(&changes, |change| change.verdict == Verdict::Worse),
                    middle(&|at| changes[at].change),
                    middle(&|at| changes[at].detectable[0]),
                );
            }
        }
    }
}

/// The month with a spread that falls evenly by its logarithm.
fn falling(month: &Month, fall: f64, sessions: usize) -> History {
    let entries = month.history.entries().iter().cloned().map(|mut entry| {
        let share = (entry.session - 1) as f64 / (sessions - 1) as f64;
        let times = (1.0 - fall).powf(share);
        let parts = entry
            .figures
            .sections
            .iter_mut()
            .map(|section| &mut section.part);
        for part in parts.chain([&mut entry.figures.whole]) {
            part.spread.iter_mut().for_each(|spread| spread.sd *= times);
        }
        entry
    });
    History::new(entries.collect())
}

const FLOOR_MS: f64 = 14.0;

/// Players who learn by a known curve.
fn curve_table(months: usize) {
    println!(
        "| player | sessions | a curve is told | floor in its interval | level in 10 sessions in its interval | session in 10 in its interval | half widths of floor, level (middle) |"
    );
    println!("| --- | --- | --- | --- | --- | --- | --- |");
    type Spread = fn(f64) -> f64;
    let curves: [(&str, Spread); 3] = [
        ("halved in 15 takes", |takes| {
            FLOOR_MS + 20.0 * (-takes * 2f64.ln() / 15.0).exp()
        }),
        ("halved in 40 takes", |takes| {
            FLOOR_MS + 20.0 * (-takes * 2f64.ln() / 40.0).exp()
        }),
        ("no change", |_| FLOOR_MS),
    ];
    for (name, spread_ms) in curves {
        for sessions in [8, 12, 20, 40] {
            let player = Player {
                spread_ms,
                takes: [3, 3],
                ..STEADY
            };
            let told = each(player, sessions + 10, months, |month| {
                let known = month.history.entries().iter();
                let known = known
                    .filter(|entry| entry.session <= sessions as i64)
                    .cloned();
                let progress = Progress::of(&History::new(known.collect()));
                let at = month.practised[sessions + 9];
                let truth = spread_ms(at);
                let session = truth * month.day_of_spread[sessions + 9].exp();
                match progress.curve {
                    Told::Known(curve) => Some((curve, truth, session)),
                    Told::NotYet(_) => None,
                }
            });
            let known: Vec<(Curve, f64, f64)> = told.iter().flatten().cloned().collect();
            let level = |curve: &Curve| curve.predictions[1].level_ms;
            let mut widths = [Vec::new(), Vec::new()];
            for (curve, ..) in &known {
                widths[0].push(half_width(curve.floor_ms));
                widths[1].push(half_width(level(curve)));
            }
            let widths = widths.map(|mut widths| {
                widths.sort_by(f64::total_cmp);
                widths.get(widths.len() / 2).copied().unwrap_or(f64::NAN)
            });
            println!(
                "| {name} | {sessions} | {:.1} % | {:.1} % | {:.1} % | {:.1} % | {:.1}, {:.1} ms |",
                percent(&told, Option::is_some),
                percent(&known, |(curve, ..)| holds(curve.floor_ms, FLOOR_MS)),
                percent(&known, |(curve, truth, _)| holds(level(curve), *truth)),
                percent(&known, |(curve, _, session)| {
                    let [low, high] = curve.predictions[1].session_ms;
                    (low..=high).contains(session)
                }),
                widths[0],
                widths[1],
            );
        }
    }
}

fn holds(fitted: Fitted, truth: f64) -> bool {
    let [low, high] = fitted.interval;
    low.is_none_or(|low| low <= truth) && high.is_none_or(|high| truth <= high)
}

fn half_width(fitted: Fitted) -> f64 {
    let [low, high] = fitted.interval;
    (high.unwrap_or(f64::INFINITY) - low.unwrap_or(0.0)) / 2.0
}

/// 10,000 takes of one line: reading their figures, and all that is said of them.
fn cost_table(_months: usize) {
    const TAKES: usize = 10_000;
    let month = Player {
        takes: [5, 5],
        ..STEADY
    }
    .month(TAKES / 5, 1);
    let texts: Vec<String> = month
        .history
        .entries()
        .iter()
        .map(|entry| serde_json::to_string(&entry.figures).expect("JSON"))
        .collect();
    let bytes: usize = texts.iter().map(String::len).sum();
    const RUNS: usize = 10;
    let mut best = [f64::INFINITY; 2];
    for _ in 0..RUNS {
        let read = || {
            texts
                .iter()
                .all(|text| serde_json::from_str::<TakeFigures>(text).is_ok())
        };
        best[0] = best[0].min(cpu_ms(|| assert!(read())));
        best[1] = best[1].min(cpu_ms(|| {
            assert_eq!(Progress::of(&month.history).takes, TAKES)
        }));
    }
    println!(
        "{TAKES} takes of {} bytes: read in {:.1} ms, told in {:.1} ms (of the processor)",
        bytes / TAKES,
        best[0],
        best[1]
    );
}

/// Time of this thread on a processor, which a busy machine does not lengthen; elsewhere than on Linux the time of the clock.
fn cpu_ms(work: impl FnOnce()) -> f64 {
    let on_processor = || -> Option<f64> {
        let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
        Some(text.split(' ').next()?.parse::<f64>().ok()? / 1e6)
    };
    let (begun, at) = (Instant::now(), on_processor());
    work();
    let by_clock = begun.elapsed().as_secs_f64() * 1e3;
    std::iter::zip(at, on_processor())
        .next()
        .map_or(by_clock, |(at, until)| until - at)
}
