//! `leadsman check` over a folder of takes as a teacher has it: 10,000 takes of 200 notes, as text, JSON Lines and CSV, and
//! `leadsman compare` over the same as twenty players.
//!
//! `cargo bench --bench teacher` prints a table. The aim, on two cores: under 60 s for all of them, memory that does not
//! grow with the number of takes. Time is that of the whole process, output written to a file; peak resident set (`VmHWM`)
//! is read from `/proc` on Linux. `-- 1000` measures as many takes.
#![allow(missing_docs)]

mod support;

use leadsman::expected::Expected;
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::unroll;
use leadsman::line::read::read;
use std::fs::File;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;
use support::Form;

const PLAYERS: [&str; 4] = [
    "steady",
    "late-entries,spread-ms=14",
    "rushed-upbeats",
    support::SLOPPY,
];
const FOLDERS: usize = 20;

/// Twenty folders, the players taking turns, each take with chance of its own.
fn write_takes(folder: &Path, expected: &Expected, count: usize) {
    for take in 0..count {
        let player = take % FOLDERS;
        let of_player = folder.join(format!("player-{player:02}"));
        std::fs::create_dir_all(&of_player).expect("a folder");
        let habits = PLAYERS[player % PLAYERS.len()].parse().expect("habits");
        let events = leadsman::stand_in::play(expected, &habits, take as u64);
        let file = of_player.join(format!("take-{take:05}.mid"));
        support::files::write_own(&file, expected, &events);
    }
}

struct Used {
    seconds: f64,
    peak_mb: f64,
    written_mb: f64,
}

fn run(folder: &Path, arguments: &[&str]) -> Used {
    let out = folder.join("out");
    let begun = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .current_dir(folder)
        .args(arguments)
        .stdout(File::create(&out).expect("a file"))
        .stderr(Stdio::null())
        .spawn()
        .expect("leadsman runs");
    let status = format!("/proc/{}/status", child.id());
    let mut peak_kb: f64 = 0.0;
    let ended = loop {
        if let Some(ended) = child.try_wait().expect("a child") {
            break ended;
        }
        peak_kb = peak(&status).unwrap_or(0.0).max(peak_kb);
        std::thread::sleep(std::time::Duration::from_millis(1));
    };
    let seconds = begun.elapsed().as_secs_f64();
    assert!(ended.success(), "{arguments:?}: {ended}");
    Used {
        seconds,
        peak_mb: peak_kb * 1024.0 / 1e6,
        written_mb: out.metadata().expect("a file").len() as f64 / 1e6,
    }
}

fn peak(status: &str) -> Option<f64> {
    let text = std::fs::read_to_string(status).ok()?;
    let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"))?;
    line.split_whitespace().next()?.parse().ok()
}

fn measure(folder: &Path, count: usize) {
    let takes = folder.join(format!("takes-{count}"));
    let line = folder.join("line.toml");
    let expected = unroll(&read(&line).expect("a line"), Speed::WRITTEN);
    write_takes(&takes, &expected, count);
    let name = format!("takes-{count}");
    let players: Vec<String> = (0..FOLDERS.min(count))
        .map(|player| format!("{name}/player-{player:02}"))
        .collect();
    let compared: Vec<&str> = ["compare", "line.toml"]
        .into_iter()
        .chain(players.iter().map(String::as_str))
        .collect();
    let checked = |options: &[&'static str]| -> Vec<String> {
        let all = ["check", "line.toml", name.as_str()];
        all.iter()
            .chain(options)
            .map(|word| word.to_string())
            .collect()
    };
    let runs = [
        ("text", checked(&[])),
        ("--json", checked(&["--json"])),
        ("--json --summary", checked(&["--json", "--summary"])),
        ("--csv", checked(&["--csv"])),
        (
            "compare",
            compared.iter().map(|word| word.to_string()).collect(),
        ),
    ];
    for (what, arguments) in runs {
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let used = run(folder, &arguments);
        println!(
            "{what:<18} {count:>7} {:>8.2} {:>10.3} {:>8.1} {:>11.1}",
            used.seconds,
            1e3 * used.seconds / count as f64,
            used.peak_mb,
            used.written_mb
        );
    }
    std::fs::remove_dir_all(&takes).expect("takes that are there");
}

fn main() {
    // Only `cargo bench` asks for figures; as a test, a few takes are run through.
    let asked = std::env::args().any(|argument| argument == "--bench");
    let given = std::env::args()
        .skip(1)
        .find_map(|argument| argument.parse().ok());
    let counts = match (given, asked) {
        (Some(count), _) => vec![count],
        (None, true) => vec![1, 100, 1_000, 10_000],
        (None, false) => vec![4],
    };
    let folder = tempfile::tempdir().expect("a folder for takes");
    let line = support::line_text(200, Form::Passes);
    std::fs::write(folder.path().join("line.toml"), line).expect("room for a line");
    println!(
        "{:<18} {:>7} {:>8} {:>10} {:>8} {:>11}",
        "", "takes", "s", "ms a take", "peak MB", "written MB"
    );
    for count in counts {
        measure(folder.path(), count);
    }
}
