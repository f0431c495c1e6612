//! One performance: the events, and the truth behind them.

use super::Habits;
use super::chance::{Chance, Stream};
use super::converter_faults::{Fault, convert};
use super::overlap::{SHORTEST, separate};
use super::{ringing, timing};
use crate::expected::{Expected, ExpectedNote};
use crate::played::TimedMessage;
use crate::units::{Key, Nanos};

/// What the stand-in played, and what it meant by it.
#[derive(Clone, Debug, PartialEq)]
pub struct Performance {
    /// Note-ons and their note-offs on channel 0, by time since bar 1 beat 1; at the same time the offs come first. A
    /// converter with faults makes something else of them.
    pub events: Vec<TimedMessage>,
    /// One entry a played note, by the time of its strike.
    pub truth: Vec<Truth>,
    /// What the converter did wrong.
    pub faults: Vec<Fault>,
}

/// The truth about one played note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Truth {
    /// Index into [`Expected::notes`] of the note it was meant for; `None` for an extra note.
    pub expected: Option<usize>,
    /// The key that sounded.
    pub key: Key,
    /// When it was struck, since bar 1 beat 1, without the latency.
    pub onset: Nanos,
    /// How long it sounded.
    pub length: Nanos,
    /// `onset` − the expected onset; 0 for an extra note.
    pub offset: Nanos,
    /// The converter's delay: its events come this much after `onset` and its end.
    pub latency: Nanos,
}

/// A played note before it becomes events.
#[derive(Clone, Copy, Debug)]
pub(super) struct SoundedNote {
    pub(super) expected: Option<usize>,
    pub(super) key: Key,
    pub(super) velocity: u8,
    /// When the line asks for it; an extra note is asked for when it sounds.
    pub(super) asked: Nanos,
    pub(super) onset: Nanos,
    pub(super) end: Nanos,
}

/// Plays a line with habits and tells the truth about it. The same seed plays the same take.
///
/// Notes last 10 ms at least, unless the line repeats a key sooner. The second note of a unison on two strings comes
/// 10 ms later: a MIDI channel cannot tell the two apart.
pub fn perform(expected: &Expected, habits: &Habits, seed: u64) -> Performance {
    let strikes: Vec<&[ExpectedNote]> = expected
        .notes
        .chunk_by(|one, other| one.group == other.group)
        .collect();
    let onsets = timing::onsets(&strikes, habits, seed);
    let mut hand = Hand::new(habits, seed);
    let mut notes = Vec::with_capacity(expected.notes.len());
    let mut index = 0;
    for (number, strike) in strikes.iter().enumerate() {
        let onset = onsets[number];
        let next = strikes
            .get(number + 1)
            .map(|next| (*next, onsets[number + 1]));
        for note in *strike {
            let end = ringing::end(note, onset, next, habits);
            notes.extend(hand.strike(index, note, onset, end));
            index += 1;
        }
        let until = next.map_or(onset + strike[0].written, |(_, onset)| onset);
        notes.extend(hand.stray(onset, until));
    }
    separate(&mut notes);
    let (events, faults) = convert(&notes, |key| latency(key, habits), habits, seed);
    Performance {
        events,
        faults,
        truth: notes.iter().map(|note| truth(note, habits)).collect(),
    }
}

/// What the hands do by chance.
struct Hand<'a> {
    habits: &'a Habits,
    velocity: Chance,
    wrong_frets: Chance,
    dropped: Chance,
    extra: Chance,
    /// The last key that the line asked for; a dead note sounds under it.
    key: Key,
}

impl<'a> Hand<'a> {
    fn new(habits: &'a Habits, seed: u64) -> Hand<'a> {
        Hand {
            habits,
            velocity: Chance::new(seed, Stream::Velocity),
            wrong_frets: Chance::new(seed, Stream::WrongFrets),
            dropped: Chance::new(seed, Stream::Dropped),
            extra: Chance::new(seed, Stream::Extra),
            // The open E string.
            key: Key(28),
        }
    }

    /// The note as it is played, unless it is dropped. Each chance is drawn even then, so that habits stay apart.
    fn strike(
        &mut self,
        index: usize,
        note: &ExpectedNote,
        onset: Nanos,
        end: Nanos,
    ) -> Option<SoundedNote> {
        self.key = note.key.unwrap_or(self.key);
        let velocity = self.velocity(note);
        let slip = self.slip();
        let key = match note.key {
            Some(key) => neighbour(key, slip),
            None => self.key,
        };
        let dropped = self.dropped.happens(self.habits.dropped);
        (!dropped).then_some(SoundedNote {
            expected: Some(index),
            key,
            velocity,
            asked: note.onset,
            onset,
            end,
        })
    }

    /// An extra note between this strike and the next: a neighbouring string, brushed.
    fn stray(&mut self, from: Nanos, until: Nanos) -> Option<SoundedNote> {
        let happens = self.extra.happens(self.habits.extra);
        let (place, side) = (self.extra.even(), self.extra.happens(0.5));
        let gap = (until - from).0 as f64;
        let onset = from + Nanos((gap * (0.25 + 0.5 * place)) as i64);
        let fourth = if side { 5 } else { -5 };
        happens.then_some(SoundedNote {
            expected: None,
            key: neighbour(self.key, fourth),
            velocity: 40,
            asked: onset,
            onset,
            end: onset + Nanos((gap * 0.2) as i64).max(SHORTEST),
        })
    }

    fn velocity(&mut self, note: &ExpectedNote) -> u8 {
        let meant = match note.is {
            is if is.accent => 100.0,
            is if is.optional || is.dead => 50.0,
            _ => 80.0,
        };
        let played = meant + self.habits.velocity_spread * self.velocity.normal();
        played.round().clamp(1.0, 127.0) as u8
    }

    fn slip(&mut self) -> i8 {
        let slips = self.wrong_frets.happens(self.habits.wrong_frets);
        let up = self.wrong_frets.happens(0.5);
        match (slips, up) {
            (false, _) => 0,
            (true, true) => 1,
            (true, false) => -1,
        }
    }
}

/// The key that many semitones away, or as far on the other side where there is none.
fn neighbour(key: Key, semitones: i8) -> Key {
    let to = |by: i8| key.0.checked_add_signed(by).filter(|key| *key < 128);
    Key(to(semitones).or(to(-semitones)).unwrap_or(key.0))
}

/// `fixed + periods / f0`.
fn latency(key: Key, habits: &Habits) -> Nanos {
    let periods_ms = 1000.0 * habits.latency_periods / key.frequency_hz();
    Nanos::from_ms_f64(habits.latency_fixed_ms + periods_ms)
}

fn truth(note: &SoundedNote, habits: &Habits) -> Truth {
    Truth {
        expected: note.expected,
        key: note.key,
        onset: note.onset,
        length: note.end - note.onset,
        offset: match note.expected {
            Some(_) => note.onset - note.asked,
            None => Nanos::ZERO,
        },
        latency: latency(note.key, habits),
    }
}
