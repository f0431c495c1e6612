//! The two worked example files of the SMF 1.0 text: the same four notes as format 0 and as format 1. Their bytes are
//! from memory of that text; the chunk lengths in them bear the bytes out.

use leadsman::midi::smf::{self, SmfFile, TempoSource};
use leadsman::played::PlayedNote;
use leadsman::played::pairing::pair;
use leadsman::units::{Key, Nanos};

#[rustfmt::skip]
const FORMAT_0: &[u8] = &[
    b'M', b'T', b'h', b'd', 0, 0, 0, 6, 0x00, 0x00, 0x00, 0x01, 0x00, 0x60,
    b'M', b'T', b'r', b'k', 0, 0, 0, 0x3B,
    0x00, 0xFF, 0x58, 0x04, 0x04, 0x02, 0x18, 0x08, // 4/4, 24 clocks a click, 8 thirty-seconds a quarter
    0x00, 0xFF, 0x51, 0x03, 0x07, 0xA1, 0x20,       // 500 000 µs a quarter
    0x00, 0xC0, 0x05,
    0x00, 0xC1, 0x2E,
    0x00, 0xC2, 0x46,
    0x00, 0x92, 0x30, 0x60,
    0x00, 0x3C, 0x60,                               // running status
    0x60, 0x91, 0x43, 0x40,
    0x60, 0x90, 0x4C, 0x20,
    0x81, 0x40, 0x82, 0x30, 0x40,                   // a delta time of two bytes
    0x00, 0x3C, 0x40,
    0x00, 0x81, 0x43, 0x40,
    0x00, 0x80, 0x4C, 0x40,
    0x00, 0xFF, 0x2F, 0x00,
];

#[rustfmt::skip]
const FORMAT_1: &[u8] = &[
    b'M', b'T', b'h', b'd', 0, 0, 0, 6, 0x00, 0x01, 0x00, 0x04, 0x00, 0x60,
    b'M', b'T', b'r', b'k', 0, 0, 0, 0x14,
    0x00, 0xFF, 0x58, 0x04, 0x04, 0x02, 0x18, 0x08,
    0x00, 0xFF, 0x51, 0x03, 0x07, 0xA1, 0x20,
    0x83, 0x00, 0xFF, 0x2F, 0x00,
    b'M', b'T', b'r', b'k', 0, 0, 0, 0x10,
    0x00, 0xC0, 0x05,
    0x81, 0x40, 0x90, 0x4C, 0x20,
    0x81, 0x40, 0x4C, 0x00,                         // running status, velocity 0 for an off
    0x00, 0xFF, 0x2F, 0x00,
    b'M', b'T', b'r', b'k', 0, 0, 0, 0x0F,
    0x00, 0xC1, 0x2E,
    0x60, 0x91, 0x43, 0x40,
    0x82, 0x20, 0x43, 0x00,
    0x00, 0xFF, 0x2F, 0x00,
    b'M', b'T', b'r', b'k', 0, 0, 0, 0x15,
    0x00, 0xC2, 0x46,
    0x00, 0x92, 0x30, 0x60,
    0x00, 0x3C, 0x60,
    0x83, 0x00, 0x30, 0x00,
    0x00, 0x3C, 0x00,
    0x00, 0xFF, 0x2F, 0x00,
];

fn notes(file: &SmfFile) -> Vec<PlayedNote> {
    pair(file.messages().into_iter())
}

/// The score that the text gives: channel 3 holds C3 and C4 for four quarters, channel 2 G4 for three, channel 1 E5 for
/// two, at 120 quarter notes a minute (channels are counted from 1 there, from 0 here).
fn score() -> Vec<PlayedNote> {
    let note = |channel, key, velocity, onset_ms, length_ms| PlayedNote {
        key: Key(key),
        channel,
        onset: Nanos::from_ms(onset_ms),
        length: Some(Nanos::from_ms(length_ms)),
        velocity,
    };
    vec![
        note(2, 48, 96, 0, 2000),
        note(2, 60, 96, 0, 2000),
        note(1, 67, 64, 500, 1500),
        note(0, 76, 32, 1000, 1000),
    ]
}

#[test]
fn the_standards_example_of_format_0_is_read_note_for_note() {
    let file = smf::read(FORMAT_0).expect("a whole file");
    assert_eq!((file.format, file.tracks.len()), (0, 1));
    assert_eq!(file.damage, []);
    assert_eq!(notes(&file), score());
}

#[test]
fn the_standards_example_of_format_1_is_read_note_for_note() {
    let file = smf::read(FORMAT_1).expect("a whole file");
    assert_eq!((file.format, file.tracks.len()), (1, 4));
    assert_eq!(file.damage, []);
    assert_eq!(notes(&file), score());
}

#[test]
fn tempo_and_meter_of_the_examples_are_read() {
    for bytes in [FORMAT_0, FORMAT_1] {
        let file = smf::read(bytes).expect("a whole file");
        let tempo = file.tempi[0];
        assert_eq!(
            (file.tempi.len(), tempo.tick, tempo.micros_per_quarter),
            (1, 0, 500_000)
        );
        assert_eq!(tempo.source, TempoSource::File);
        let meter = file.time_signatures[0];
        assert_eq!((meter.tick, meter.upper, meter.lower), (0, 4, 4));
    }
}

#[test]
fn a_track_that_is_wrapped_in_riff_is_read_the_same() {
    let mut wrapped = b"RIFF".to_vec();
    wrapped.extend((FORMAT_0.len() as u32 + 12).to_le_bytes());
    wrapped.extend(b"RMIDdata");
    wrapped.extend((FORMAT_0.len() as u32).to_le_bytes());
    wrapped.extend(FORMAT_0);
    wrapped.extend([0; 3]);
    let file = smf::read(&wrapped).expect("a whole file");
    assert_eq!(file.damage, []);
    assert_eq!(notes(&file), score());
}

/// The `midly` crate reads whole files well: both readers must find the same channel messages in them.
#[test]
fn midly_counts_the_same_channel_messages_in_whole_files() {
    for bytes in [FORMAT_0, FORMAT_1] {
        let theirs = midly::Smf::parse(bytes).expect("a whole file");
        let counts = theirs.tracks.iter().map(|track| {
            let is_message = |event: &&midly::TrackEvent| {
                matches!(event.kind, midly::TrackEventKind::Midi { .. })
            };
            track.iter().filter(is_message).count()
        });
        let ours = smf::read(bytes).expect("a whole file");
        assert!(
            ours.tracks
                .iter()
                .map(|track| track.events.len())
                .eq(counts)
        );
    }
}
