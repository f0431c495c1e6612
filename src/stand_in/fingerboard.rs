//! The instrument that a line was unrolled for, as far as the expected notes tell it.

use crate::expected::{Expected, ExpectedNote};
use crate::line::pitch::PitchClass;
use crate::line::tuning::HIGHEST_FRET;
use crate::units::Key;

/// Semitones from one string to the next.
const FOURTH: i16 = 5;

/// The open strings, lowest first. Where no note of the line tells a string's pitch, it is the one of its label that is
/// nearest to a bass in fourths, with a low B from five strings on.
pub(super) struct Fingerboard {
    open: Vec<i16>,
}

impl Fingerboard {
    pub(super) fn of(expected: &Expected) -> Fingerboard {
        let lowest = if expected.strings.len() < 5 { 28 } else { 23 };
        let labels = expected.strings.iter().rev().zip(0..);
        let mut open: Vec<i16> = labels
            .map(|(label, place)| {
                let usual: i16 = lowest + FOURTH * place;
                let class = label.parse::<PitchClass>();
                let above = class.map_or(0, |class| i16::from(class.semitones()) - usual);
                usual + (above + 6).rem_euclid(12) - 6
            })
            .collect();
        for note in &expected.notes {
            if let (Some(key), Some(string), Some(fret)) = (note.key, note.string, note.fret) {
                let place = open.len() - usize::from(string);
                open[place] = i16::from(key.0) - i16::from(fret);
            }
        }
        Fingerboard { open }
    }

    /// The key that many semitones away, if the instrument has it.
    pub(super) fn away(&self, key: Key, semitones: i16) -> Option<Key> {
        let moved = i16::from(key.0) + semitones;
        let frets = 0..=i16::from(HIGHEST_FRET);
        let reached = self.open.iter().any(|open| frets.contains(&(moved - open)));
        let moved = u8::try_from(moved).ok().filter(|moved| *moved < 128);
        moved.filter(|_| reached).map(Key)
    }

    /// How far it is to the same fret of the next string up (`towards` 1) or down (−1): a fourth where the line does
    /// not name the note's string. `None` where there is no such string.
    pub(super) fn to_next_string(&self, note: &ExpectedNote, towards: i16) -> Option<i16> {
        let Some(string) = note.string else {
            return Some(FOURTH * towards);
        };
        let place = self.open.len() - usize::from(string);
        let next = place.checked_add_signed(towards as isize)?;
        Some(self.open.get(next)? - self.open[place])
    }
}
