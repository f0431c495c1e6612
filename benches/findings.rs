//! What the findings can be trusted with: power, false findings, intervals, confusion, and cost.
//!
//!     cargo bench --bench findings                 # all tables, 1,000 takes a cell (some twenty minutes on two busy cores)
//!     cargo bench --bench findings -- clean 4000   # one table, so many takes a cell
//!
//! Tables: `clean`, `power`, `target`, `confusion`, `cost`.

#[path = "../tests/power/mod.rs"]
mod power;

use leadsman::findings::evidence::Evidence;
use leadsman::findings::find;
use leadsman::judge::Settings;
use leadsman::judge::judge::judge;
use leadsman::stand_in::{Habits, play};
use power::{
    CASES, Case, LAYERED, Line, MOVED, QUICK, Rates, SLOW, SWUNG, TEMPI, expected, percent, rates,
};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

const NOTES: [usize; 5] = [16, 48, 100, 200, 400];
const SPREADS: [f64; 4] = [6.0, 12.0, 20.0, 30.0];
const CORRELATIONS: [f64; 2] = [0.0, 0.25];

/// Prints one table, of so many takes a cell.
type Table = fn(usize);

fn main() {
    let words: Vec<String> = std::env::args()
        .skip(1)
        .filter(|word| !word.starts_with('-'))
        .collect();
    let takes = words
        .iter()
        .find_map(|word| word.parse().ok())
        .unwrap_or(1000);
    let tables: [(&str, Table); 5] = [
        ("clean", clean),
        ("power", power_table),
        ("target", target),
        ("confusion", confusion),
        ("cost", cost),
    ];
    let named = |name: &str| words.iter().any(|word| word == name);
    let any_named = tables.iter().any(|(name, _)| named(name));
    for (name, table) in tables {
        if !any_named || named(name) {
            println!("\n## {name}, {takes} takes a cell\n");
            table(takes);
        }
    }
}

/// Runs `of` for every index on both cores, in order of index.
fn each<T: Send>(count: usize, of: impl Fn(usize) -> T + Sync) -> Vec<T> {
    let next = AtomicUsize::new(0);
    let work = || {
        let mut done = Vec::new();
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            if index >= count {
                return done;
            }
            done.push((index, of(index)));
        }
    };
    let mut all: Vec<(usize, T)> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..2).map(|_| scope.spawn(work)).collect();
        workers
            .into_iter()
            .flat_map(|worker| worker.join().expect("a worker"))
            .collect()
    });
    all.sort_by_key(|(index, _)| *index);
    all.into_iter().map(|(_, done)| done).collect()
}

/// Takes without any habit: how many carry a finding. One line of the table for each spread and correlation, all
/// lines and lengths in it; then the worst cell.
fn clean(takes: usize) {
    let lines: [(&str, &Line); 6] = [
        ("layered", &LAYERED),
        ("swung", &SWUNG),
        ("moved", &MOVED),
        ("tempi", &TEMPI),
        ("slow", &SLOW),
        ("quick", &QUICK),
    ];
    println!("| spread, correlation | takes | with any finding | which | worst cell |");
    println!("| --- | --- | --- | --- | --- |");
    for spread in SPREADS {
        for correlation in CORRELATIONS {
            let cells = each(lines.len() * NOTES.len(), |cell| {
                let (line, notes) = (&lines[cell / NOTES.len()], NOTES[cell % NOTES.len()]);
                let habits =
                    format!("spread-ms={spread},correlation={correlation},velocity-spread=8");
                (
                    format!("{} {notes}", line.0),
                    rates(&expected(line.1, notes), &habits, takes, None),
                )
            });
            let mut all = Rates::default();
            cells.iter().for_each(|(_, cell)| all.add(cell));
            let worst = cells
                .iter()
                .max_by_key(|(_, cell)| cell.any)
                .expect("a cell");
            println!(
                "| {spread} ms, {correlation} | {} | {:.2} % | {} | {}: {:.1} % |",
                all.takes,
                percent(all.any, all.takes),
                told(&all),
                worst.0,
                percent(worst.1.any, worst.1.takes),
            );
        }
    }
}

fn told(rates: &Rates) -> String {
    let counts = rates.told.iter().map(|(id, count)| format!("{id} {count}"));
    counts.collect::<Vec<_>>().join(", ")
}

/// Percent found, by size and by notes a take, at a spread of 12 ms and a correlation of 0.25; then the other spreads
/// at 100 notes.
fn power_table(takes: usize) {
    println!(
        "| habit (told as) | size | {} | spread 6 | 20 | 30 | independent |",
        NOTES.map(|n| format!("{n} notes")).join(" | ")
    );
    println!("| --- | --- |{}", " --- |".repeat(NOTES.len() + 4));
    for case in CASES {
        for size in case.sizes {
            let cells = each(NOTES.len() + 4, |column| {
                let (notes, spread, correlation) = match column.checked_sub(NOTES.len()) {
                    None => (NOTES[column], 12.0, 0.25),
                    Some(3) => (100, 12.0, 0.0),
                    Some(other) => (100, [6.0, 20.0, 30.0][other], 0.25),
                };
                case.found_percent(&case.rates(*size, notes, spread, correlation, takes))
            });
            let cells: Vec<String> = cells.iter().map(|found| format!("{found:.0}")).collect();
            println!(
                "| {} ({}) | {size} | {} |",
                name(case),
                case.ids.join(" or "),
                cells.join(" | ")
            );
        }
    }
}

fn name(case: &Case) -> &str {
    case.habit.trim_end_matches("={}")
}

/// The figure that is wanted: 20 ms on 12 notes or more, spread 12 ms; and whether the interval holds the truth.
fn target(takes: usize) {
    println!(
        "| habit | notes of the kind, in a take | correlation | found | interval holds the truth |"
    );
    println!("| --- | --- | --- | --- | --- |");
    let mut cells = Vec::new();
    for case in CASES.iter().filter(|case| case.size_is_ms) {
        let size = 20.0 * case.sizes[1].signum();
        for notes in [48, 100, 200] {
            for correlation in CORRELATIONS {
                cells.push((case, size, notes, correlation));
            }
        }
    }
    let rows = each(cells.len(), |cell| {
        let (case, size, notes, correlation) = cells[cell];
        let rates = case.rates(size, notes, 12.0, correlation, takes);
        let intervals = case.ids.iter().filter_map(|id| rates.intervals.get(id));
        let (of, held) = intervals.fold((0, 0), |a, b| (a.0 + b.0, a.1 + b.1));
        format!(
            "| {} | {} | {correlation} | {:.1} % | {:.1} % of {of} |",
            name(case),
            of_kind(case, size, notes),
            case.found_percent(&rates),
            percent(held, of),
        )
    });
    rows.iter().for_each(|row| println!("{row}"));
}

/// How many notes are of the kind, by a take in which the habit is gross.
fn of_kind(case: &Case, size: f64, notes: usize) -> String {
    let expected = expected(case.line, notes);
    let habits: Habits = case.habits(4.0 * size, 3.0, 0.0).parse().expect("habits");
    let findings = power::findings(&expected, &habits, 1);
    let own = findings
        .iter()
        .find(|finding| case.ids.contains(&finding.id));
    own.map_or_else(
        || format!("? of {}", expected.notes.len()),
        |own| format!("{} of {}", own.of, expected.notes.len()),
    )
}

/// What each habit is told as: percent of takes of 100 and 200 notes, spread 12 ms, correlation 0.25, at its larger sizes.
fn confusion(takes: usize) {
    println!("| habit at size | told as what it is | told as anything else (each over 0.1 %) |");
    println!("| --- | --- | --- |");
    for case in CASES {
        for size in case.sizes.iter().skip(1).rev().take(2) {
            let mut all = Rates::default();
            each(2, |half| {
                case.rates(*size, [100, 200][half], 12.0, 0.25, takes)
            })
            .iter()
            .for_each(|half| all.add(half));
            let others: Vec<String> = case
                .mistaken(&all)
                .into_iter()
                .filter(|(_, percent)| *percent > 0.1)
                .map(|(id, percent)| format!("{id} {percent:.1} %"))
                .collect();
            println!(
                "| {} {size} | {} {:.1} % | {} |",
                name(case),
                case.ids.join(" or "),
                case.found_percent(&all),
                others.join(", ")
            );
        }
    }
}

/// The findings stage alone on takes of 10⁴ and 10⁵ readings.
fn cost(_takes: usize) {
    println!("| line, player | readings | findings stage, ms | judging, ms |");
    println!("| --- | --- | --- | --- |");
    let players = [
        "spread-ms=12,correlation=0.25",
        "spread-ms=12,correlation=0.25,late-entries-ms=45,upbeats-ms=-30,ring-over-ms=120,wrong-frets=0.05",
    ];
    for (name, line) in [("layered", &LAYERED), ("swung", &SWUNG), ("moved", &MOVED)] {
        for player in players {
            for notes in [10_000, 100_000] {
                let expected = expected(line, notes);
                let habits: Habits = player.parse().expect("habits");
                let settings = Settings::default();
                let played = play(&expected, &habits, 1);
                let start = Instant::now();
                let judgement = judge(Arc::clone(&expected), &settings, played.into_iter());
                let judged = start.elapsed();
                let start = Instant::now();
                let findings = find(&Evidence::new(&expected, &judgement, &settings.windows));
                let found = start.elapsed();
                println!(
                    "| {name}, {} findings | {} | {:.0} | {:.0} |",
                    findings.len(),
                    expected.notes.len(),
                    found.as_secs_f64() * 1e3,
                    judged.as_secs_f64() * 1e3,
                );
            }
        }
    }
}
