//! Keys: a tonic and a mode.

use super::pitch::PitchClass;
use std::fmt;
use std::str::FromStr;

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

impl Mode {
    /// Every mode with its name in a line file.
    pub const NAMES: [(&'static str, Mode); 11] = [
        ("major", Mode::Major),
        ("minor", Mode::Minor),
        ("harmonic minor", Mode::HarmonicMinor),
        ("melodic minor", Mode::MelodicMinor),
        ("ionian", Mode::Ionian),
        ("dorian", Mode::Dorian),
        ("phrygian", Mode::Phrygian),
        ("lydian", Mode::Lydian),
        ("mixolydian", Mode::Mixolydian),
        ("aeolian", Mode::Aeolian),
        ("locrian", Mode::Locrian),
    ];
}

impl KeySignature {
    /// Sharps in the signature, negative for flats. Harmonic and melodic minor have that of minor.
    pub fn sharps(self) -> i8 {
        const OF_LETTER: [i8; 7] = [0, 2, 4, -1, 1, 3, 5];
        let of_mode = match self.mode {
            Mode::Lydian => 1,
            Mode::Major | Mode::Ionian => 0,
            Mode::Mixolydian => -1,
            Mode::Dorian => -2,
            Mode::Minor | Mode::Aeolian | Mode::HarmonicMinor | Mode::MelodicMinor => -3,
            Mode::Phrygian => -4,
            Mode::Locrian => -5,
        };
        OF_LETTER[usize::from(self.tonic.letter)] + 7 * self.tonic.accidental + of_mode
    }

    /// The key that many semitones higher, its tonic named so that the signature has the fewest accidentals; of six sharps
    /// and six flats the side that this key is on, flats when it has neither. Octaves leave it as written.
    pub fn shifted(self, semitones: i8) -> KeySignature {
        let semitones = semitones.rem_euclid(12);
        if semitones == 0 {
            return self;
        }
        let names = (0..7).filter_map(|letters| self.tonic.moved(letters, semitones));
        let keys = names.map(|tonic| KeySignature { tonic, ..self });
        let on_side = |sharps: i8| (sharps > 0) == (self.sharps() > 0);
        keys.min_by_key(|key| (key.sharps().abs(), !on_side(key.sharps())))
            .unwrap_or(self)
    }
}

/// Why a text is not a key.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotAKey {
    /// The first word is not a note name.
    #[error("`{0}` is not a note name")]
    Tonic(String),
    /// What follows the tonic names no scale; empty when nothing follows.
    #[error("`{0}` is not a scale")]
    Mode(String),
}

impl FromStr for Mode {
    type Err = NotAKey;

    fn from_str(text: &str) -> Result<Mode, NotAKey> {
        Mode::NAMES
            .iter()
            .find(|(name, _)| *name == text)
            .map(|(_, mode)| *mode)
            .ok_or_else(|| NotAKey::Mode(text.to_owned()))
    }
}

impl FromStr for KeySignature {
    type Err = NotAKey;

    fn from_str(text: &str) -> Result<KeySignature, NotAKey> {
        let mut words = text.split_whitespace();
        let tonic = words.next().unwrap_or_default();
        let mode: Vec<&str> = words.collect();
        Ok(KeySignature {
            tonic: tonic
                .parse()
                .map_err(|_| NotAKey::Tonic(tonic.to_owned()))?,
            mode: mode.join(" ").parse()?,
        })
    }
}

impl fmt::Display for Mode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let named = Mode::NAMES.iter().find(|(_, mode)| mode == self);
        f.write_str(named.map_or("", |(name, _)| name))
    }
}

impl fmt::Display for KeySignature {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}", self.tonic, self.mode)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_mode_reads_back_as_it_is_written() {
        for (name, mode) in Mode::NAMES {
            let text = format!("Eb {name}");
            let key: KeySignature = text.parse().unwrap();
            assert_eq!(key.mode, mode);
            assert_eq!(key.to_string(), text);
        }
    }

    #[test]
    fn a_key_says_which_half_of_it_is_wrong() {
        let read = |text: &str| text.parse::<KeySignature>().unwrap_err();
        assert_eq!(read("H minor"), NotAKey::Tonic("H".into()));
        assert_eq!(read("D mixolidian"), NotAKey::Mode("mixolidian".into()));
        assert_eq!(read("D"), NotAKey::Mode(String::new()));
    }
}
