//! `listen` on a real JACK server: another client records it, and each click and each note begins on its frame.
#![cfg(feature = "jack")]

mod support;

use leadsman::click::{ClickTrack, Pattern};
use leadsman::clock::frames::frame_at;
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::unroll;
use leadsman::line::parse::parse;
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::Duration;
use support::jack_recorder::{Onset, Recorder};
use support::jack_server::with_server;

const RATE: u32 = 48_000;
/// Clicks on the beats, short notes between them, silence between all: a beginning can be seen.
const LINE: &str = "title = \"Between the Bollards\"\nmeter = \"4/4\"\ntempo = 113\n[[section]]\nname = \"A\"\n\
     passes = [0, 5]\nnotes = \"r/8 E1/8' r/8 A1/8' r/8 D2/8' r/8 C3/8'> | r/8 G2/8' r/8 F1/8' r/8 x@A/8 r/8 A1/8'?\"";

/// Frames of all clicks and notes since bar 1 beat 1.
fn beginnings() -> Vec<i64> {
    let line = parse(LINE, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
    let expected = unroll(&line, Speed::WRITTEN);
    let clicks = ClickTrack::new(&expected, 1, Pattern::Beats);
    let times = clicks.clicks().iter().map(|click| click.at);
    let times = times.chain(expected.notes.iter().map(|note| note.onset));
    let mut frames: Vec<i64> = times.map(|at| frame_at(at, RATE)).collect();
    frames.sort_unstable();
    frames
}

/// What is recorded, and whether the server lost a block meanwhile.
fn record(line: &Path) -> (Vec<Onset>, bool) {
    let mut recorder = Recorder::start("listen-recorder");
    let mut leadsman = Command::new(env!("CARGO_BIN_EXE_leadsman"))
        .env("XDG_CONFIG_HOME", env!("CARGO_TARGET_TMPDIR"))
        .arg("listen")
        .arg(line)
        .args(["--backend", "jack", "--audio", "listen-recorder"])
        .stdout(Stdio::null())
        .spawn()
        .expect("leadsman runs");
    let mut onsets = Vec::new();
    let status = loop {
        onsets.extend(recorder.onsets());
        if let Some(status) = leadsman.try_wait().expect("leadsman can be waited for") {
            break status;
        }
        sleep(Duration::from_millis(2));
    };
    assert!(status.success(), "leadsman listen failed: {status}");
    onsets.extend(recorder.onsets());
    (onsets, recorder.xruns() > 0)
}

#[test]
fn every_click_and_note_of_listen_begins_on_its_frame() {
    with_server(
        "every_click_and_note_of_listen_begins_on_its_frame",
        64,
        || {
            let folder = tempfile::tempdir().expect("a temporary folder");
            let line = folder.path().join("line.toml");
            std::fs::write(&line, LINE).expect("a folder to write in");
            let wanted = beginnings();
            for _ in 0..4 {
                let (onsets, disturbed) = record(&line);
                let first = onsets.first().map_or(0, |onset| onset.frame as i64);
                let heard: Vec<i64> = onsets
                    .iter()
                    .map(|o| o.frame as i64 - first + wanted[0])
                    .collect();
                if heard == wanted {
                    println!("{} beginnings, each on its frame", heard.len());
                    return;
                }
                // A server that lost a block because the machine was busy proves nothing: once more.
                assert!(disturbed, "{heard:?}\nin place of\n{wanted:?}");
            }
            panic!("the machine is too busy for a JACK server: four runs lost blocks");
        },
    );
}
