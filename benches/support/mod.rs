//! Lines and takes that the benches measure on.
#![allow(dead_code, missing_docs)] // each bench uses its own part

use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::line::parse::parse;
use leadsman::played::{MidiMessage, TimedMessage};
use leadsman::stand_in::{self, Habits, Truth};
use leadsman::units::{Key, Nanos};
use std::sync::Arc;

pub mod clicks;
pub mod files;
pub mod room;

/// Four bars with what a line has: upbeat entries, repeated pitches, a dead note, a short one, quarters and eighths.
const PASS: &str = "r/8 A2/8' D3/8 D3/8 r/8 F2/8 A2/4 | G2/8 G2/8 C2/8 E2/8 G2/8 Bb2/8 A2/8 G2/8 | \
                    F2/4 A2/8 x/8 C3/4 A2/8 A2/8 | D2/8 F2/8 A2/8 D3/8 C3/8 A2/8 F2/8 E2/8";
pub const NOTES_IN_PASS: usize = 27;

/// A steady player with faults enough that no two notes in a row are sure to be plain: 80 ms late throughout,
/// 30 ms of spread, one note in twenty wrong, one dropped, one extra.
pub const SLOPPY: &str =
    "spread-ms=30,correlation=0.25,mean-ms=80,wrong-frets=0.05,dropped=0.05,extra=0.05";

/// How a line is as long as it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// A short section, played through many times.
    Passes,
    /// Many bars, written out.
    Bars,
}

/// The text of a line of at least `notes` notes, and of no more than a pass above that.
pub fn line_text(notes: usize, form: Form) -> String {
    let times = notes.div_ceil(NOTES_IN_PASS);
    let head = "title = \"Bench\"\nmeter = \"4/4\"\ntempo = 126\nswing = \"2:1\"\n\n[[section]]\n\
                name = \"A\"\nkey = \"D minor\"\n";
    match form {
        Form::Passes => {
            let shifts: Vec<&str> = ["0", "0", "2"].into_iter().cycle().take(times).collect();
            format!(
                "{head}passes = [{}]\nnotes = \"{PASS}\"\n",
                shifts.join(", ")
            )
        }
        Form::Bars => format!("{head}notes = \"{}\"\n", vec![PASS; times].join(" | ")),
    }
}

/// The line of [`line_text`], unrolled.
pub fn expected(notes: usize) -> Arc<Expected> {
    unrolled(&line_text(notes, Form::Passes))
}

/// One pitch, eighths without a rest.
pub fn one_pitch(notes: usize) -> Arc<Expected> {
    let bars = vec!["A2/8 A2/8 A2/8 A2/8 A2/8 A2/8 A2/8 A2/8"; notes.div_ceil(8)].join(" | ");
    unrolled(&format!(
        "title = \"Bench\"\nmeter = \"4/4\"\ntempo = 120\n\n[[section]]\nname = \"A\"\nnotes = \"{bars}\"\n"
    ))
}

fn unrolled(text: &str) -> Arc<Expected> {
    let line = parse(text, "bench.toml").unwrap_or_else(|mistakes| panic!("{mistakes}"));
    Arc::new(unroll(&line, Speed::WRITTEN))
}

/// A stand-in's take, habits as the command line takes them.
pub fn take(expected: &Expected, habits: &str) -> Vec<TimedMessage> {
    stand_in::play(expected, &habits.parse().expect("habits"), 7)
}

/// A steady take in which a phrase of three bars in every eight comes a beat late; what it then runs into is left out.
pub fn displaced_phrases(expected: &Expected) -> Vec<TimedMessage> {
    let steady = Habits::named("steady").expect("a player");
    let mut notes = stand_in::perform(expected, &steady, 7).truth;
    let mut last = Nanos(i64::MIN);
    notes.retain_mut(|note| {
        let line = note.expected.map(|index| &expected.notes[index]);
        let late = line.filter(|line| (2..5).contains(&(line.bar % 8)));
        let is_late = late.is_some();
        note.onset += late.map_or(Nanos::ZERO, |line| line.beat);
        let in_order = note.onset > last + Nanos::from_ms(60);
        if is_late || in_order {
            last = last.max(note.onset);
        }
        is_late || in_order
    });
    events(&notes)
}

/// The same notes, `by` later.
pub fn moved(events: Vec<TimedMessage>, by: Nanos) -> Vec<TimedMessage> {
    let later = |event: TimedMessage| TimedMessage {
        at: event.at + by,
        ..event
    };
    events.into_iter().map(later).collect()
}

/// As many random notes as the line has, over the time that it takes: no take of this line at all.
pub fn unrelated(expected: &Expected, seed: u64) -> Vec<TimedMessage> {
    // Knuth's 64-bit linear congruence (MMIX): the upper bits are even enough for this.
    let mut state = seed;
    let mut below = |limit: i64| {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as i64 % limit
    };
    let end_ms = expected.end.0 / 1_000_000;
    let mut notes: Vec<Truth> = (0..expected.notes.len())
        .map(|_| {
            note(
                Nanos(below(end_ms) * 1_000_000 + below(1_000_000)),
                Key(28 + below(32) as u8),
            )
        })
        .collect();
    notes.sort_by_key(|note| note.onset);
    events(&notes)
}

fn note(onset: Nanos, key: Key) -> Truth {
    Truth {
        expected: None,
        key,
        onset,
        length: Nanos::from_ms(150),
        offset: Nanos::ZERO,
        latency: Nanos::ZERO,
    }
}

/// Notes to events, by time; at one time, ends first.
fn events(notes: &[Truth]) -> Vec<TimedMessage> {
    let of_note = |note: &Truth| {
        let (channel, key, velocity) = (0, note.key, 80);
        let on = MidiMessage::NoteOn {
            channel,
            key,
            velocity,
        };
        let off = MidiMessage::NoteOff { channel, key };
        [(note.onset, on), (note.onset + note.length, off)]
    };
    let mut events: Vec<TimedMessage> = notes
        .iter()
        .flat_map(of_note)
        .map(|(at, message)| TimedMessage { at, message })
        .collect();
    events.sort_by_key(|event| {
        let begins = matches!(event.message, MidiMessage::NoteOn { .. });
        (event.at, begins)
    });
    events
}
