//! What goes wrong in the middle of a take on a real JACK server: the player's program, the server, lost blocks, a flood.
//! What can go on goes on; what cannot is kept, with one sentence that says what is gone.
#![cfg(feature = "jack")]

mod support;

use leadsman::click::{ClickTrack, Pattern};
use leadsman::clock::frames::frame_at;
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::line::parse::parse;
use leadsman::units::Nanos;
use serde_json::Value;
use std::ops::Range;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};
use support::jack_flood::Flood;
use support::jack_player::{Player, Stroke};
use support::jack_recorder::{Onset, Recorder};
use support::jack_server::{SecondServer, kill_server, stop_server, with_server};

const RATE: u32 = 48_000;
const PERIOD: u32 = 128;
/// A bar a second, four notes a bar.
const LINE: &str = r#"
title = "Line Ashore"
meter = "4/4"
tempo = 240
[[section]]
name = "A"
passes = [0, 0, 0, 0, 0]
notes = "E2/4 G2/4 A2/4 B2/4 | D3/4 B2/4 A2/4 G2/4"
"#;
const LENGTH_FRAMES: i64 = 9600;
const TOLERANCE_MS: f64 = 0.1;

/// A take being played.
struct Take {
    line: PathBuf,
    file: PathBuf,
    expected: Expected,
    track: ClickTrack,
    recorder: Recorder,
    onsets: Vec<Onset>,
    leadsman: Child,
}

impl Take {
    /// Starts `leadsman play` on the port of a player that is there already.
    fn start(folder: &Path) -> Take {
        let (line, file) = (folder.join("line.toml"), folder.join("take.mid"));
        std::fs::write(&line, LINE).expect("a folder to write in");
        let expected = unroll(
            &parse(LINE, "line.toml").expect("a valid line"),
            Speed::WRITTEN,
        );
        let recorder = Recorder::start("fault-recorder");
        let mut play = Command::new(env!("CARGO_BIN_EXE_leadsman"));
        play.env("XDG_CONFIG_HOME", env!("CARGO_TARGET_TMPDIR"));
        play.arg("play")
            .arg(&line)
            .args(["--backend", "jack", "--no-logbook"]);
        play.args(["--midi", "fault-player", "--audio", "fault-recorder"]);
        let leadsman = play
            .arg("--take")
            .arg(&file)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("leadsman runs");
        Take {
            track: ClickTrack::new(&expected, 1, Pattern::Beats),
            line,
            file,
            expected,
            recorder,
            onsets: Vec::new(),
            leadsman,
        }
    }

    /// The server's frame of bar 1 beat 1; waits for the first click.
    fn origin(&mut self) -> i64 {
        let begun = Instant::now();
        while self.onsets.is_empty() {
            self.onsets.extend(self.recorder.onsets());
            assert!(begun.elapsed() < Duration::from_secs(20), "no click");
            sleep(Duration::from_millis(1));
        }
        self.onsets[0].frame as i64 + frame_at(-self.track.start(), RATE)
    }

    /// Lets the player play these notes exactly. The last one is held if there is nobody to end it.
    fn play(&mut self, player: &mut Player, notes: Range<usize>) {
        let origin = self.origin();
        let mut strokes = Vec::new();
        for note in &self.expected.notes[notes] {
            let key = note.key.expect("no dead notes here").0;
            let on = origin + frame_at(note.onset, RATE);
            let stroke = |at: i64, bytes| Stroke {
                frame: at as u64,
                bytes,
            };
            strokes.push(stroke(on, [0x90, key, 90]));
            strokes.push(stroke(on + LENGTH_FRAMES, [0x80, key, 0]));
        }
        player.schedule(strokes);
    }

    /// Waits until so much of the line has been heard.
    fn wait_until(&mut self, at: Nanos, player: &Player) {
        let until = self.origin() + frame_at(at, RATE);
        let begun = Instant::now();
        while (player.now() as i64) < until {
            assert!(
                begun.elapsed() < Duration::from_secs(60),
                "time stands still"
            );
            sleep(Duration::from_millis(1));
        }
    }

    fn end(mut self) -> Ended {
        let begun = Instant::now();
        while self.leadsman.try_wait().expect("a child").is_none() {
            self.onsets.extend(self.recorder.onsets());
            if begun.elapsed() > Duration::from_secs(60) {
                let _ = self.leadsman.kill();
                panic!("leadsman hangs");
            }
            sleep(Duration::from_millis(1));
        }
        let Output {
            status,
            stdout,
            stderr,
        } = self.leadsman.wait_with_output().expect("leadsman ends");
        let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
        let ended = Ended {
            code: status.code(),
            out: text(&stdout),
            err: text(&stderr),
            line: self.line,
            file: self.file,
            onsets: self.onsets,
            track: self.track,
            xruns: self.recorder.xruns(),
        };
        assert!(!ended.err.contains("panicked"), "{}", ended.err);
        ended
    }

    /// [`Take::end`] when the server is gone, which no client of it can leave.
    fn end_without_server(self) -> Ended {
        let (line, file, track) = (self.line, self.file, self.track);
        std::mem::forget(self.recorder);
        let output = wait_for(self.leadsman);
        let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
        let ended = Ended {
            code: output.status.code(),
            out: text(&output.stdout),
            err: text(&output.stderr),
            line,
            file,
            onsets: Vec::new(),
            track,
            xruns: 0,
        };
        assert!(!ended.err.contains("panicked"), "{}", ended.err);
        ended
    }
}

fn wait_for(mut child: Child) -> Output {
    let begun = Instant::now();
    while child.try_wait().expect("a child").is_none() {
        if begun.elapsed() > Duration::from_secs(30) {
            let _ = child.kill();
            panic!("leadsman hangs");
        }
        sleep(Duration::from_millis(5));
    }
    child.wait_with_output().expect("leadsman ends")
}

/// A take that is over.
struct Ended {
    code: Option<i32>,
    out: String,
    err: String,
    line: PathBuf,
    file: PathBuf,
    onsets: Vec<Onset>,
    track: ClickTrack,
    xruns: u64,
}

impl Ended {
    fn check(&self, json: bool) -> String {
        let mut check = Command::new(env!("CARGO_BIN_EXE_leadsman"));
        check.env("XDG_CONFIG_HOME", env!("CARGO_TARGET_TMPDIR"));
        check.arg("check").arg(&self.line).arg(&self.file);
        let output = check
            .args(json.then_some("--json"))
            .output()
            .expect("leadsman runs");
        String::from_utf8_lossy(&output.stdout).into_owned()
    }

    fn report(&self) -> Value {
        serde_json::from_str(&self.check(true)).expect("JSON")
    }

    /// Exit code 1, one sentence with `what` on standard error, a summary, and a file that is read to the same one.
    fn is_kept(&self, what: &str) {
        assert_eq!(self.code, Some(1), "{}", self.err);
        assert!(self.err.contains(what), "{}", self.err);
        assert_eq!(self.err.lines().count(), 1, "{}", self.err);
        let summary = |text: &str| {
            let mut lines = text.lines();
            lines
                .find(|line| line.starts_with("Notes "))
                .map(String::from)
        };
        assert!(summary(&self.out).is_some(), "{}", self.out);
        assert_eq!(summary(&self.check(false)), summary(&self.out));
    }

    /// Whether these notes were read exactly as they were played.
    fn are_exact(&self, report: &Value, notes: Range<usize>) -> Result<(), String> {
        for index in notes {
            let note = &report["notes"][index];
            let offset = note["offset_ms"].as_f64().unwrap_or(f64::NAN);
            if offset.abs() > TOLERANCE_MS || note["pitch"] != "right" || offset.is_nan() {
                return Err(format!("note {index}: {note}\n{}", self.out));
            }
        }
        Ok(())
    }

    /// How many clicks do not sit on their frames.
    fn clicks_off(&self) -> usize {
        let frames: Vec<u64> = self
            .track
            .frames(self.track.origin_frame(Nanos::ZERO, RATE), RATE)
            .collect();
        let first = self.onsets.first().map_or(0, |onset| onset.frame);
        let on = |frame: &u64| {
            let wanted = first + frame - frames[0];
            self.onsets.iter().any(|onset| onset.frame == wanted)
        };
        frames.iter().filter(|frame| !on(frame)).count()
    }
}

/// Runs `attempt` until it succeeds or fails on a server that lost no block.
fn undisturbed(mut attempt: impl FnMut(&Path) -> Result<(), (String, bool)>) {
    for _ in 0..4 {
        let folder = tempfile::tempdir().expect("a temporary folder");
        match attempt(folder.path()) {
            Ok(()) => return,
            // A server that lost a block because the machine was busy proves nothing: once more.
            Err((reason, true)) => eprintln!("disturbed: {reason}"),
            Err((reason, false)) => panic!("{reason}"),
        }
    }
    panic!("the machine is too busy for a JACK server: four runs lost blocks");
}

#[test]
fn a_player_that_is_unplugged_and_plugged_in_again_plays_on() {
    with_server(
        "a_player_that_is_unplugged_and_plugged_in_again_plays_on",
        PERIOD,
        || undisturbed(unplugged_and_back),
    );
}

fn unplugged_and_back(folder: &Path) -> Result<(), (String, bool)> {
    let mut player = Player::start("fault-player");
    let mut take = Take::start(folder);
    take.play(&mut player, 0..8);
    // In the middle of the eighth note, which is held then.
    take.wait_until(Nanos::from_ms(1850), &player);
    let mut late = player.late();
    drop(player);
    sleep(Duration::from_millis(1700));
    let mut player = Player::start("fault-player");
    take.wait_until(Nanos::from_ms(4400), &player);
    take.play(&mut player, 20..40);
    // The last note falls at 9.75 s.
    take.wait_until(Nanos::from_ms(10_200), &player);
    late += player.late();
    let ended = take.end();
    let disturbed = late + ended.xruns > 0;
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    let report = ended.report();
    let exact = ended
        .are_exact(&report, 0..8)
        .and_then(|()| ended.are_exact(&report, 20..40));
    exact.map_err(|why| (why, disturbed))?;
    for index in 8..20 {
        let note = &report["notes"][index];
        assert!(note["played"].is_null(), "{note}");
    }
    let held = report["notes"][7]["played"]["length_s"].as_f64();
    assert!(held.is_some_and(|s| s > 0.05 && s < 0.2), "{held:?}");
    assert_eq!(ended.out.matches("bass unplugged at A").count(), 1);
    assert_eq!(ended.out.matches("bass is back").count(), 1);
    assert_eq!(ended.clicks_off(), 0);
    Ok(())
}

#[test]
fn ctrl_c_ends_a_take_whose_player_is_away() {
    with_server("ctrl_c_ends_a_take_whose_player_is_away", PERIOD, || {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let mut player = Player::start("fault-player");
        let mut take = Take::start(folder.path());
        take.play(&mut player, 0..4);
        take.wait_until(Nanos::from_ms(1500), &player);
        drop(player);
        sleep(Duration::from_millis(500));
        let pid = take.leadsman.id().to_string();
        let sent = Command::new("kill").args(["-INT", &pid]).status();
        assert!(sent.expect("kill").success());
        let ended = take.end();
        assert_eq!(ended.code, Some(0), "{}", ended.err);
        assert!(ended.out.contains("bass unplugged"), "{}", ended.out);
        assert!(!ended.out.contains("bass is back"), "{}", ended.out);
    });
}

#[test]
fn a_server_that_stops_ends_the_take_and_keeps_it() {
    with_server(
        "a_server_that_stops_ends_the_take_and_keeps_it",
        PERIOD,
        || {
            let folder = tempfile::tempdir().expect("a temporary folder");
            let mut player = Player::start("fault-player");
            let mut take = Take::start(folder.path());
            take.play(&mut player, 0..8);
            take.wait_until(Nanos::from_ms(2500), &player);
            stop_server();
            std::mem::forget(player);
            take.end_without_server().is_kept("JACK server");
        },
    );
}

#[test]
fn a_server_that_is_killed_and_started_again_ends_the_take_and_keeps_it() {
    with_server(
        "a_server_that_is_killed_and_started_again_ends_the_take_and_keeps_it",
        PERIOD,
        || {
            let folder = tempfile::tempdir().expect("a temporary folder");
            let mut player = Player::start("fault-player");
            let mut take = Take::start(folder.path());
            take.play(&mut player, 0..8);
            take.wait_until(Nanos::from_ms(2500), &player);
            kill_server();
            std::mem::forget(player);
            let server = SecondServer::start(PERIOD);
            let ended = take.end_without_server();
            ended.is_kept("JACK server");
            drop(server);
        },
    );
}

#[test]
fn a_server_that_is_killed_while_the_player_is_away_does_not_hang() {
    with_server(
        "a_server_that_is_killed_while_the_player_is_away_does_not_hang",
        PERIOD,
        || {
            let folder = tempfile::tempdir().expect("a temporary folder");
            let mut player = Player::start("fault-player");
            let mut take = Take::start(folder.path());
            take.play(&mut player, 0..4);
            take.wait_until(Nanos::from_ms(1500), &player);
            drop(player);
            sleep(Duration::from_millis(500));
            kill_server();
            let server = SecondServer::start(PERIOD);
            let ended = take.end_without_server();
            ended.is_kept("JACK server");
            assert!(ended.out.contains("bass unplugged"), "{}", ended.out);
            drop(server);
        },
    );
}

/// The player's program holds the whole server up for a fifth of a second.
#[test]
fn after_lost_blocks_clicks_and_notes_are_right_again() {
    with_server(
        "after_lost_blocks_clicks_and_notes_are_right_again",
        PERIOD,
        || {
            let folder = tempfile::tempdir().expect("a temporary folder");
            let mut player = Player::start("fault-player");
            let mut take = Take::start(folder.path());
            take.play(&mut player, 0..40);
            take.wait_until(Nanos::from_ms(3550), &player);
            player.stall(200);
            take.wait_until(Nanos::from_ms(10_200), &player);
            let ended = take.end();
            assert_eq!(ended.code, Some(0), "{}", ended.err);
            println!("{} xruns at the recorder", ended.xruns);
            assert!(ended.out.contains("late audio block"), "{}", ended.out);
            // A busy machine may lose more blocks than the stall does: each may move a click.
            let moved = 2 + ended.xruns as usize / 4;
            assert!(ended.clicks_off() <= moved, "{} clicks", ended.clicks_off());
            let report = ended.report();
            let is_judged = |index: &usize| report["notes"][*index]["timing"] != "unjudged";
            let judged: Vec<usize> = (0..40).filter(is_judged).collect();
            assert!(judged.len() >= 30, "{}", ended.out);
            for note in judged {
                ended
                    .are_exact(&report, note..note + 1)
                    .expect("exact notes");
            }
        },
    );
}

fn peak_kib(pid: u32) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{pid}/status")).unwrap_or_default();
    let line = status.lines().find(|line| line.starts_with("VmHWM:"));
    line.and_then(|line| line.split_whitespace().nth(1)?.parse().ok())
        .unwrap_or(0)
}

/// How much memory a flood may cost: nothing of it is a note, so that nothing of it stays.
const MOST_KIB: u64 = 8 * 1024;

#[test]
fn in_a_flood_of_damaged_messages_the_notes_are_right() {
    with_server(
        "in_a_flood_of_damaged_messages_the_notes_are_right",
        PERIOD,
        || undisturbed(flooded),
    );
}

fn flooded(folder: &Path) -> Result<(), (String, bool)> {
    let mut player = Player::start("fault-player");
    let mut take = Take::start(folder);
    let _ = take.origin();
    let before = peak_kib(take.leadsman.id());
    let flood = Flood::start("fault-flood", "leadsman:notes");
    let begun = player.now();
    take.play(&mut player, 0..40);
    take.wait_until(Nanos::from_ms(10_200), &player);
    let (sent, frames) = (flood.sent(), player.now() - begun);
    let grown = peak_kib(take.leadsman.id()) - before;
    let late = player.late();
    drop(flood);
    let ended = take.end();
    let a_second = sent * u64::from(RATE) / frames;
    println!("{a_second} messages a second, {grown} KiB more than before");
    assert!(a_second > 90_000, "{a_second} messages a second");
    assert!(grown < MOST_KIB, "{grown} KiB");
    assert_eq!(ended.code, Some(0), "{}", ended.err);
    let exact = ended.are_exact(&ended.report(), 0..40);
    // What is lost is counted and said.
    let disturbed = late + ended.xruns > 0 || ended.out.contains("lost event");
    exact.map_err(|why| (why, disturbed))
}
