//! The keys that the stand-in plays in place of the expected ones.

use super::Habits;
use super::chance::{Chance, Stream};
use super::fingerboard::Fingerboard;
use super::timing::Strike;
use crate::expected::{Degree, Expected, ExpectedNote};
use crate::units::Key;
use std::collections::HashMap;

/// Bars of a pass that are played in the key of the pass before.
const OLD_KEY_BARS: u32 = 2;

/// What the fretting hand gets wrong.
pub(super) struct PitchSlips<'a> {
    habits: &'a Habits,
    wrong_frets: Chance,
    octaves: Chance,
    next_string: Chance,
    fingerboard: Fingerboard,
    /// By bar, in semitones.
    old_key: Vec<i16>,
}

impl<'a> PitchSlips<'a> {
    pub(super) fn new(expected: &Expected, habits: &'a Habits, seed: u64) -> PitchSlips<'a> {
        PitchSlips {
            habits,
            wrong_frets: Chance::new(seed, Stream::WrongFrets),
            octaves: Chance::new(seed, Stream::OctaveSlips),
            next_string: Chance::new(seed, Stream::NextString),
            fingerboard: Fingerboard::of(expected),
            old_key: if habits.old_key >= 0.5 {
                old_keys(expected)
            } else {
                vec![0; expected.bars.len()]
            },
        }
    }

    /// The key that is played for a note of a strike; a dead one has none. Every chance is drawn for every note. A note of
    /// a double stop slips to no other one's key.
    pub(super) fn played(&mut self, note: &ExpectedNote, strike: Strike) -> Option<Key> {
        let fret = slip(&mut self.wrong_frets, self.habits.wrong_frets);
        let octave = slip(&mut self.octaves, self.habits.octave_slips);
        let string = slip(&mut self.next_string, self.habits.next_string);
        let meant = self.meant(note)?;
        let board = &self.fingerboard;
        let is_free = |key: &Key| strike.iter().all(|other| self.meant(other) != Some(*key));
        let away = |semitones| board.away(meant, semitones).filter(is_free);
        let slipped = if octave != 0 {
            either(octave, |side| away(12 * side))
        } else {
            either(string, |side| away(board.to_next_string(note, side)?))
        };
        Some(neighbour(slipped.unwrap_or(meant), fret as i8))
    }

    /// The key that the player takes for the right one.
    fn meant(&self, note: &ExpectedNote) -> Option<Key> {
        let flat = |number| {
            let accidental = -1;
            note.degree == Some(Degree { number, accidental })
        };
        let raised = (flat(7) && self.habits.raised_sevenths >= 0.5)
            || (flat(3) && self.habits.major_thirds >= 0.5);
        let by = self.old_key[note.bar as usize] + i16::from(raised);
        note.key.map(|key| neighbour(key, by as i8))
    }
}

/// 0, or the side to which it goes wrong.
fn slip(chance: &mut Chance, share: f64) -> i16 {
    let slips = chance.happens(share);
    let up = chance.happens(0.5);
    match (slips, up) {
        (false, _) => 0,
        (true, true) => 1,
        (true, false) => -1,
    }
}

/// The key on that side or, where the instrument has none, on the other.
fn either(side: i16, key: impl Fn(i16) -> Option<Key>) -> Option<Key> {
    if side == 0 {
        return None;
    }
    key(side).or_else(|| key(-side))
}

/// The key that many semitones away, or as far on the other side where there is none.
pub(super) fn neighbour(key: Key, semitones: i8) -> Key {
    let to = |by: i8| key.0.checked_add_signed(by).filter(|key| *key < 128);
    Key(to(semitones).or(to(-semitones)).unwrap_or(key.0))
}

/// For each bar how far it is to the key of the pass before: 0 but in the first bars of a pass in another key.
fn old_keys(expected: &Expected) -> Vec<i16> {
    let place = |bar: u32| {
        let bar = &expected.bars[bar as usize];
        (bar.section, bar.pass, bar.number)
    };
    // A pass moves all its notes by the same span, so that the first one of a bar tells it.
    let mut firsts: HashMap<(u16, u32, u32), i16> = HashMap::new();
    for note in &expected.notes {
        if let Some(Key(key)) = note.key {
            firsts.entry(place(note.bar)).or_insert(i16::from(key));
        }
    }
    let mut played_bars = 0;
    let of_bar = |bar: u32| {
        let (section, pass, number) = place(bar);
        let is_first = bar == 0 || place(bar - 1).0 != section || place(bar - 1).1 != pass;
        played_bars = if is_first { 1 } else { played_bars + 1 };
        let now = firsts.get(&(section, pass, number));
        let before = firsts.get(&(section, pass - 1, number));
        match (before, now) {
            (Some(before), Some(now)) if played_bars <= OLD_KEY_BARS => before - now,
            _ => 0,
        }
    };
    (0..expected.bars.len() as u32).map(of_bar).collect()
}
