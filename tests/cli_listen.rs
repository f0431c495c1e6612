//! `leadsman listen`, as a program.

mod takes;

use leadsman::click::{ClickTrack, Level, Pattern, Render, Stereo};
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::unroll;
use leadsman::line::parse::parse;
use leadsman::tone::LineAndClick;
use leadsman::units::Nanos;
use leadsman::wav::Depth;
use std::sync::Arc;
use std::time::{Duration, Instant};
use takes::Bench;

/// A bar a second.
const LINE: &str = "title = \"Short Crossing\"\nmeter = \"4/4\"\ntempo = 240\n[[section]]\nname = \"A\"\npasses = [0, 2]\n\
     chords = \"Am7@1 D7@3 | -\"\nnotes = \"E1/4 A1/8 C2/8 D2/4 G2/4 | A1/4 r/8 C2/8 E2/4 G2/4\"";

/// Frames and samples of a WAV file of 48 kHz, mono.
fn samples(bench: &Bench, name: &str) -> Vec<i32> {
    let reader = hound::WavReader::open(bench.path(name)).expect("a WAV file");
    let spec = reader.spec();
    assert_eq!((spec.channels, spec.sample_rate), (1, 48_000));
    reader
        .into_samples()
        .map(|sample| sample.expect("a sample"))
        .collect()
}

#[test]
fn the_wav_file_is_to_the_sample_what_the_audio_callback_gets() {
    let bench = Bench::new(LINE);
    let line = parse(LINE, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
    let expected = Arc::new(unroll(&line, Speed::WRITTEN));
    let clicks = ClickTrack::new(&expected, 1, Pattern::Beats);
    // As `listen` opens a session: a second of silence first, here in blocks of 64 frames.
    let lead = Nanos::from_ms(1000);
    let mut render = LineAndClick::new(expected, clicks, lead, Level::default());
    render.prepare(48_000);
    for (bits, depth) in [("16", Depth::Sixteen), ("24", Depth::TwentyFour)] {
        let mut heard = render.clone();
        let name = format!("line-{bits}.wav");
        let ran = bench.run(&["listen", "line.toml", "--wav", &name, "--bits", bits]);
        assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
        assert_eq!(ran.out, format!("{name}: 5.1 seconds\n"));
        let written = samples(&bench, &name);
        assert_eq!(written.len(), 48 * 5100);
        let (mut block, mut right) = ([0.0; 64], [0.0; 64]);
        for (index, part) in written.chunks(64).enumerate() {
            let first = 48_000 + 64 * index as u64;
            heard.render(first, Stereo::new(&mut block, &mut right));
            let same = part
                .iter()
                .zip(block)
                .all(|(sample, heard)| *sample == depth.integer(heard));
            assert!(same, "{bits} bits, frames {first} on");
        }
    }
}

#[test]
fn bars_speed_count_in_and_silent_bars_shape_the_file() {
    let bench = Bench::new(LINE);
    let frames = |name: &str, options: &[&str]| {
        let ran = bench.run(&[&["listen", "line.toml", "--wav", name], options].concat());
        assert_eq!(ran.code, Some(0), "{}", ran.err);
        samples(&bench, name)
    };
    assert_eq!(frames("a.wav", &["--count-in", "0"]).len(), 48 * 4100);
    assert_eq!(frames("b.wav", &["--speed", "50"]).len(), 48 * 10_100);
    assert_eq!(frames("c.wav", &["--bars", "2"]).len(), 48 * 3100);
    let (loud, soft) = (frames("d.wav", &[]), frames("e.wav", &["--level", "-30"]));
    let peak = |samples: &[i32]| samples.iter().map(|sample| sample.abs()).max();
    assert!(peak(&loud) > peak(&soft).map(|peak| 3 * peak));
    // Bar 2 without the click: its first frame has the note's soft beginning only.
    let silent = frames("f.wav", &["--silent", "1:1"]);
    assert!(silent[2 * 48_000] < loud[2 * 48_000] / 2);
    assert_eq!(silent[..2 * 48_000], loud[..2 * 48_000]);
}

#[test]
fn a_file_that_is_there_is_written_over_only_with_force() {
    let bench = Bench::new(LINE);
    bench.write("mine.wav", b"mine");
    let refused = bench.run(&["listen", "line.toml", "--wav", "mine.wav"]);
    assert_eq!(refused.code, Some(2));
    assert!(
        refused.err.contains("mine.wav is there already"),
        "{}",
        refused.err
    );
    assert_eq!(
        std::fs::read(bench.path("mine.wav")).expect("a file"),
        b"mine"
    );
    let forced = bench.run(&["listen", "line.toml", "--wav", "mine.wav", "--force"]);
    assert_eq!(forced.code, Some(0), "{}", forced.err);
    assert!(
        samples(&bench, "mine.wav")
            .iter()
            .any(|sample| *sample != 0)
    );
    let nowhere = bench.run(&["listen", "line.toml", "--wav", "no/such/folder.wav"]);
    assert_eq!(nowhere.code, Some(2));
    assert!(
        nowhere.err.contains("no/such/folder.wav cannot be written"),
        "{}",
        nowhere.err
    );
    let alone = bench.run(&["listen", "line.toml", "--force"]);
    assert_eq!(alone.code, Some(2), "--force is about --wav");
}

#[test]
fn without_sound_it_runs_in_real_time_and_names_bars_and_chords() {
    let bench = Bench::new(LINE);
    let begun = Instant::now();
    let ran = bench.run(&[
        "listen",
        "line.toml",
        "--backend",
        "silent",
        "--count-in",
        "0",
        "--speed",
        "200",
    ]);
    // A second of silence, then four bars of half a second.
    assert!(begun.elapsed() >= Duration::from_secs(3));
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
    let bars = "A, pass 1\n  bar 1   Am7 D7\n  bar 2\nA, pass 2\n  bar 1\n  bar 2\n";
    assert!(ran.out.ends_with(bars), "{}", ran.out);
    assert!(
        ran.out
            .starts_with("Short Crossing · quarter = 480 (200 % of 240)\nno sound"),
        "{}",
        ran.out
    );
}

#[cfg(unix)]
#[test]
fn ctrl_c_stops_at_once() {
    use std::io::{BufRead, BufReader};
    use std::process::{Command, Stdio};
    let bench = Bench::new(LINE);
    let mut child = Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .env("XDG_CONFIG_HOME", env!("CARGO_TARGET_TMPDIR"))
        .current_dir(bench.dir.path())
        .args([
            "listen",
            "line.toml",
            "--backend",
            "silent",
            "--speed",
            "10",
        ])
        .stdout(Stdio::piped())
        .spawn()
        .expect("a program that runs");
    let mut out = BufReader::new(child.stdout.take().expect("its output"));
    let mut line = String::new();
    while line != "\n" {
        line.clear();
        assert!(out.read_line(&mut line).expect("text") > 0, "it ended");
    }
    let sent = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status();
    assert!(sent.expect("kill").success());
    // It would go on for 50 s.
    let asked = Instant::now();
    assert_eq!(child.wait().expect("an end").code(), Some(0));
    assert!(asked.elapsed() < Duration::from_secs(10));
}
