//! The open strings and the fingerboard.

use super::pitch::Pitch;
use crate::units::Key;

/// The highest fret that a line may ask for.
pub const HIGHEST_FRET: u8 = 24;

/// A string as players number them: 1 is the highest sounding one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct StringNumber(pub u8);

/// The open strings, lowest first; one to eight of them, each higher than the one before.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tuning {
    /// Sounding pitches of the open strings, lowest first.
    pub open: Vec<Pitch>,
}

impl Tuning {
    /// The pitch of an open string, or `None` when there is no such string.
    pub fn open_string(&self, string: StringNumber) -> Option<Pitch> {
        let from_lowest = self.open.len().checked_sub(usize::from(string.0))?;
        self.open.get(from_lowest).copied()
    }

    /// The key at a fret, or `None` when the instrument has no such place. Fret n sounds n semitones above the open string.
    pub fn key_at(&self, string: StringNumber, fret: u8) -> Option<Key> {
        let open = self.open_string(string)?.key()?;
        (fret <= HIGHEST_FRET)
            .then(|| Key(open.0 + fret))
            .filter(|key| key.0 < 128)
    }

    /// The fret of a key on a string, or `None` when it is below the open string or beyond the last fret.
    pub fn fret_of(&self, key: Key, string: StringNumber) -> Option<u8> {
        let fret = key.0.checked_sub(self.open_string(string)?.key()?.0)?;
        (fret <= HIGHEST_FRET).then_some(fret)
    }

    /// What a line file and a report call the string: its letter (`D`, `Eb`), or its number where two strings share a letter.
    pub fn label(&self, string: StringNumber) -> String {
        let Some(open) = self.open_string(string) else {
            return string.0.to_string();
        };
        let shared = self
            .open
            .iter()
            .filter(|other| other.class == open.class)
            .count()
            > 1;
        if shared {
            string.0.to_string()
        } else {
            open.class.to_string()
        }
    }
}

impl Default for Tuning {
    /// Four strings in fourths: E1 A1 D2 G2.
    fn default() -> Tuning {
        use super::pitch::PitchClass;
        let string = |letter, octave| Pitch {
            class: PitchClass {
                letter,
                accidental: 0,
            },
            octave,
        };
        Tuning {
            open: vec![string(2, 1), string(5, 1), string(1, 2), string(4, 2)],
        }
    }
}
