//! Traces for the clean-up stage, and what comes of them.
#![allow(dead_code)] // each test file uses a part of it

use leadsman::played::cleanup::{Cleaned, Cleanup, Rule, Rules};
use leadsman::played::pairing::pair;
use leadsman::played::{MidiMessage, PlayedNote, TimedMessage};
use leadsman::units::{Key, Nanos};

/// A message at this many ms.
pub fn at(ms: f64, message: MidiMessage) -> TimedMessage {
    TimedMessage {
        at: Nanos::from_ms_f64(ms),
        message,
    }
}

/// On the first channel, at velocity 80.
pub fn on(ms: f64, key: u8) -> TimedMessage {
    on_channel(0, ms, key, 80)
}

pub fn on_channel(channel: u8, ms: f64, key: u8, velocity: u8) -> TimedMessage {
    let key = Key(key);
    at(
        ms,
        MidiMessage::NoteOn {
            channel,
            key,
            velocity,
        },
    )
}

pub fn off(ms: f64, key: u8) -> TimedMessage {
    off_channel(0, ms, key)
}

pub fn off_channel(channel: u8, ms: f64, key: u8) -> TimedMessage {
    let key = Key(key);
    at(ms, MidiMessage::NoteOff { channel, key })
}

/// The wheel, in cents of a range of two semitones.
pub fn bend(ms: f64, cents: i32) -> TimedMessage {
    let wheel = (8192 + cents * 8192 / 200).min(16_383);
    let bytes = [0xE0, (wheel % 128) as u8, (wheel / 128) as u8];
    at(ms, MidiMessage::Other(bytes))
}

pub fn control(ms: f64, controller: u8, value: u8) -> TimedMessage {
    at(ms, MidiMessage::Other([0xB0, controller, value]))
}

/// What comes out of the stage, and what it did.
pub struct Came {
    pub messages: Vec<TimedMessage>,
    pub notes: Vec<PlayedNote>,
    pub cleaned: Vec<Cleaned>,
}

/// Cleans a whole take.
pub fn clean(events: &[TimedMessage], rules: Rules) -> Came {
    let mut stage = Cleanup::new(rules);
    let mut messages = Vec::new();
    let sink = &mut |message| messages.push(message);
    events.iter().for_each(|event| stage.push(*event, sink));
    stage.finish(sink);
    let notes = pair(messages.iter().copied());
    Came {
        messages,
        notes,
        cleaned: stage.cleaned().to_vec(),
    }
}

/// Notes as (onset ms, key, length ms); −1 where the end never came.
pub fn plain(notes: &[PlayedNote]) -> Vec<(f64, u8, f64)> {
    let of = |note: &PlayedNote| {
        let length = note.length.map_or(-1.0, Nanos::ms);
        (note.onset.ms(), note.key.0, length)
    };
    notes.iter().map(of).collect()
}

/// With all rules the trace comes to these notes, each changed note by this rule alone; with the rule off it does not.
pub fn assert_cleaned(events: &[TimedMessage], rule: Rule, notes: &[(f64, u8, f64)]) {
    let mut events = events.to_vec();
    events.sort_by_key(|event| event.at);
    let came = clean(&events, Rules::ALL);
    assert_eq!(plain(&came.notes), notes);
    assert!(!came.cleaned.is_empty());
    assert!(
        came.cleaned.iter().all(|one| one.rule == rule),
        "{:?}",
        came.cleaned
    );
    let alone = clean(&events, Rules::NONE.with(rule));
    assert_eq!(plain(&alone.notes), notes, "{} alone", rule.name());
    let without = clean(&events, Rules::ALL.without(rule));
    assert!(without.cleaned.iter().all(|one| one.rule != rule));
    assert_ne!(plain(&without.notes), notes, "without {}", rule.name());
}

/// With all rules the trace passes as it came, but for what makes no notes.
pub fn assert_passes(events: &[TimedMessage]) {
    let mut events = events.to_vec();
    events.sort_by_key(|event| event.at);
    let came = clean(&events, Rules::ALL);
    assert_eq!(came.cleaned, []);
    let of_notes: Vec<TimedMessage> = events
        .into_iter()
        .filter(|event| !matches!(event.message, MidiMessage::Other(_)))
        .collect();
    assert_eq!(came.messages, of_notes);
}
