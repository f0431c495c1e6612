//! Keys: a tonic and a mode.

use super::pitch::PitchClass;

/// A key such as `D minor` or `Eb mixolydian`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KeySignature {
    /// The tonic, spelled.
    pub tonic: PitchClass,
    /// The scale built on it.
    pub mode: Mode,
}

/// The scales a key may name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs)] // the names are the documentation
pub enum Mode {
    Major,
    Minor,
    HarmonicMinor,
    MelodicMinor,
    Ionian,
    Dorian,
    Phrygian,
    Lydian,
    Mixolydian,
    Aeolian,
    Locrian,
}

impl Mode {
    /// Semitones of the seven degrees above the tonic. Melodic minor is the ascending form.
    pub fn scale(self) -> [i8; 7] {
        match self {
            Mode::Major | Mode::Ionian => [0, 2, 4, 5, 7, 9, 11],
            Mode::Minor | Mode::Aeolian => [0, 2, 3, 5, 7, 8, 10],
            Mode::HarmonicMinor => [0, 2, 3, 5, 7, 8, 11],
            Mode::MelodicMinor => [0, 2, 3, 5, 7, 9, 11],
            Mode::Dorian => [0, 2, 3, 5, 7, 9, 10],
            Mode::Phrygian => [0, 1, 3, 5, 7, 8, 10],
            Mode::Lydian => [0, 2, 4, 6, 7, 9, 11],
            Mode::Mixolydian => [0, 2, 4, 5, 7, 9, 10],
            Mode::Locrian => [0, 1, 3, 5, 6, 8, 10],
        }
    }
}
