//! MIDI files written by the tests, with midly rather than with code of ours. A tick of the file is a tick of a line.
#![allow(dead_code)] // each test file uses a part of it

use leadsman::expected::Expected;
use leadsman::line::Line;
use leadsman::midi::tick_clock::{Division, TickClock};
use leadsman::played::{MidiMessage, TimedMessage};
use leadsman::units::Nanos;
use midly::num::{u4, u7, u15, u24, u28};
use midly::{Format, Header, MetaMessage, Smf, Timing, Track, TrackEvent, TrackEventKind};
use std::num::NonZeroU16;

pub const DIVISION: u16 = 960;

/// Events of one track by tick.
#[derive(Default)]
pub struct Notes<'a> {
    pub events: Vec<(u64, TrackEventKind<'a>)>,
}

impl<'a> Notes<'a> {
    /// Notes of a channel from 1 as (tick, key, length in ticks, velocity).
    pub fn played(channel: u8, notes: &[(u64, u8, u64, u8)]) -> Notes<'a> {
        let mut track = Notes::default();
        for (tick, key, length, velocity) in notes {
            track.note(channel, (*tick, *key, *length), *velocity);
        }
        track
    }

    pub fn note(&mut self, channel: u8, (tick, key, length): (u64, u8, u64), velocity: u8) {
        self.midi(tick, channel, on(key, velocity));
        self.midi(tick + length, channel, on(key, 0));
    }

    pub fn midi(&mut self, tick: u64, channel: u8, message: midly::MidiMessage) {
        let channel = u4::from(channel - 1);
        self.events
            .push((tick, TrackEventKind::Midi { channel, message }));
    }

    pub fn with(mut self, tick: u64, meta: MetaMessage<'a>) -> Notes<'a> {
        self.events.push((tick, TrackEventKind::Meta(meta)));
        self
    }

    pub fn named(self, name: &'a str) -> Notes<'a> {
        self.with(0, MetaMessage::TrackName(name.as_bytes()))
    }

    fn track(&self) -> Track<'a> {
        let mut sorted = self.events.clone();
        let is_on = |kind: &TrackEventKind| {
            let velocity = match kind {
                TrackEventKind::Midi {
                    message: midly::MidiMessage::NoteOn { vel, .. },
                    ..
                } => vel.as_int(),
                _ => 0,
            };
            velocity > 0
        };
        sorted.sort_by_key(|(tick, kind)| (*tick, is_on(kind)));
        let mut before = 0;
        let mut track: Track = Vec::new();
        for (tick, kind) in sorted {
            let delta = u28::from((tick - before) as u32);
            before = tick;
            track.push(TrackEvent { delta, kind });
        }
        track.push(TrackEvent {
            delta: 0.into(),
            kind: TrackEventKind::Meta(MetaMessage::EndOfTrack),
        });
        track
    }
}

pub fn on(key: u8, velocity: u8) -> midly::MidiMessage {
    midly::MidiMessage::NoteOn {
        key: u7::from(key),
        vel: u7::from(velocity),
    }
}

pub fn tempo(micros: u32) -> MetaMessage<'static> {
    MetaMessage::Tempo(u24::from(micros))
}

/// A meter with the lower number as a power of two.
pub fn meter(upper: u8, power: u8) -> MetaMessage<'static> {
    MetaMessage::TimeSignature(upper, power, 24, 8)
}

pub fn marker(name: &str) -> MetaMessage<'_> {
    MetaMessage::Marker(name.as_bytes())
}

/// The file of some tracks, format 1; of one, format 0.
pub fn file(tracks: &[Notes<'_>]) -> Vec<u8> {
    let format = match tracks.len() {
        1 => Format::SingleTrack,
        _ => Format::Parallel,
    };
    let timing = Timing::Metrical(u15::from(DIVISION));
    let mut smf = Smf::new(Header::new(format, timing));
    smf.tracks = tracks.iter().map(Notes::track).collect();
    let mut bytes = Vec::new();
    smf.write_std(&mut bytes).expect("a file");
    bytes
}

/// What was played to a line, as a sequencer would have recorded it: the line's tempi and meters, its sections as
/// markers (of the first pass), a pickup as a bar of its own meter.
pub fn recorded(line: &Line, expected: &Expected, events: &[TimedMessage]) -> Vec<u8> {
    let first = expected.bars.first().expect("a bar");
    let before = -first.start.0;
    let tempi: Vec<(u64, u32)> = expected
        .tempo_map
        .changes()
        .map(|(at, _, rate)| {
            let micros = (60e6 / rate.quarters_per_minute()).round() as u32;
            ((at.0 + before).max(0) as u64, micros)
        })
        .collect();
    let mut at_zero = tempi.clone();
    at_zero[0].0 = 0;
    let division = Division::PerQuarter(NonZeroU16::new(DIVISION).expect("ticks"));
    let clock = TickClock::new(division, &at_zero);
    let start = clock.time_of(before as u64);
    let mut conductor = Notes::default().named("As recorded");
    for (tick, micros) in &at_zero {
        conductor = conductor.with(*tick, tempo(*micros));
    }
    let mut section = None;
    let mut in_force = (0, 0);
    for bar in &expected.bars {
        let tick = (bar.start.0 + before) as u64;
        let own = &line.sections[usize::from(bar.section)];
        let full = own.meter.unwrap_or(line.meter);
        let is_pickup = bar.length < full.bar();
        let now = match is_pickup {
            true => (u8::try_from(bar.length.0 / 480).expect("short"), 8),
            false => (full.upper, full.lower),
        };
        if now != in_force {
            conductor = conductor.with(tick, meter(now.0, now.1.ilog2() as u8));
            in_force = now;
        }
        if section.replace(bar.section) != Some(bar.section) {
            conductor = conductor.with(tick, marker(&own.name));
        }
    }
    let mut bass = Notes::default().named("Bass");
    for event in events {
        let tick = clock.tick_of(event.at + Nanos(start.0));
        match event.message {
            MidiMessage::NoteOn { key, velocity, .. } => bass.midi(tick, 1, on(key.0, velocity)),
            MidiMessage::NoteOff { key, .. } => bass.midi(tick, 1, on(key.0, 0)),
            _ => {}
        }
    }
    file(&[conductor, bass])
}
