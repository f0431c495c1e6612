//! What a pitch-to-MIDI converter makes of clean playing: the faults that [`played::cleanup`](crate::played::cleanup)
//! is there to undo, injected one a note and told.
//!
//! The note underneath stays true: it begins where it was played and has the key that it comes to. A fault is only put
//! where there is room for it, in notes of 90 ms or more that no other note of the channel begins close to.

use super::Habits;
use super::chance::{Chance, Stream};
use super::performance::SoundedNote;
use crate::played::cleanup::Rule;
use crate::played::{MidiMessage, TimedMessage};
use crate::units::{Key, Nanos};

/// A note needs this much of its own.
const ROOM: Nanos = Nanos::from_ms(90);
/// No other note of the channel begins this close before it.
const APART: Nanos = Nanos::from_ms(60);
/// An off that comes this much after the next on is of a note that has ended.
const JUST_ENDED: Nanos = Nanos::from_ms(4);
/// The open strings of a bass in fourths, from the highest; each has the channel of its place.
const OPEN: [u8; 4] = [43, 38, 33, 28];

/// A fault that was put in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fault {
    /// The rule that undoes it.
    pub rule: Rule,
    /// Index into [`Performance::truth`](super::Performance::truth) of the note it was done to.
    pub note: usize,
}

/// The faults that have shares, in the order in which one is drawn.
fn shares(habits: &Habits) -> [(Rule, f64); 6] {
    [
        (Rule::OctaveGlitches, habits.octave_glitches),
        (Rule::DoubledNotes, habits.doubled_notes),
        (Rule::SlideSteps, habits.slide_steps),
        (Rule::BendSplits, habits.bend_splits),
        (Rule::GhostTriggers, habits.ghost_triggers),
        (Rule::MissingOffs, habits.missing_offs),
    ]
}

/// The messages of the notes through a converter with faults, by time, and the faults. `notes` are by onset; `delays` is
/// what the converter adds to each.
pub(super) fn convert(
    notes: &[SoundedNote],
    delay: impl Fn(Key) -> Nanos,
    habits: &Habits,
    seed: u64,
) -> (Vec<TimedMessage>, Vec<Fault>) {
    let mut converter = Converter {
        chance: Chance::new(seed, Stream::Converter),
        messages: Vec::with_capacity(3 * notes.len()),
    };
    let spans: Vec<Span> = notes
        .iter()
        .map(|note| Span::new(note, delay(note.key), habits))
        .collect();
    let mut faults = Vec::new();
    for (index, span) in spans.iter().enumerate() {
        let fault = converter.draw(habits);
        let fault = fault.filter(|rule| has_room(&spans, index, *rule));
        converter.send(span, fault);
        faults.extend(fault.map(|rule| Fault { rule, note: index }));
    }
    let mut messages = converter.messages;
    messages.sort_by_key(|(event, order)| (event.at, *order));
    let messages = messages.into_iter().map(|(event, _)| event).collect();
    (messages, faults)
}

/// A note in the converter's time.
#[derive(Clone, Copy)]
struct Span {
    channel: u8,
    key: Key,
    velocity: u8,
    on: Nanos,
    off: Nanos,
}

impl Span {
    fn new(note: &SoundedNote, delay: Nanos, habits: &Habits) -> Span {
        let string = OPEN.iter().position(|open| note.key.0 >= *open);
        let by_string = habits.string_channels >= 0.5;
        Span {
            channel: if by_string {
                string.unwrap_or(3) as u8
            } else {
                0
            },
            key: note.key,
            velocity: note.velocity,
            on: note.onset + delay,
            off: note.end + delay,
        }
    }
}

/// Whether nothing on the channel comes near its beginning and, for what happens in mid-note, whether it is alone.
fn has_room(spans: &[Span], index: usize, fault: Rule) -> bool {
    let own = spans[index];
    let until = match fault {
        Rule::OctaveGlitches | Rule::DoubledNotes => own.on + ROOM,
        _ => own.off,
    };
    let near = |other: &Span| {
        let begins = own.on - APART < other.on && other.on < until;
        let sounds = other.on <= own.on && own.on + JUST_ENDED < other.off;
        other.channel == own.channel && (begins || sounds)
    };
    // The notes are by onset; what is further away has ended, or rings on for longer than any habit has it.
    let others =
        (index.saturating_sub(16)..(index + 17).min(spans.len())).filter(|other| *other != index);
    own.off - own.on >= ROOM && !others.map(|other| &spans[other]).any(near)
}

struct Converter {
    chance: Chance,
    /// With an order at one time: the wheel, ends, beginnings.
    messages: Vec<(TimedMessage, u8)>,
}

impl Converter {
    fn draw(&mut self, habits: &Habits) -> Option<Rule> {
        let mut drawn = self.chance.even();
        shares(habits).into_iter().find_map(|(rule, share)| {
            drawn -= share;
            (drawn < 0.0).then_some(rule)
        })
    }

    fn send(&mut self, span: &Span, fault: Option<Rule>) {
        match fault {
            Some(Rule::OctaveGlitches) => self.octave(span),
            Some(Rule::DoubledNotes) => self.doubled(span),
            Some(Rule::SlideSteps) => self.slide(span),
            Some(Rule::BendSplits) => self.bent(span),
            Some(Rule::GhostTriggers) => self.ghost(span),
            Some(Rule::MissingOffs) => self.on(span, span.key, span.on),
            _ => self.whole(span),
        }
    }

    fn whole(&mut self, span: &Span) {
        self.on(span, span.key, span.on);
        self.off(span, span.key, span.off);
    }

    /// An octave off for 10 to 38 ms, the correction up to 2 ms before or after the off.
    fn octave(&mut self, span: &Span) {
        let guess = self.neighbour(span.key, 12);
        let corrected = span.on + self.between_ms(10.0, 37.5);
        let off = corrected + self.between_ms(-2.0, 2.0);
        self.on(span, guess, span.on);
        self.off(span, guess, off);
        self.on(span, span.key, corrected);
        self.off(span, span.key, span.off);
    }

    /// Twice within 29 ms, with an off between, or with one or two offs at the end.
    fn doubled(&mut self, span: &Span) {
        let again = span.on + self.between_ms(5.0, 29.0);
        self.whole(span);
        self.on(span, span.key, again);
        let kind = self.chance.even();
        if kind < 0.4 {
            let off = again - self.between_ms(0.5, 4.0);
            self.off(span, span.key, off);
        } else if kind < 0.7 {
            let second = span.off + self.between_ms(0.0, 1.0);
            self.off(span, span.key, second);
        }
    }

    /// Two to six steps of a semitone, 8 to 38 ms each, as far as the note has room.
    fn slide(&mut self, span: &Span) {
        let way: i8 = if self.chance.happens(0.5) { 1 } else { -1 };
        let steps = 2 + (5.0 * self.chance.even()) as i8;
        let room = (span.off - span.on - Nanos::from_ms(45)).0 / i64::from(steps);
        let most = (Nanos(room).ms()).min(38.0);
        let mut at = span.on;
        for step in (1..=steps).rev() {
            let key = shifted(span.key, -way * step);
            self.on(span, key, at);
            at += self.between_ms(8.0, most);
            self.off(span, key, at);
        }
        self.on(span, span.key, at);
        self.off(span, span.key, span.off);
    }

    /// The string is bent away until the converter changes over to the neighbouring key and centres its wheel.
    fn bent(&mut self, span: &Span) {
        let way: i8 = if self.chance.happens(0.5) { 1 } else { -1 };
        let split = span.on + Nanos((span.off - span.on).0 / 2);
        self.on(span, span.key, span.on);
        for (before_ms, cents) in [(12.0, 20), (8.0, 35), (4.0, 50)] {
            let at = split - Nanos::from_ms_f64(before_ms);
            self.bend(span, at, i32::from(way) * cents);
        }
        let other = shifted(span.key, way);
        let off = split + self.between_ms(-2.0, 2.0);
        self.off(span, span.key, off);
        self.bend(span, split, 0);
        self.on(span, other, split);
        self.off(span, other, span.off);
    }

    /// Something soft and short in the middle of the note.
    fn ghost(&mut self, span: &Span) {
        let key = self.neighbour(span.key, 7);
        let at = span.on + Nanos((span.off - span.on).0 / 2);
        let soft = Span {
            velocity: 5 + (20.0 * self.chance.even()) as u8,
            ..*span
        };
        self.whole(span);
        self.on(&soft, key, at);
        let off = at + self.between_ms(2.0, 14.0);
        self.off(&soft, key, off);
    }

    fn neighbour(&mut self, key: Key, semitones: i8) -> Key {
        let down = self.chance.happens(0.5);
        shifted(key, if down { -semitones } else { semitones })
    }

    fn between_ms(&mut self, least: f64, most: f64) -> Nanos {
        Nanos::from_ms_f64(least + (most - least) * self.chance.even())
    }

    fn on(&mut self, span: &Span, key: Key, at: Nanos) {
        let (channel, velocity) = (span.channel, span.velocity);
        let message = MidiMessage::NoteOn {
            channel,
            key,
            velocity,
        };
        self.messages.push((TimedMessage { at, message }, 2));
    }

    fn off(&mut self, span: &Span, key: Key, at: Nanos) {
        let channel = span.channel;
        let message = MidiMessage::NoteOff { channel, key };
        self.messages.push((TimedMessage { at, message }, 1));
    }

    /// Of the usual range of two semitones.
    fn bend(&mut self, span: &Span, at: Nanos, cents: i32) {
        let wheel = (8192 + cents * 8192 / 200).clamp(0, 16_383);
        let bytes = [
            0xE0 | span.channel,
            (wheel % 128) as u8,
            (wheel / 128) as u8,
        ];
        let message = MidiMessage::Other(bytes);
        self.messages.push((TimedMessage { at, message }, 0));
    }
}

fn shifted(key: Key, semitones: i8) -> Key {
    Key(key.0.saturating_add_signed(semitones).min(127))
}
