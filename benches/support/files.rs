//! Takes as files.

use leadsman::expected::Expected;
use leadsman::judge::Settings;
use leadsman::midi::take_writer::TakeWriter;
use leadsman::played::{MidiMessage, TimedMessage};
use leadsman::take::recording::conduct;
use leadsman::take::{END_TAG, TakeEnd, TakeHead};
use leadsman::units::Nanos;
use std::path::Path;

/// Writes a take as `play` does: with a head that says what it is of and where it starts.
pub fn write_own(path: &Path, expected: &Expected, events: &[TimedMessage]) {
    let mut head = TakeHead {
        line: "Bench".into(),
        line_file: "bench.toml".into(),
        speed: 100_000,
        start_ns: 0,
        bars: None,
        silent: None,
        settings: Settings::default(),
        player: "a stand-in".into(),
        has_port: false,
        has_cable: false,
        begun: "2026-01-01T00:00:00Z".into(),
    };
    let conductor = conduct(expected, 1, &mut head).expect("a tempo map");
    let mut writer = TakeWriter::create(path, &conductor).expect("a new file");
    for event in events {
        writer.push(TimedMessage {
            at: event.at + Nanos(head.start_ns),
            ..*event
        });
    }
    let end = serde_json::to_string(&TakeEnd::default()).expect("plain numbers");
    let last = events.last().map_or(Nanos::ZERO, |event| event.at);
    writer
        .push_text(last + Nanos(head.start_ns), END_TAG, &end)
        .expect("a short text");
    writer.flush().expect("room on the disk");
}

/// The bytes of a take from elsewhere: format 0, milliseconds for ticks, no word of ours, bar 1 after `silence`.
pub fn foreign(events: &[TimedMessage], silence: Nanos) -> Vec<u8> {
    // 1000 ticks a quarter note of 1 000 000 µs.
    let mut track = vec![0, 0xFF, 0x51, 3, 0x0F, 0x42, 0x40];
    let mut last = 0;
    for event in events {
        let [status, key, velocity] = match event.message {
            MidiMessage::NoteOn { key, velocity, .. } => [0x90, key.0, velocity],
            MidiMessage::NoteOff { key, .. } => [0x80, key.0, 0],
            _ => continue,
        };
        let tick = ((event.at + silence).0 / 1_000_000).max(last);
        push_quantity((tick - last) as u32, &mut track);
        track.extend([status, key, velocity]);
        last = tick;
    }
    track.extend([0, 0xFF, 0x2F, 0]);
    let mut file = b"MThd\0\0\0\x06\0\0\0\x01\x03\xE8MTrk".to_vec();
    file.extend((track.len() as u32).to_be_bytes());
    file.extend(track);
    file
}

/// A variable-length quantity (SMF 1.0).
fn push_quantity(value: u32, bytes: &mut Vec<u8>) {
    for place in (1..4).rev() {
        if value >> (7 * place) > 0 {
            bytes.push((value >> (7 * place)) as u8 | 0x80);
        }
    }
    bytes.push(value as u8 & 0x7F);
}
