//! Sounding pitches in scientific notation, spelling kept.

use crate::units::Key;

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
