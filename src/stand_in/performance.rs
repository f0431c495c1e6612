//! One performance: the events, and the truth behind them.

use super::Habits;
use super::chance::{Chance, Stream};
use super::converter_faults::{Fault, convert};
use super::overlap::{SHORTEST, separate};
use super::pitch_slips::{PitchSlips, neighbour};
use super::ringing::{Next, Ringing};
use super::timing::{self, OwnTime, Placed, Strike};
use crate::expected::{Expected, ExpectedNote};
use crate::line::Stroke;
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
    let strikes: Vec<Strike> = expected
        .notes
        .chunk_by(|one, other| one.group == other.group)
        .collect();
    let own = OwnTime::new(expected, habits);
    let places = timing::place(expected, &strikes, &own, habits, seed);
    let ringing = Ringing::new(expected, &own, habits);
    let mut hand = Hand::new(expected, habits, seed);
    let mut notes = Vec::with_capacity(expected.notes.len());
    let mut index = 0;
    for (number, strike) in strikes.iter().enumerate() {
        let placed = places[number];
        let next = next_after(number, &strikes, &places);
        for note in *strike {
            let sounds = placed.map(|placed| (placed.onset, ringing.end(note, placed, next)));
            notes.extend(hand.strike(index, note, strike, sounds));
            index += 1;
        }
        notes.extend(hand.stray(placed.map(|placed| {
            let until = next.map_or(placed.onset + strike[0].written, |next| next.at);
            (placed.onset, until)
        })));
    }
    play_again(expected, &own, habits, &mut notes);
    separate(&mut notes);
    let (events, faults) = convert(&notes, |key| latency(key, habits), habits, seed);
    Performance {
        events,
        faults,
        truth: notes.iter().map(|note| truth(note, habits)).collect(),
    }
}

/// What is played after a strike.
fn next_after<'a>(
    number: usize,
    strikes: &[Strike<'a>],
    places: &[Option<Placed>],
) -> Option<Next<'a>> {
    let next = (number + 1..strikes.len()).find(|next| places[*next].is_some())?;
    let displaced = |strike: usize| places[strike].map(|placed| placed.displaced);
    Some(Next {
        strike: strikes[next],
        at: places[next]?.onset,
        as_written: next == number + 1 && displaced(next) == displaced(number),
    })
}

/// The bar that is played twice sounds the second time as it did the first, in the place of the next.
fn play_again(expected: &Expected, own: &OwnTime, habits: &Habits, notes: &mut Vec<SoundedNote>) {
    let Some((bar, length)) = timing::repeated_bar(expected, habits) else {
        return;
    };
    let later = own.stretched(length);
    let is_of_bar = |note: &&SoundedNote| {
        let meant = note.expected.map(|index| &expected.notes[index]);
        meant.is_some_and(|meant| meant.bar == bar)
    };
    let again = |note: &SoundedNote| SoundedNote {
        expected: None,
        asked: note.onset + later,
        onset: note.onset + later,
        end: note.end + later,
        ..*note
    };
    let again: Vec<SoundedNote> = notes.iter().filter(is_of_bar).map(again).collect();
    notes.extend(again);
}

/// What the hands do by chance.
struct Hand<'a> {
    habits: &'a Habits,
    velocity: Chance,
    pitches: PitchSlips<'a>,
    dropped: Chance,
    extra: Chance,
    /// The last key that the line asked for; a dead note sounds under it.
    key: Key,
}

impl<'a> Hand<'a> {
    fn new(expected: &Expected, habits: &'a Habits, seed: u64) -> Hand<'a> {
        Hand {
            habits,
            velocity: Chance::new(seed, Stream::Velocity),
            pitches: PitchSlips::new(expected, habits, seed),
            dropped: Chance::new(seed, Stream::Dropped),
            extra: Chance::new(seed, Stream::Extra),
            // The open E string.
            key: Key(28),
        }
    }

    /// The note as it is played from one time to another, unless it is left out or dropped. Each chance is drawn even then, so that habits stay apart.
    fn strike(
        &mut self,
        index: usize,
        note: &ExpectedNote,
        strike: Strike,
        sounds: Option<(Nanos, Nanos)>,
    ) -> Option<SoundedNote> {
        self.key = note.key.unwrap_or(self.key);
        let velocity = self.velocity(note);
        let key = self.pitches.played(note, strike).unwrap_or(self.key);
        let dropped = self.dropped.happens(self.habits.dropped);
        let (onset, end) = sounds?;
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
    fn stray(&mut self, between: Option<(Nanos, Nanos)>) -> Option<SoundedNote> {
        let happens = self.extra.happens(self.habits.extra);
        let (place, side) = (self.extra.even(), self.extra.happens(0.5));
        let (from, until) = between?;
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
        let stroke = match note.stroke {
            Some(Stroke::Up) => self.habits.up_strokes_velocity,
            _ => 0.0,
        };
        let played = meant + stroke + self.habits.velocity_spread * self.velocity.normal();
        played.round().clamp(1.0, 127.0) as u8
    }
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
