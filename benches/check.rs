//! `leadsman check` as a process, from the files to the report: time and peak memory at growing lengths.
//!
//! `cargo bench --bench check` prints a table. The aims, on one core: 1,000,000 expected and played notes under 2 s and
//! 500 MB, growing linearly; 200 notes under 20 ms. The time is that of the whole process, the best and the median
//! of several runs. The memory is the peak resident set (`VmHWM`), read from `/proc` every 0.2 ms of a run of
//! its own; elsewhere than on Linux it is left out. `-- NAME` measures only the takes with NAME in their name.
#![allow(missing_docs)]

mod support;

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::line::read::read;
use leadsman::played::TimedMessage;
use leadsman::units::Nanos;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use support::Form;

struct Case {
    name: String,
    notes: usize,
    line: PathBuf,
    take: PathBuf,
    options: &'static [&'static str],
}

/// What is asked of a take: who plays, where it comes from, what is printed.
struct Kind {
    name: &'static str,
    form: Form,
    playing: fn(&Expected) -> Vec<TimedMessage>,
    origin: Origin,
    options: &'static [&'static str],
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Origin {
    Own,
    Foreign,
}

const fn kind(name: &'static str, playing: fn(&Expected) -> Vec<TimedMessage>) -> Kind {
    Kind {
        name,
        form: Form::Passes,
        playing,
        origin: Origin::Own,
        options: &[],
    }
}

fn kinds() -> [Kind; 8] {
    let steady: fn(&Expected) -> Vec<TimedMessage> = |line| support::take(line, "steady");
    let patchy: fn(&Expected) -> Vec<TimedMessage> = |line| support::take(line, "patchy");
    [
        kind("steady", steady),
        kind("patchy", patchy),
        kind("sloppy", |line| support::take(line, support::SLOPPY)),
        kind("displaced phrases", support::displaced_phrases),
        Kind {
            form: Form::Bars,
            ..kind("patchy, bars written out", patchy)
        },
        Kind {
            origin: Origin::Foreign,
            ..kind("steady, foreign", steady)
        },
        Kind {
            origin: Origin::Foreign,
            ..kind("unrelated, foreign", |line| support::unrelated(line, 1))
        },
        Kind {
            options: &["--json"],
            ..kind("patchy, --json", patchy)
        },
    ]
}

fn prepare(folder: &Path, kind: &Kind, notes: usize) -> Case {
    let stem = format!("{}-{notes}", kind.name.replace([' ', ','], "_"));
    let line = folder.join(format!("{stem}.toml"));
    let take = folder.join(format!("{stem}.mid"));
    std::fs::write(&line, support::line_text(notes, kind.form)).expect("room for a line");
    let expected = unroll(&read(&line).expect("a line"), Speed::WRITTEN);
    let events = (kind.playing)(&expected);
    match kind.origin {
        Origin::Own => support::files::write_own(&take, &expected, &events),
        Origin::Foreign => {
            let bytes = support::files::foreign(&events, Nanos::from_ms(7321));
            std::fs::write(&take, bytes).expect("room for a take");
        }
    }
    Case {
        name: kind.name.to_string(),
        notes: expected.notes.len(),
        line,
        take,
        options: kind.options,
    }
}

fn check(case: &Case) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_leadsman"));
    command
        .arg("check")
        .args([&case.line, &case.take])
        .args(case.options)
        .stdout(Stdio::null())
        .stderr(Stdio::null());
    command
}

/// The time of the whole process.
fn time(case: &Case) -> Duration {
    let begun = Instant::now();
    let status = check(case).status().expect("leadsman runs");
    let time = begun.elapsed();
    // 1: a take of something else, which is an answer too.
    assert!(
        matches!(status.code(), Some(0 | 1)),
        "{}: {status}",
        case.name
    );
    time
}

/// Peak resident memory in MB (10⁶ bytes).
fn peak_memory(case: &Case) -> Option<f64> {
    let mut child = check(case).spawn().expect("leadsman runs");
    let status = format!("/proc/{}/status", child.id());
    let mut peak = 0.0;
    while child.try_wait().expect("a child").is_none() {
        peak = high_water_kb(&status).map_or(peak, |now| now.max(peak));
        std::thread::sleep(Duration::from_micros(200));
    }
    (peak > 0.0).then_some(peak * 1024.0 / 1e6)
}

/// The largest so far of a process that runs, in kB.
fn high_water_kb(status: &str) -> Option<f64> {
    let text = std::fs::read_to_string(status).ok()?;
    let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.split_whitespace().next()?.parse().ok()
}

fn measure(case: &Case, runs: usize) {
    let mut times: Vec<Duration> = (0..runs).map(|_| time(case)).collect();
    times.sort_unstable();
    let ms = |time: Duration| time.as_secs_f64() * 1e3;
    let memory = peak_memory(case).map_or("-".to_string(), |mb| format!("{mb:.0}"));
    println!(
        "{:<26} {:>9} {:>10.1} {:>10.1} {:>8} {:>12.2}",
        case.name,
        case.notes,
        ms(times[0]),
        ms(times[times.len() / 2]),
        memory,
        1e3 * ms(times[0]) / case.notes as f64
    );
}

fn main() {
    // Only `cargo bench` asks for figures; as a test, one short take is checked.
    let asked = std::env::args().any(|argument| argument == "--bench");
    let sizes: &[(usize, usize)] = if asked {
        &[(200, 30), (10_000, 9), (100_000, 5), (1_000_000, 3)]
    } else {
        &[(200, 1)]
    };
    let folder = tempfile::tempdir().expect("a folder for takes");
    println!(
        "{:<26} {:>9} {:>10} {:>10} {:>8} {:>12}",
        "check", "notes", "best ms", "median ms", "peak MB", "µs a note"
    );
    let named: Vec<String> = std::env::args()
        .skip(1)
        .filter(|argument| !argument.starts_with('-'))
        .collect();
    let chosen =
        |kind: &Kind| named.is_empty() || named.iter().any(|name| kind.name.contains(name));
    for kind in kinds().into_iter().filter(chosen) {
        for &(notes, runs) in sizes {
            let case = prepare(folder.path(), &kind, notes);
            measure(&case, runs);
            // A million notes are tens of megabytes.
            let _ = std::fs::remove_file(&case.take);
        }
    }
}
