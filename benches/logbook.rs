//! A logbook of 10,000 takes of some 200 notes: its size, and how long commands take on it as processes.
//!
//! `cargo bench --bench logbook` prints a table. The aim: `progress` in under 300 ms. 200 takes are judged and entered as
//! the program does; the others are copies of them, each with its own time: five takes a day for 2,000 days. The best and
//! the median of several runs are told.
#![allow(missing_docs)]

mod support;

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::unroll;
use leadsman::line::read::read;
use leadsman::logbook::Logbook;
use leadsman::stand_in::{self, Habits};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use support::Form;

const NOTES: usize = 200;
const JUDGED: usize = 200;
const COPIES: usize = 50;

/// Copies of all that there is, `?1` from 1: each take on a day of its own block of days, with what it was judged to be.
const COPY: &str = "
    INSERT INTO take (uid, session, line, begun_ms, begun, length_ms, speed, first_bar, last_bar, head, track)
    SELECT uid || '-' || ?1, session, line, begun_ms, begun, length_ms, speed, first_bar, last_bar, head, track
    FROM take WHERE id <= ?2;";
const COPY_JUDGEMENTS: &str = "
    INSERT INTO judgement (uid, take, at_ms, program, settings, trust, figures)
    SELECT uid || '-' || ?1, take + ?1 * ?2, at_ms, program, settings, trust, figures FROM judgement WHERE id <= ?2;";
const COPY_READINGS: &str = "
    INSERT INTO reading SELECT judgement + ?1 * ?2, note, expected_key, expected_ns, expected_length_ns, key, onset_ns,
        length_ns, velocity, offset_ns, displaced, ring_ns, pitch, timing, length
    FROM reading WHERE judgement <= ?2;";
const COPY_FINDINGS: &str = "
    INSERT INTO finding SELECT judgement + ?1 * ?2, rank, id, count, of, mean_ms, low_ms, high_ms, text
    FROM finding WHERE judgement <= ?2;";
/// Five takes a day.
const SPREAD: &str = "
    INSERT INTO session (uid, player, begun_ms)
        SELECT 'day-' || (id / 5), 1, 1600000000000 + (id / 5) * 86400000 FROM take WHERE id % 5 = 0;
    UPDATE take SET begun_ms = 1600000000000 + (id / 5) * 86400000 + (id % 5) * 300000,
                    session = (SELECT session.id FROM session WHERE uid = 'day-' || (take.id / 5))
    WHERE id >= 5;";

fn main() {
    let folder = tempfile::tempdir().expect("a folder");
    let line = folder.path().join("bench.toml");
    std::fs::write(&line, support::line_text(NOTES, Form::Passes)).expect("room for a line");
    let expected = unroll(&read(&line).expect("a line"), Speed::WRITTEN);
    let mut takes = Vec::new();
    for seed in 0..JUDGED {
        let name = format!("{seed}.mid");
        let habits = format!("late-entries,spread-ms={}", 24.0 - seed as f64 / 20.0);
        let habits: Habits = habits.parse().expect("habits");
        let events = stand_in::play(&expected, &habits, seed as u64);
        support::files::write_own(&folder.path().join(&name), &expected, &events);
        takes.push(name);
    }
    let add = [
        "logbook",
        "add",
        "--logbook",
        "a.sqlite",
        "--player",
        "Mara",
    ]
    .map(String::from);
    let begun = Instant::now();
    run(folder.path(), &[&add[..], &takes].concat());
    println!(
        "{JUDGED} takes of {} notes added from files and judged: {:.1} ms a take",
        expected.notes.len(),
        begun.elapsed().as_secs_f64() * 1000.0 / JUDGED as f64
    );
    multiply(&folder.path().join("a.sqlite"));
    for command in [
        "logbook",
        "progress bench.toml",
        "progress",
        "takes",
        "sessions",
        "rejudge --all",
    ] {
        let args: Vec<String> = command
            .split(' ')
            .chain(["--logbook", "a.sqlite"])
            .map(String::from)
            .collect();
        let runs = if command == "rejudge --all" { 1 } else { 9 };
        let mut times: Vec<Duration> = (0..runs).map(|_| run(folder.path(), &args)).collect();
        times.sort_unstable();
        let ms = |time: Duration| time.as_secs_f64() * 1000.0;
        println!(
            "{command:20} {:9.1} ms at best, {:9.1} ms at the median",
            ms(times[0]),
            ms(times[times.len() / 2])
        );
    }
}

/// The whole process.
fn run(folder: &Path, args: &[String]) -> Duration {
    let begun = Instant::now();
    let status = Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .current_dir(folder)
        .args(args)
        .stdout(Stdio::null())
        .status()
        .expect("leadsman runs");
    let time = begun.elapsed();
    assert!(status.success(), "{args:?}");
    time
}

fn multiply(path: &Path) {
    let logbook = Logbook::open_existing(path).expect("a logbook");
    let db = logbook.db();
    db.execute_batch("BEGIN").expect("a transaction");
    for copy in 1..COPIES as i64 {
        for sql in [COPY, COPY_JUDGEMENTS, COPY_READINGS, COPY_FINDINGS] {
            db.execute(sql, [copy, JUDGED as i64]).expect(sql);
        }
    }
    db.execute_batch(SPREAD).expect("days");
    db.execute_batch("COMMIT; VACUUM; PRAGMA wal_checkpoint(TRUNCATE); ANALYZE")
        .expect("room");
    let count = |sql: &str| {
        db.query_row(sql, [], |row| row.get::<_, i64>(0))
            .expect(sql)
    };
    let takes = count("SELECT count(*) FROM take");
    let size = std::fs::metadata(path).expect("a file").len();
    println!(
        "{takes} takes in {} sessions: {:.1} MB, {:.1} kB a take (its events {:.1} kB)",
        count("SELECT count(*) FROM session"),
        size as f64 / 1e6,
        size as f64 / 1e3 / takes as f64,
        count("SELECT sum(length(head) + length(track)) FROM take") as f64 / 1e3 / takes as f64,
    );
}
