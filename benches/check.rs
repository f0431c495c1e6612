//! `leadsman check` as a process, from the files to the report: time and peak memory at growing lengths.
//!
//! `cargo bench --bench check` prints a table. The aims, on one core: 1,000,000 expected and played notes under 2 s and
//! 500 MB, growing linearly; 200 notes under 20 ms. The time is that of the whole process, the best and the median of
//! several runs. Processor time (to 10 ms) and peak resident set (`VmHWM`) are read from `/proc` every 0.2 ms of a run of
//! their own; elsewhere than on Linux they are 0. `-- NAME` measures only the takes with NAME in their name.
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
    command.env("XDG_CONFIG_HOME", env!("CARGO_TARGET_TMPDIR"));
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

/// What a process used.
#[derive(Clone, Copy, Default)]
struct Used {
    /// The largest resident set in kB.
    peak_kb: f64,
    /// In hundredths of a second, the unit of `/proc` on Linux.
    cpu: f64,
}

fn used(case: &Case) -> Used {
    let mut child = check(case).spawn().expect("leadsman runs");
    let proc = format!("/proc/{}", child.id());
    let mut used = Used::default();
    while child.try_wait().expect("a child").is_none() {
        used.peak_kb = peak_kb(&proc).map_or(used.peak_kb, |now| now.max(used.peak_kb));
        used.cpu = cpu(&proc).unwrap_or(used.cpu);
        std::thread::sleep(Duration::from_micros(200));
    }
    used
}

fn peak_kb(proc: &str) -> Option<f64> {
    let text = std::fs::read_to_string(format!("{proc}/status")).ok()?;
    let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.split_whitespace().next()?.parse().ok()
}

/// User and system time: the 12th and 13th field after the name, which ends with the last bracket (man 5 proc_pid_stat).
fn cpu(proc: &str) -> Option<f64> {
    let text = std::fs::read_to_string(format!("{proc}/stat")).ok()?;
    let fields = text.rsplit_once(')')?.1.split_whitespace();
    let times: Vec<f64> = fields
        .skip(11)
        .take(2)
        .filter_map(|field| field.parse().ok())
        .collect();
    (times.len() == 2).then(|| times.iter().sum())
}

fn measure(case: &Case, runs: usize) {
    let mut times: Vec<Duration> = (0..runs).map(|_| time(case)).collect();
    times.sort_unstable();
    let ms = |time: Duration| time.as_secs_f64() * 1e3;
    let used = used(case);
    println!(
        "{:<26} {:>9} {:>10.1} {:>10.1} {:>8.0} {:>8.1} {:>10.2}",
        case.name,
        case.notes,
        ms(times[0]),
        ms(times[times.len() / 2]),
        10.0 * used.cpu,
        used.peak_kb * 1024.0 / 1e6,
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
        "{:<26} {:>9} {:>10} {:>10} {:>8} {:>8} {:>10}",
        "check", "notes", "best ms", "median ms", "cpu ms", "peak MB", "µs a note"
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
