//! A soak: `leadsman play` on a real JACK server for an hour, 20 notes a second, in real time. Memory does not grow, the
//! last click is as exact as the first, and so is the last offset. `tests/soak.sh` runs it.
#![cfg(all(feature = "jack", target_os = "linux"))]

mod support;

use leadsman::click::{ClickTrack, Pattern};
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::unroll;
use leadsman::line::parse::parse;
use leadsman::units::Nanos;
use serde_json::Value;
use std::fmt::Write as _;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};
use support::jack_recorder::Recorder;
use support::jack_server::with_server_for;

const RATE: u32 = 48_000;
const EVERY: Duration = Duration::from_secs(10);
/// What the stand-in is late by, always.
const MEAN_MS: f64 = 7.0;
/// A take's file counts in ticks of less than this.
const TICK_MS: f64 = 0.1;
/// How much the played notes and their readings, which the report needs, may come to.
const GROWTH_KIB: u64 = 4096;

/// Minutes of play.
fn minutes() -> usize {
    let given = std::env::var("LEADSMAN_SOAK_MINUTES").ok();
    given.and_then(|text| text.parse().ok()).unwrap_or(60)
}

/// Sixteenths at 301 quarter notes a minute, 20.07 a second: no beat falls on a whole frame. 75 bars a pass.
fn line_text(minutes: usize) -> String {
    let bar = "E2/16 A2/16 D3/16 G2/16 C3/16 F2/16 B2/16 E3/16 D3/16 A2/16 F2/16 C3/16 G2/16 E2/16 B2/16 F3/16";
    let bars = vec![bar; 75].join(" | ");
    let passes = vec!["0"; minutes].join(", ");
    format!(
        "title = \"The Long Watch\"\nmeter = \"4/4\"\ntempo = 301\n[[section]]\nname = \"A\"\n\
         passes = [{passes}]\nnotes = \"{bars}\"\n"
    )
}

/// One look at the program.
#[derive(Clone, Copy, Debug)]
struct Sample {
    seconds: f64,
    rss_kib: u64,
    clicks: usize,
    off: usize,
}

/// What was seen of a whole take.
struct Soak {
    samples: Vec<Sample>,
    clicks: usize,
    off: usize,
    xruns: u64,
}

fn start_leadsman(line: &Path, take: &Path) -> Child {
    Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .env("XDG_CONFIG_HOME", env!("CARGO_TARGET_TMPDIR"))
        .arg("play")
        .arg(line)
        .args([
            "--backend",
            "jack",
            "--audio",
            "soak-recorder",
            "--no-logbook",
        ])
        .args(["--stand-in", &format!("exact,mean-ms={MEAN_MS}"), "--take"])
        .arg(take)
        .stdout(Stdio::null())
        .spawn()
        .expect("leadsman runs")
}

fn rss_kib(pid: u32) -> Option<u64> {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

/// The clicks as they are heard, each compared with the tempo map.
struct Clicks<'a> {
    frames: &'a [u64],
    first: Option<u64>,
    heard: usize,
    off: usize,
}

impl Clicks<'_> {
    fn take(&mut self, recorder: &mut Recorder) {
        for onset in recorder.onsets() {
            let first = *self.first.get_or_insert(onset.frame);
            // The server counts frames in 32 bits: a day.
            let since = (onset.frame as u32).wrapping_sub(first as u32);
            let right = self.frames.get(self.heard).map(|at| at - self.frames[0]);
            self.off += usize::from(right != Some(u64::from(since)));
            self.heard += 1;
        }
    }
}

/// Watches until the program ends.
fn watch(mut leadsman: Child, recorder: &mut Recorder, frames: &[u64], report: &Path) -> Soak {
    let begun = Instant::now();
    let mut clicks = Clicks {
        frames,
        first: None,
        heard: 0,
        off: 0,
    };
    let mut samples: Vec<Sample> = Vec::new();
    let status = loop {
        clicks.take(recorder);
        if begun.elapsed() >= EVERY * (samples.len() as u32 + 1) {
            samples.extend(rss_kib(leadsman.id()).map(|rss_kib| Sample {
                seconds: begun.elapsed().as_secs_f64(),
                rss_kib,
                clicks: clicks.heard,
                off: clicks.off,
            }));
            write_report(&samples, report);
        }
        if let Some(status) = leadsman.try_wait().expect("leadsman can be waited for") {
            break status;
        }
        sleep(Duration::from_millis(20));
    };
    assert!(status.success(), "leadsman play failed: {status}");
    sleep(Duration::from_millis(200));
    clicks.take(recorder);
    Soak {
        samples,
        clicks: clicks.heard,
        off: clicks.off,
        xruns: recorder.xruns(),
    }
}

fn write_report(samples: &[Sample], report: &Path) {
    let mut csv = String::from("seconds,rss_kib,clicks,clicks_off\n");
    for sample in samples {
        let Sample {
            seconds,
            rss_kib,
            clicks,
            off,
        } = sample;
        let _ = writeln!(csv, "{seconds:.1},{rss_kib},{clicks},{off}");
    }
    std::fs::write(report, csv).expect("a folder to write in");
}

/// The distances of the reported offsets from the stand-in's, in ms, and how many notes there are.
fn distances(line: &Path, take: &Path) -> (Vec<f64>, usize) {
    let output = Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .env("XDG_CONFIG_HOME", env!("CARGO_TARGET_TMPDIR"))
        .arg("check")
        .args([line, take])
        .arg("--json")
        .output()
        .expect("leadsman runs");
    let report: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let notes = report["notes"].as_array().expect("notes");
    let offsets = notes.iter().filter_map(|note| note["offset_ms"].as_f64());
    (
        offsets.map(|ms| (ms - MEAN_MS).abs()).collect(),
        notes.len(),
    )
}

fn median_rss(samples: &[Sample]) -> u64 {
    let mut rss: Vec<u64> = samples.iter().map(|sample| sample.rss_kib).collect();
    rss.sort_unstable();
    rss[rss.len() / 2]
}

#[test]
#[ignore = "an hour in real time: sh tests/soak.sh"]
fn an_hour_of_play_grows_nothing_and_drifts_nowhere() {
    let minutes = minutes();
    let limit = Duration::from_secs(60 * minutes as u64 + 600);
    with_server_for(
        "an_hour_of_play_grows_nothing_and_drifts_nowhere",
        256,
        limit,
        || soak(minutes),
    );
}

fn soak(minutes: usize) {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR"));
    let file = |name: &str| folder.join(format!("soak-{}-{name}", std::process::id()));
    let (line_file, take) = (file("line.toml"), file("take.mid"));
    let text = line_text(minutes);
    std::fs::write(&line_file, &text).expect("a folder to write in");
    let expected = unroll(
        &parse(&text, "line.toml").expect("a valid line"),
        Speed::WRITTEN,
    );
    let track = ClickTrack::new(&expected, 1, Pattern::Beats);
    let frames: Vec<u64> = track
        .frames(track.origin_frame(Nanos::ZERO, RATE), RATE)
        .collect();
    let mut recorder = Recorder::start("soak-recorder");
    let leadsman = start_leadsman(&line_file, &take);
    let soak = watch(leadsman, &mut recorder, &frames, &file("samples.csv"));
    let (distances, notes) = distances(&line_file, &take);
    let worst = distances.iter().copied().fold(0.0, f64::max);
    // What is touched for the first time in the first tenth is no growth.
    let (early, late) = soak.samples.split_at(soak.samples.len() / 10 + 1);
    let (first, last) = (median_rss(early), median_rss(&late[late.len() / 2..]));
    println!(
        "{notes} notes, {} matched, worst offset error {worst:.4} ms, last {:.4} ms; {} clicks of {}, {} off their \
         frame; {} xruns; resident {first} KiB in the first tenth, {last} KiB in the second half",
        distances.len(),
        distances.last().copied().unwrap_or(f64::NAN),
        soak.clicks,
        frames.len(),
        soak.off,
        soak.xruns,
    );
    assert_eq!(distances.len(), notes);
    assert!(worst <= TICK_MS, "{worst} ms");
    assert!(last <= first + GROWTH_KIB, "{first} KiB, then {last} KiB");
    if soak.xruns == 0 {
        assert_eq!((soak.clicks, soak.off), (frames.len(), 0));
    }
    let _ = [line_file, take].map(std::fs::remove_file);
}
