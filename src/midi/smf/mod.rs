//! Reading a Standard MIDI File, formats 0 and 1 (MIDI Manufacturers Association, "Standard MIDI Files 1.0").
//!
//! Nothing playable is lost silently: whatever of a damaged file can be read is read, and [`SmfFile::damage`] says what
//! could not be. Differences from the letter of the standard, all towards reading more: the running status goes on after
//! meta and SysEx events, tracks beyond the number in the header are read, a track with a wrong length is read to its End
//! of Track, and a tempo counts in whichever track it stands.

pub mod damage;
pub mod error;

mod chunks;
mod event_reader;
mod track_content;

use crate::midi::tick_clock::{DEFAULT_TEMPO, Division, TickClock};
use crate::played::{MidiMessage, TimedMessage};
use crate::units::Nanos;
use chunks::Header;
use damage::Damage;
use error::SmfError;
use std::path::Path;
use track_content::{Content, RawTrack};

/// The tag of the text event in which a take of ours carries its settings, as JSON after a space.
pub const TAKE_TAG: &str = "leadsman.take/1";

/// A file as read. Times are since the start of the file.
#[derive(Clone, Debug)]
pub struct SmfFile {
    /// 0 or 1.
    pub format: u16,
    /// What a tick is.
    pub division: Division,
    /// The tracks in file order.
    pub tracks: Vec<SmfTrack>,
    /// The tempi of all tracks by tick, the first at tick 0.
    pub tempi: Vec<TempoChange>,
    /// The time signatures of all tracks by tick; empty when the file names none (4/4 by the standard).
    pub time_signatures: Vec<TimeSignature>,
    /// The key signatures of all tracks by tick.
    pub keys: Vec<KeyChange>,
    /// The texts of all tracks by tick.
    pub texts: Vec<TextEvent>,
    /// What could not be read; empty for a file that is whole.
    pub damage: Vec<Damage>,
    /// The time of each tick.
    pub clock: TickClock,
}

/// One track.
#[derive(Clone, Debug, Default)]
pub struct SmfTrack {
    /// Its name, if it has one.
    pub name: Option<String>,
    /// Its channel messages in file order, which is by tick.
    pub events: Vec<SmfEvent>,
}

/// A channel message in a track.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SmfEvent {
    /// Ticks since the start of the file.
    pub tick: u64,
    /// The time of that tick.
    pub at: Nanos,
    /// What happens.
    pub message: MidiMessage,
}

/// A tempo from a tick on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TempoChange {
    /// Ticks since the start of the file.
    pub tick: u64,
    /// The time of that tick.
    pub at: Nanos,
    /// Microseconds a quarter note, never 0. In a file divided by frames it does not bear on time.
    pub micros_per_quarter: u32,
    /// Whether the file says so, or the standard for lack of a word.
    pub source: TempoSource,
}

/// Where a tempo comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TempoSource {
    /// The file names it.
    File,
    /// The file names none: 120 quarter notes a minute.
    Default,
}

/// A meter from a tick on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimeSignature {
    /// Ticks since the start of the file.
    pub tick: u64,
    /// The time of that tick.
    pub at: Nanos,
    /// The upper number, at least 1.
    pub upper: u8,
    /// The lower number, a power of two.
    pub lower: u32,
}

/// A key signature from a tick on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KeyChange {
    /// Ticks since the start of the file.
    pub tick: u64,
    /// Sharps, negative for flats; -7 to 7.
    pub sharps: i8,
    /// Major or minor.
    pub mode: KeyMode,
}

/// What a key signature of a file says about the mode.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)] // the names are the documentation
pub enum KeyMode {
    Major,
    Minor,
}

/// A text in a track.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TextEvent {
    /// Which track, from 0.
    pub track: usize,
    /// Ticks since the start of the file.
    pub tick: u64,
    /// The time of that tick.
    pub at: Nanos,
    /// What it is for.
    pub kind: TextKind,
    /// UTF-8 where the bytes are, else read as Latin-1.
    pub text: String,
}

/// What a text is for: the meta event types 1 to 15.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TextKind {
    /// Any text (1).
    Text,
    /// A copyright notice (2).
    Copyright,
    /// The name of the sequence or track (3).
    TrackName,
    /// The name of the instrument (4).
    Instrument,
    /// A syllable (5).
    Lyric,
    /// A place in the piece, such as a section (6).
    Marker,
    /// A cue (7).
    Cue,
    /// A type that SMF 1.0 keeps for later.
    Reserved(u8),
}

/// Reads a file's bytes. Never panics, whatever they are.
pub fn read(bytes: &[u8]) -> Result<SmfFile, SmfError> {
    let (header, content) = chunks::read(bytes)?;
    Ok(timed(header, content))
}

/// Reads the file at `path`; errors name it.
pub fn read_file(path: &Path) -> Result<SmfFile, SmfError> {
    let bytes = std::fs::read(path).map_err(|source| SmfError::Io {
        path: path.to_owned(),
        source,
    })?;
    read(&bytes).map_err(|source| SmfError::InFile {
        path: path.to_owned(),
        source: Box::new(source),
    })
}

impl SmfFile {
    /// The channel messages of all tracks in the order of their ticks; at one tick, in the order of the tracks.
    pub fn messages(&self) -> Vec<TimedMessage> {
        let mut events: Vec<SmfEvent> = self
            .tracks
            .iter()
            .flat_map(|track| track.events.iter().copied())
            .collect();
        events.sort_by_key(|event| event.tick);
        events
            .iter()
            .map(|&SmfEvent { at, message, .. }| TimedMessage { at, message })
            .collect()
    }

    /// The settings of a take of ours, as the JSON that it was written with; `None` for any other file.
    pub fn take_json(&self) -> Option<&str> {
        self.tagged(TAKE_TAG)
    }

    /// What follows `tag` and a space in the first text that begins so.
    pub fn tagged(&self, tag: &str) -> Option<&str> {
        self.all_tagged(tag).next()
    }

    /// The same of every such text.
    pub fn all_tagged<'a>(&'a self, tag: &str) -> impl Iterator<Item = &'a str> {
        self.texts
            .iter()
            .filter(|text| text.kind == TextKind::Text)
            .filter_map(move |text| text.text.strip_prefix(tag)?.strip_prefix(' '))
    }
}

impl TextKind {
    fn from_byte(kind: u8) -> TextKind {
        match kind {
            1 => TextKind::Text,
            2 => TextKind::Copyright,
            3 => TextKind::TrackName,
            4 => TextKind::Instrument,
            5 => TextKind::Lyric,
            6 => TextKind::Marker,
            7 => TextKind::Cue,
            other => TextKind::Reserved(other),
        }
    }
}

fn timed(header: Header, mut content: Content) -> SmfFile {
    let clock = TickClock::new(header.division, &content.tempi);
    let tracks = content.tracks.into_iter();
    content.meters.sort_by_key(|meter| meter.0);
    content.texts.sort_by_key(|text| text.tick);
    content.keys.sort_by_key(|key| key.tick);
    SmfFile {
        format: header.format,
        division: header.division,
        tracks: tracks.map(|track| timed_track(track, &clock)).collect(),
        tempi: tempo_changes(content.tempi, &clock),
        time_signatures: content
            .meters
            .into_iter()
            .map(|(tick, upper, lower)| TimeSignature {
                tick,
                at: clock.time_of(tick),
                upper,
                lower,
            })
            .collect(),
        keys: content.keys,
        texts: content
            .texts
            .into_iter()
            .map(|raw| TextEvent {
                track: raw.track,
                tick: raw.tick,
                at: clock.time_of(raw.tick),
                kind: raw.kind,
                text: raw.text,
            })
            .collect(),
        damage: content.damage,
        clock,
    }
}

fn timed_track(raw: RawTrack, clock: &TickClock) -> SmfTrack {
    let event = |(tick, message)| SmfEvent {
        tick,
        at: clock.time_of(tick),
        message,
    };
    SmfTrack {
        name: raw.name,
        events: raw.events.into_iter().map(event).collect(),
    }
}

fn tempo_changes(mut tempi: Vec<(u64, u32)>, clock: &TickClock) -> Vec<TempoChange> {
    tempi.sort_by_key(|tempo| tempo.0);
    let change = |(tick, micros_per_quarter), source| TempoChange {
        tick,
        at: clock.time_of(tick),
        micros_per_quarter,
        source,
    };
    let starts_late = tempi.first().is_none_or(|first| first.0 > 0);
    starts_late
        .then(|| change((0, DEFAULT_TEMPO), TempoSource::Default))
        .into_iter()
        .chain(tempi.iter().map(|&tempo| change(tempo, TempoSource::File)))
        .collect()
}

fn decode_text(bytes: &[u8]) -> String {
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_string(),
        Err(_) => bytes.iter().copied().map(char::from).collect(),
    }
}
