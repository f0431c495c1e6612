//! Degrees: a note counted from the tonic of the key, or from the root of the chord.

use super::key_signature::{KeySignature, Mode};
use super::pitch::PitchClass;
use crate::units::Key;

/// A degree: 1 to 7 with an accidental against the **major** scale on the same tonic or root, so that the seventh of
/// a minor key is `b7` and the raised one `7`. A ninth, eleventh or thirteenth is the 2, 4 or 6 that it sounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Degree {
    /// 1 to 7.
    pub number: u8,
    /// Sharps, negative for flats.
    pub accidental: i8,
}

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
    /// The degree of a spelled note of a key: the number is the distance of the letters.
    pub fn of_spelled(class: PitchClass, key: KeySignature) -> Degree {
        Degree::between(key.tonic, class)
    }

    /// How far a spelled note is above a tonic or root: the number is the distance of the letters.
    pub fn between(base: PitchClass, class: PitchClass) -> Degree {
        let steps = (class.letter + 7 - base.letter) % 7;
        let natural = Mode::Major.scale()[usize::from(steps)];
        let above = class.semitones() - base.semitones() - natural;
        Degree {
            number: steps + 1,
            accidental: (above + 6).rem_euclid(12) - 6,
        }
    }

    /// The degree of a note known only by its sound: as the mode spells it, else as a flat (the raised fourth as `#4`).
    pub fn of_key(sounding: Key, key: KeySignature) -> Degree {
        Degree::in_mode(sounding, key).unwrap_or_else(|| Degree::outside(sounding, key.tonic))
    }

    /// The degree of a note that the mode has.
    pub fn in_mode(sounding: Key, key: KeySignature) -> Option<Degree> {
        let above = above(sounding, key.tonic);
        let degrees = key.mode.scale().into_iter().zip(Mode::Major.scale());
        let found = degrees.zip(1..).find(|((step, _), _)| *step == above);
        found.map(|((step, natural), number)| Degree {
            number,
            accidental: step - natural,
        })
    }

    /// The degree of a note of which nothing is known but its distance: flat, but for the raised fourth.
    pub fn outside(sounding: Key, base: PitchClass) -> Degree {
        let (number, accidental) = OUTSIDE[above(sounding, base) as usize];
        Degree { number, accidental }
    }

    /// Semitones above the tonic or root; below 0 (`b1`) or above 11 (`#7`) where the accidental leads there.
    pub fn semitones(self) -> i8 {
        Mode::Major.scale()[usize::from(self.number - 1)] + self.accidental
    }

    /// The note that is this degree above a tonic or root, or `None` where it would need more than a double accidental.
    pub fn above(self, base: PitchClass) -> Option<PitchClass> {
        base.moved(self.number - 1, self.semitones())
    }
}

/// Semitones above the tonic or root, 0 to 11.
fn above(sounding: Key, base: PitchClass) -> i8 {
    (i16::from(sounding.0) - i16::from(base.semitones())).rem_euclid(12) as i8
}

impl std::fmt::Display for Degree {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let accidental = if self.accidental < 0 { "b" } else { "#" };
        write!(
            f,
            "{}{}",
            accidental.repeat(usize::from(self.accidental.unsigned_abs())),
            self.number
        )
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
