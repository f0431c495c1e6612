//! A Standard MIDI File of a line: format 1, a conductor track and the bass, in the division of leadsman's takes.
//!
//! Bar lines fall on whole bars of the file: a pickup stands at the end of a bar of its own. Notes have their length × gate.
//! Onsets and ends are the expected ones to the nearest tick (32 to a tick of the line), swing applied; or straight, with
//! the swing as a marker. Markers name each pass. Velocities: 100 with an accent, 50 for a ghost note or a dead one, else
//! 80. A dead note has the key of its open string, the lowest where none is named.

use super::Exported;
use crate::expected::tempo_map::Speed;
use crate::expected::{Expected, ExpectedNote, unroll};
use crate::line::bar_range::BarRange;
use crate::line::key_signature::KeySignature;
use crate::line::tuning::StringNumber;
use crate::line::{Line, Place, Stop};
use crate::midi::conductor::{Conductor, ConductorError, DIVISION, TICKS_PER_WRITTEN_TICK};
use crate::midi::message;
use crate::midi::swing_marker::SwingMarker;
use crate::midi::take_track::BASS_TRACK;
use crate::midi::tick_clock::MAX_TEMPO;
use crate::midi::track_bytes::{META_TRACK_NAME, TrackBytes};
use crate::played::MidiMessage;
use crate::take::recording::{markers, meters, tempi};
use crate::units::{Key, Nanos, Ticks};

/// Electric bass, plucked with the fingers (General MIDI level 1, counted from 0).
const PROGRAM: u8 = 33;
const CHANNEL: u8 = 0;

/// Whether the notes swing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Feel {
    /// As they are to sound.
    Swung,
    /// As they are written; a marker says the swing.
    Straight,
}

/// The file of a line at a speed. `bars` are those of the excerpt that the line is, if it is one.
/// [`ConductorError::TextLength`] for a title of 268 MB.
pub fn write(
    line: &Line,
    bars: Option<BarRange>,
    speed: Speed,
    feel: Feel,
) -> Result<Exported, ConductorError> {
    let expected = match feel {
        Feel::Swung => unroll(line, speed),
        Feel::Straight => unroll(&straightened(line), speed),
    };
    let file = FileTime::new(&expected);
    let tick = |at: Ticks| file.tick(at);
    let mut markers = markers(&expected, bars.is_some(), tick);
    if feel == Feel::Straight {
        markers.extend(swings(line, &expected, tick));
        markers.sort_by_key(|(tick, _)| *tick);
    }
    let conductor = Conductor::of_line(&line.title, tempi(&expected, tick))?
        .with_meters(meters(&expected.bars, tick))
        .with_keys(keys(line, &expected, tick))
        .with_markers(markers);
    let mut bytes = b"MThd\0\0\0\x06\0\x01\0\x02".to_vec();
    bytes.extend(DIVISION.get().to_be_bytes());
    bytes.extend(conductor.chunk());
    bytes.extend(bass(line, &expected, &file).into_chunk());
    Ok(Exported {
        bytes,
        lost: lost(line, &expected),
    })
}

/// From the line's time to ticks of the file.
struct FileTime<'a> {
    expected: &'a Expected,
    /// Ticks of the file before bar 1.
    lead: i64,
}

impl<'a> FileTime<'a> {
    fn new(expected: &'a Expected) -> FileTime<'a> {
        let pickup = expected.bars.first().filter(|bar| bar.start < Ticks(0));
        let lead = pickup.map_or(Ticks(0), |bar| bar.offset + bar.length);
        FileTime {
            expected,
            lead: lead.0 * TICKS_PER_WRITTEN_TICK as i64,
        }
    }

    fn tick(&self, written: Ticks) -> u64 {
        (self.lead + written.0 * TICKS_PER_WRITTEN_TICK as i64).max(0) as u64
    }

    fn tick_at(&self, time: Nanos) -> u64 {
        let map = &self.expected.tempo_map;
        let position = map.position_at(time, TICKS_PER_WRITTEN_TICK as i64);
        (self.lead + position).max(0) as u64
    }
}

fn straightened(line: &Line) -> Line {
    let mut straight = line.clone();
    straight.swing = None;
    for section in &mut straight.sections {
        section.swing = None;
    }
    straight
}

/// The swing where it begins and changes: `swing 2:1 of 1/8`.
fn swings(line: &Line, expected: &Expected, tick: impl Fn(Ticks) -> u64) -> Vec<(u64, String)> {
    let mut said = SwingMarker::Straight;
    let mut markers = Vec::new();
    for bar in &expected.bars {
        let section = &line.sections[usize::from(bar.section)];
        let swung = section.swung.unwrap_or(line.swung);
        let ratio = section.swing.or(line.swing);
        let marker = match ratio.filter(|ratio| ratio.long != ratio.short) {
            Some(ratio) => SwingMarker::Swung(ratio, swung),
            None => SwingMarker::Straight,
        };
        if marker != said {
            markers.push((tick(bar.start), marker.to_string()));
            said = marker;
        }
    }
    markers
}

/// Where each key begins, moved with its pass.
fn keys(line: &Line, expected: &Expected, tick: impl Fn(Ticks) -> u64) -> Vec<(u64, KeySignature)> {
    let mut keys: Vec<(u64, KeySignature)> = Vec::new();
    for bar in &expected.bars {
        let section = &line.sections[usize::from(bar.section)];
        let shift = section.passes.get(bar.pass as usize - 1);
        let key = section.key.or(line.key);
        let key = key.zip(shift).map(|(key, shift)| key.shifted(*shift));
        if let Some(key) = key.filter(|key| keys.last().is_none_or(|(_, last)| last != key)) {
            keys.push((tick(bar.start), key));
        }
    }
    keys
}

fn bass(line: &Line, expected: &Expected, file: &FileTime<'_>) -> TrackBytes {
    let mut events: Vec<(u64, MidiMessage)> = Vec::with_capacity(2 * expected.notes.len());
    for note in &expected.notes {
        let Some(key) = note.key.or_else(|| open_string(line, note)) else {
            continue;
        };
        let on = file.tick_at(note.onset);
        let off = file.tick_at(note.end()).max(on + 1);
        let channel = CHANNEL;
        let velocity = velocity(note);
        let begins = MidiMessage::NoteOn {
            channel,
            key,
            velocity,
        };
        events.push((on, begins));
        events.push((off, MidiMessage::NoteOff { channel, key }));
    }
    // A note that ends where the next one of its key begins ends first.
    let begins = |message: &MidiMessage| matches!(message, MidiMessage::NoteOn { .. });
    events.sort_by_key(|(tick, message)| (*tick, begins(message)));
    let mut track = TrackBytes::default();
    track.push_meta(0, META_TRACK_NAME, BASS_TRACK.as_bytes());
    let program = MidiMessage::Other([0xC0 | CHANNEL, PROGRAM, 0]);
    for (tick, message) in std::iter::once((0, program)).chain(events) {
        if let Some(bytes) = message::encode(message) {
            track.push_message(tick, &bytes);
        }
    }
    track
}

fn open_string(line: &Line, note: &ExpectedNote) -> Option<Key> {
    let tuning = &line.tuning;
    let named = note.string.map(StringNumber);
    let open = named.map(|string| tuning.open_string(string));
    open.unwrap_or(tuning.open.first().copied())?.key()
}

fn velocity(note: &ExpectedNote) -> u8 {
    match note.is {
        is if is.accent => 100,
        is if is.optional || is.dead => 50,
        _ => 80,
    }
}

/// What the line has and the file does not.
fn lost(line: &Line, expected: &Expected) -> Vec<String> {
    let sections = || line.sections.iter();
    let notes = || sections().flat_map(|section| section.bars.iter().flat_map(|bar| &bar.notes));
    let named = |place: &Place| match place {
        Place::Struck(stops) => stops.iter().any(|stop| !matches!(stop, Stop::Pitch(_))),
        Place::Dead(string) => string.is_some(),
        Place::Rest => false,
    };
    let far = |key: &KeySignature| key.sharps().abs() > 7;
    let keys = || sections().filter_map(|section| section.key.or(line.key));
    let slowest = 60e6 / f64::from(MAX_TEMPO);
    let mut tempi = expected.tempo_map.changes();
    let has = [
        (
            tempi.any(|(_, _, rate)| rate.quarters_per_minute() < slowest),
            "tempo below 3.58 quarter notes a minute",
        ),
        (true, "spelling of the notes"),
        (notes().any(|note| named(&note.place)), "strings and frets"),
        (
            sections().any(|section| section.strokes.is_some()),
            "strokes",
        ),
        (
            sections().any(|section| section.fingers.is_some()),
            "fingers",
        ),
        (
            sections().any(|section| section.chords.is_some()),
            "chord symbols",
        ),
        (
            notes().any(|note| note.marks != Default::default()),
            "marks (heard in length and velocity)",
        ),
        (
            notes().any(|note| matches!(note.place, Place::Dead(_))),
            "dead notes (written as soft open strings)",
        ),
        (
            keys().any(|key| far(&key)),
            "keys of more than seven sharps or flats",
        ),
    ];
    let lost = has.into_iter().filter(|(is, _)| *is);
    lost.map(|(_, what)| what.to_string()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::parse::parse;
    use crate::midi::smf::{self, SmfFile, TextKind};

    const SWUNG: &str = "title = \"a\"\nmeter = \"3/4\"\ntempo = 120\nswing = \"2:1\"\ngate = 1.0\n\
         key = \"G# major\"\npickup = true\n[[section]]\nname = \"A\"\npasses = [0, 1]\n\
         notes = \"D2/8 E2/8 | F2/8 F2/8> x@G/8? r/8 G2/4\"\n";

    fn line(text: &str) -> Line {
        parse(text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)))
    }

    fn written(text: &str, speed: Speed, feel: Feel) -> (SmfFile, Vec<String>) {
        let exported = write(&line(text), None, speed, feel).expect("a file");
        (
            smf::read(&exported.bytes).expect("a MIDI file"),
            exported.lost,
        )
    }

    /// Beginnings of notes as written ticks, keys and velocities.
    fn begun(file: &SmfFile) -> Vec<(i64, u8, u8)> {
        // At 120 a tick of the line is 500 ms / 960.
        let ticks = |at: Nanos| (at.0 * 960 + 250_000_000) / 500_000_000;
        let begun = file.messages().into_iter().filter_map(|m| match m.message {
            MidiMessage::NoteOn { key, velocity, .. } => Some((ticks(m.at), key.0, velocity)),
            _ => None,
        });
        begun.collect()
    }

    #[test]
    fn a_pickup_stands_at_the_end_of_a_bar_of_its_own_and_notes_swing() {
        let (file, _) = written(SWUNG, Speed::WRITTEN, Feel::Swung);
        let first: Vec<_> = begun(&file).into_iter().take(5).collect();
        assert_eq!(
            first,
            [
                (1920, 38, 80),
                (1920 + 640, 40, 80),
                (2880, 41, 80),
                (2880 + 640, 41, 100),
                (3840, 43, 50),
            ]
        );
    }

    #[test]
    fn straight_notes_are_where_they_are_written_and_a_marker_says_the_swing() {
        let (file, _) = written(SWUNG, Speed::WRITTEN, Feel::Straight);
        let starts: Vec<i64> = begun(&file).iter().map(|(at, ..)| *at).collect();
        assert_eq!(starts[..5], [1920, 2400, 2880, 3360, 3840]);
        let markers = file
            .texts
            .iter()
            .filter(|text| text.kind == TextKind::Marker);
        let markers: Vec<&str> = markers.map(|text| text.text.as_str()).collect();
        assert_eq!(markers, ["A", "swing 2:1 of 1/8", "A, pass 2"]);
    }

    #[test]
    fn a_note_ends_before_the_next_of_its_key_begins() {
        let (file, _) = written(SWUNG, Speed::WRITTEN, Feel::Swung);
        let messages = file.messages();
        let mut sounding = Vec::new();
        for message in messages {
            match message.message {
                MidiMessage::NoteOn { key, .. } => {
                    assert!(!sounding.contains(&key), "{key} begins twice");
                    sounding.push(key);
                }
                MidiMessage::NoteOff { key, .. } => sounding.retain(|other| *other != key),
                _ => {}
            }
        }
        assert_eq!(sounding, []);
    }

    #[test]
    fn what_a_file_cannot_say_is_listed() {
        let (_, lost) = written(SWUNG, Speed(2_000), Feel::Swung);
        assert_eq!(
            lost,
            [
                "tempo below 3.58 quarter notes a minute",
                "spelling of the notes",
                "strings and frets",
                "marks (heard in length and velocity)",
                "dead notes (written as soft open strings)",
                "keys of more than seven sharps or flats",
            ]
        );
    }
}
