//! What the tracks hold, gathered by ticks; times come when the tempi of all tracks are known.

use super::damage::{Damage, DamageKind};
use super::event_reader::TrackEvent;
use super::{KeyChange, KeyMode, TextKind, decode_text};
use crate::played::MidiMessage;

const META_TEMPO: u8 = 0x51;
const META_TIME_SIGNATURE: u8 = 0x58;
const META_KEY_SIGNATURE: u8 = 0x59;

/// Everything that was read from the tracks.
#[derive(Default)]
pub(super) struct Content {
    pub(super) tracks: Vec<RawTrack>,
    /// (tick, microseconds a quarter note), track by track.
    pub(super) tempi: Vec<(u64, u32)>,
    /// (tick, upper number, lower number), track by track.
    pub(super) meters: Vec<(u64, u8, u32)>,
    /// Track by track.
    pub(super) keys: Vec<KeyChange>,
    /// Track by track.
    pub(super) texts: Vec<RawText>,
    pub(super) damage: Vec<Damage>,
}

/// One track's channel messages.
#[derive(Default)]
pub(super) struct RawTrack {
    pub(super) name: Option<String>,
    pub(super) events: Vec<(u64, MidiMessage)>,
    /// Events of any kind that were read.
    read: usize,
}

/// One text.
pub(super) struct RawText {
    /// From 0.
    pub(super) track: usize,
    pub(super) tick: u64,
    pub(super) kind: TextKind,
    pub(super) text: String,
}

impl Content {
    /// Starts a track; what is added belongs to it.
    pub(super) fn begin_track(&mut self) {
        self.tracks.push(RawTrack::default());
    }

    /// Adds an event that ends at `byte`.
    pub(super) fn add(&mut self, event: TrackEvent, tick: u64, byte: usize) {
        match event {
            TrackEvent::Message(message) => self.track().events.push((tick, message)),
            TrackEvent::Meta { kind, data } => self.add_meta(kind, data, tick, byte),
            TrackEvent::EndOfTrack | TrackEvent::Other => {}
        }
        self.track().read += 1;
    }

    /// Notes damage in the track being read.
    pub(super) fn damage_track(
        &mut self,
        byte: usize,
        kind: DamageKind,
        unread: usize,
        missing: usize,
    ) {
        let events_read = self.track().read;
        self.damage.push(Damage {
            track: Some(self.tracks.len()),
            byte,
            kind,
            events_read,
            unread,
            missing,
        });
    }

    fn add_meta(&mut self, kind: u8, data: &[u8], tick: u64, byte: usize) {
        match (kind, data) {
            (META_TEMPO, &[a, b, c]) if a | b | c != 0 => {
                self.tempi.push((tick, u32::from_be_bytes([0, a, b, c])));
            }
            (META_TEMPO, _) => self.damage_track(byte, DamageKind::Tempo, 0, 0),
            (META_TIME_SIGNATURE, &[upper, power, ..]) if upper > 0 && power < 32 => {
                self.meters.push((tick, upper, 1 << power));
            }
            (META_TIME_SIGNATURE, _) => self.damage_track(byte, DamageKind::TimeSignature, 0, 0),
            (META_KEY_SIGNATURE, &[sharps, minor @ 0..=1])
                if (-7..=7).contains(&(sharps as i8)) =>
            {
                let sharps = sharps as i8;
                let mode = [KeyMode::Major, KeyMode::Minor][usize::from(minor)];
                self.keys.push(KeyChange { tick, sharps, mode });
            }
            (0x01..=0x0F, _) => self.add_text(TextKind::from_byte(kind), data, tick),
            _ => {}
        }
    }

    fn add_text(&mut self, kind: TextKind, data: &[u8], tick: u64) {
        let text = decode_text(data);
        let name = &mut self.track().name;
        if kind == TextKind::TrackName && name.is_none() {
            *name = Some(text.clone());
        }
        self.texts.push(RawText {
            track: self.tracks.len() - 1,
            tick,
            kind,
            text,
        });
    }

    fn track(&mut self) -> &mut RawTrack {
        if self.tracks.is_empty() {
            self.begin_track();
        }
        let last = self.tracks.len() - 1;
        &mut self.tracks[last]
    }
}
