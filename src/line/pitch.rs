//! Sounding pitches in scientific notation, spelling kept.

use super::note_grammar;
use crate::units::Key;
use std::str::FromStr;
use winnow::Parser;

/// A spelled sounding pitch: `Eb3`, `F#2`, `Cb4`. Spelling matters to a reader, so `E#2` and `F2` are different
/// pitches that sound the same [`Key`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Pitch {
    /// Letter and accidental.
    pub class: PitchClass,
    /// The octave number; C4 is middle C.
    pub octave: i8,
}

/// A spelled pitch without an octave.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct PitchClass {
    /// 0 = C, 1 = D … 6 = B.
    pub letter: u8,
    /// Sharps, negative for flats; −2 to 2.
    pub accidental: i8,
}

impl PitchClass {
    /// Semitones above C of the same octave number; may be below 0 (`Cb`) or above 11 (`B#`).
    pub fn semitones(self) -> i8 {
        const NATURAL: [i8; 7] = [0, 2, 4, 5, 7, 9, 11];
        NATURAL[usize::from(self.letter)] + self.accidental
    }

    /// The note that many letters and semitones higher, in any octave, or `None` where it would need more than a double
    /// accidental.
    pub fn moved(self, letters: u8, semitones: i8) -> Option<PitchClass> {
        let letter = (self.letter + letters) % 7;
        let natural = PitchClass {
            letter,
            accidental: 0,
        };
        let above = self.semitones() + semitones - natural.semitones();
        let accidental = (above + 6).rem_euclid(12) - 6;
        (accidental.abs() <= 2).then_some(PitchClass { letter, accidental })
    }

    /// Whether a key is this note in some octave.
    pub fn sounds(self, key: Key) -> bool {
        (i16::from(key.0) - i16::from(self.semitones())) % 12 == 0
    }
}

impl Pitch {
    /// The key it sounds, or `None` outside 0 to 127.
    pub fn key(self) -> Option<Key> {
        let semitones = 12 * (i16::from(self.octave) + 1) + i16::from(self.class.semitones());
        u8::try_from(semitones)
            .ok()
            .filter(|key| *key < 128)
            .map(Key)
    }
}

/// The text is not a note name.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is not a note name (a letter A to G, then `#` or `b`)")]
pub struct NotAPitchClass(pub String);

/// The text is not a pitch.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` is not a pitch (a note name and an octave number, such as `Eb3`)")]
pub struct NotAPitch(pub String);

impl FromStr for PitchClass {
    type Err = NotAPitchClass;

    fn from_str(text: &str) -> Result<PitchClass, NotAPitchClass> {
        note_grammar::pitch_class
            .parse(text)
            .map_err(|_| NotAPitchClass(text.to_owned()))
    }
}

impl FromStr for Pitch {
    type Err = NotAPitch;

    fn from_str(text: &str) -> Result<Pitch, NotAPitch> {
        note_grammar::pitch
            .parse(text)
            .map_err(|_| NotAPitch(text.to_owned()))
    }
}

impl std::fmt::Display for PitchClass {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let letter = char::from(b"CDEFGAB"[usize::from(self.letter)]);
        let accidental = if self.accidental < 0 { "b" } else { "#" };
        write!(
            f,
            "{letter}{}",
            accidental.repeat(usize::from(self.accidental.unsigned_abs()))
        )
    }
}

impl std::fmt::Display for Pitch {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}{}", self.class, self.octave)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Scientific pitch notation: C4 is middle C, key 60; the octave number changes at C.
    #[test]
    fn pitches_read_as_scientific_notation_says() {
        for (text, key) in [
            ("C4", 60),
            ("E1", 28),
            ("B0", 23),
            ("Eb3", 51),
            ("F#2", 42),
            ("Cb4", 59),
            ("B#3", 60),
            ("Dbb3", 48),
            ("C-1", 0),
            ("G9", 127),
        ] {
            let pitch: Pitch = text.parse().unwrap();
            assert_eq!(pitch.key(), Some(Key(key)), "{text}");
            assert_eq!(pitch.to_string(), text);
        }
    }

    #[test]
    fn spellings_of_one_key_stay_apart() {
        let (sharp, plain): (Pitch, Pitch) = ("E#2".parse().unwrap(), "F2".parse().unwrap());
        assert_ne!(sharp, plain);
        assert_eq!(sharp.key(), plain.key());
    }

    #[test]
    fn what_is_no_pitch_is_refused() {
        for text in [
            "", "H2", "d2", "D", "D2 ", "D##2#", "Dbbb2", "D#b2", "D+2", "D1000",
        ] {
            assert!(text.parse::<Pitch>().is_err(), "{text}");
        }
        assert!("Eb3".parse::<PitchClass>().is_err());
    }

    #[test]
    fn pitches_beyond_midi_have_no_key() {
        assert_eq!("G#9".parse::<Pitch>().unwrap().key(), None);
        assert_eq!("Cb-1".parse::<Pitch>().unwrap().key(), None);
    }
}
