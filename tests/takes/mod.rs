//! Takes and lines written by the tests, and the program run on them.
#![allow(dead_code)] // each test file uses a part of it

pub mod by_hand;
pub mod kept;
pub mod own;
pub mod schema;

use assert_cmd::Command;
use serde_json::Value;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// One note of a take, in ms since the start of the file.
#[derive(Clone, Copy, Debug)]
pub struct Note {
    pub at_ms: f64,
    pub key: u8,
    pub length_ms: f64,
    pub channel: u8,
}

/// A note on channel 1.
pub fn note(at_ms: f64, key: u8, length_ms: f64) -> Note {
    Note {
        at_ms,
        key,
        length_ms,
        channel: 0,
    }
}

impl Note {
    pub fn on_channel(self, channel: u8) -> Note {
        Note {
            channel: channel - 1,
            ..self
        }
    }
}

/// Every note moved by this many ms.
pub fn moved(notes: &[Note], by_ms: f64) -> Vec<Note> {
    let later = |note: &Note| Note {
        at_ms: note.at_ms + by_ms,
        ..*note
    };
    notes.iter().map(later).collect()
}

/// Ticks in a ms at the standard's own tempo (500 000 µs a quarter note): one tick is 50 µs.
const TICKS_A_MS: f64 = 20.0;
const DIVISION: u16 = 10_000;

/// A plain file of format 0, as a sequencer would write it: no tempo, so that of the standard.
pub fn smf(notes: &[Note]) -> Vec<u8> {
    smf_of(&DIVISION.to_be_bytes(), &track(&[], notes, TICKS_A_MS))
}

/// The same with the file's tempo named, in quarter notes a minute.
pub fn smf_at_tempo(notes: &[Note], quarters_per_minute: f64) -> Vec<u8> {
    let micros = (60e6 / quarters_per_minute).round() as u32;
    let ticks_a_ms = f64::from(DIVISION) * 1000.0 / f64::from(micros);
    let mut tempo = vec![0, 0xFF, 0x51, 3];
    tempo.extend(&micros.to_be_bytes()[1..]);
    smf_of(&DIVISION.to_be_bytes(), &track(&tempo, notes, ticks_a_ms))
}

/// The same in time code: 25 frames a second, 40 ticks a frame, so that one tick is 1 ms.
pub fn smf_in_time_code(notes: &[Note]) -> Vec<u8> {
    smf_of(&[(-25i8) as u8, 40], &track(&[], notes, 1.0))
}

/// A file of format 0 around the bytes of a track.
pub fn smf_of(division: &[u8; 2], track: &[u8]) -> Vec<u8> {
    let mut file = b"MThd\0\0\0\x06\0\0\0\x01".to_vec();
    file.extend(division);
    file.extend(b"MTrk");
    file.extend((track.len() as u32).to_be_bytes());
    file.extend(track);
    file
}

/// The bytes of a track: what is given, the notes, the End of Track. At one tick ends come before beginnings.
pub fn track(head: &[u8], notes: &[Note], ticks_a_ms: f64) -> Vec<u8> {
    let tick = |ms: f64| (ms * ticks_a_ms).round() as u64;
    let mut events: Vec<(u64, [u8; 3])> = Vec::new();
    for note in notes {
        events.push((tick(note.at_ms), [0x90 | note.channel, note.key, 80]));
        let end = tick(note.at_ms + note.length_ms);
        events.push((end, [0x80 | note.channel, note.key, 0]));
    }
    events.sort_by_key(|(tick, bytes)| (*tick, bytes[0] >= 0x90));
    let mut track = head.to_vec();
    let mut last = 0;
    for (tick, bytes) in events {
        track.extend(quantity(tick - last));
        track.extend(bytes);
        last = tick;
    }
    track.extend([0, 0xFF, 0x2F, 0]);
    track
}

/// A variable-length quantity (SMF 1.0).
fn quantity(mut value: u64) -> Vec<u8> {
    let mut bytes = vec![(value & 0x7F) as u8];
    while value > 0x7F {
        value >>= 7;
        bytes.push((value & 0x7F) as u8 | 0x80);
    }
    bytes.reverse();
    bytes
}

/// A folder with a line and takes in it, in which the program is run.
pub struct Bench {
    pub dir: TempDir,
}

impl Bench {
    /// With `line.toml`.
    pub fn new(line: &str) -> Bench {
        let bench = Bench {
            dir: tempfile::tempdir().expect("a folder"),
        };
        bench.write("line.toml", line.as_bytes());
        bench
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    pub fn write(&self, name: &str, bytes: &[u8]) {
        std::fs::write(self.path(name), bytes).expect("a written file");
    }

    /// The program, to be run in the folder.
    pub fn leadsman(&self, args: &[&str]) -> Command {
        leadsman(self.dir.path(), args)
    }

    /// Runs the program and says what came of it.
    pub fn run(&self, args: &[&str]) -> Ran {
        let output = self.leadsman(args).output().expect("a program that runs");
        let text = |bytes| String::from_utf8(bytes).expect("UTF-8");
        Ran {
            code: output.status.code(),
            out: text(output.stdout),
            err: text(output.stderr),
        }
    }

    /// Checks a take of these bytes.
    pub fn check_bytes(&self, take: &[u8], options: &[&str]) -> Ran {
        self.write("take.mid", take);
        self.run(&[&["check", "line.toml", "take.mid"], options].concat())
    }

    /// The JSON of a check of these notes; `--start 0` where no option says otherwise.
    pub fn check(&self, notes: &[Note], options: &[&str]) -> Value {
        let start: &[&str] = if options.contains(&"--start") {
            &[]
        } else {
            &["--start", "0"]
        };
        let ran = self.check_bytes(&smf(notes), &[start, options, &["--json"]].concat());
        assert_eq!(ran.code, Some(0), "{}", ran.err);
        ran.json()
    }
}

/// What came of a run.
#[derive(Debug)]
pub struct Ran {
    pub code: Option<i32>,
    pub out: String,
    pub err: String,
}

impl Ran {
    pub fn json(&self) -> Value {
        serde_json::from_str(&self.out).unwrap_or_else(|error| panic!("{error}: {self:?}"))
    }
}

/// The program, to be run in a folder, with its data and its settings kept there too.
pub fn leadsman(dir: &Path, args: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_leadsman"));
    command
        .current_dir(dir)
        .env("XDG_DATA_HOME", dir.join("data"))
        .env("XDG_CONFIG_HOME", dir.join("config"))
        .env("HOME", dir)
        .env("NO_COLOR", "1")
        .args(args);
    command
}
