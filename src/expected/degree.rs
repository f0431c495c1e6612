//! The degree of the key that a stop is.

use super::Degree;
use crate::line::key_signature::{KeySignature, Mode};
use crate::line::pitch::PitchClass;
use crate::units::Key;

/// How a note outside the mode is named when only its place on the fingerboard is known: flat, but for the raised fourth.
const OUTSIDE: [(u8, i8); 12] = [
    (1, 0),
    (2, -1),
    (2, 0),
    (3, -1),
    (3, 0),
    (4, 0),
    (4, 1),
    (5, 0),
    (6, -1),
    (6, 0),
    (7, -1),
    (7, 0),
];

impl Degree {
    /// The degree of a spelled note: the number is the distance of the letters.
    pub fn of_spelled(class: PitchClass, key: KeySignature) -> Degree {
        let steps = (class.letter + 7 - key.tonic.letter) % 7;
        let natural = Mode::Major.scale()[usize::from(steps)];
        let above = class.semitones() - key.tonic.semitones() - natural;
        Degree {
            number: steps + 1,
            accidental: (above + 6).rem_euclid(12) - 6,
        }
    }

    /// The degree of a note known only by its sound: as the mode spells it, else as a flat (the raised fourth as `#4`).
    pub fn of_key(sounding: Key, key: KeySignature) -> Degree {
        let above = (i16::from(sounding.0) - i16::from(key.tonic.semitones())).rem_euclid(12);
        let in_mode = key
            .mode
            .scale()
            .into_iter()
            .zip(Mode::Major.scale())
            .zip(1..)
            .find(|((step, _), _)| i16::from(*step) == above);
        let (number, accidental) = match in_mode {
            Some(((step, natural), number)) => (number, step - natural),
            None => OUTSIDE[above as usize],
        };
        Degree { number, accidental }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn class(letter: u8, accidental: i8) -> PitchClass {
        PitchClass { letter, accidental }
    }

    const fn key(tonic: PitchClass, mode: Mode) -> KeySignature {
        KeySignature { tonic, mode }
    }

    const D_MINOR: KeySignature = key(class(1, 0), Mode::Minor);
    const DB_MIXOLYDIAN: KeySignature = key(class(1, -1), Mode::Mixolydian);

    fn spelled(letter: u8, accidental: i8, key: KeySignature) -> String {
        Degree::of_spelled(class(letter, accidental), key).to_string()
    }

    /// Common practice: the flat seventh of Db is Cb, the raised seventh of D minor is C#.
    #[test]
    fn a_spelled_note_is_counted_by_letters() {
        assert_eq!(spelled(0, 0, D_MINOR), "b7");
        assert_eq!(spelled(0, 1, D_MINOR), "7");
        assert_eq!(spelled(3, 0, D_MINOR), "b3");
        assert_eq!(spelled(0, -1, DB_MIXOLYDIAN), "b7");
        assert_eq!(spelled(6, 0, DB_MIXOLYDIAN), "#6");
        assert_eq!(spelled(6, 1, key(class(0, 0), Mode::Major)), "#7");
        assert_eq!(spelled(1, -2, key(class(0, 1), Mode::Major)), "bbb2");
    }

    #[test]
    fn a_fretted_note_is_spelled_by_the_mode_first() {
        let degree = |sounding, key| Degree::of_key(Key(sounding), key).to_string();
        assert_eq!(degree(36, D_MINOR), "b7");
        assert_eq!(degree(37, D_MINOR), "7");
        assert_eq!(degree(35, DB_MIXOLYDIAN), "b7");
        assert_eq!(degree(44, D_MINOR), "#4");
        assert_eq!(degree(44, key(class(1, 0), Mode::Locrian)), "b5");
        assert_eq!(degree(39, D_MINOR), "b2");
        // Cb as a tonic lies below C of the same octave.
        assert_eq!(degree(35, key(class(0, -1), Mode::Major)), "1");
    }
}
