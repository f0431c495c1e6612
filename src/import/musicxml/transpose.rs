//! From written pitches, keys and chord roots to sounding ones.
//!
//! MusicXML 4.0, `transpose`: sounding = written + chromatic + 12 · octave-change; `diatonic` says how many letters
//! away the spelling is. A clef's octave needs nothing: `pitch` has it applied already.

use crate::line::key_signature::{KeySignature, Mode};
use crate::line::pitch::{Pitch, PitchClass};
use roxmltree::Node;

use super::tree;

/// How far away a part sounds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Transposition {
    chromatic: i32,
    diatonic: i32,
    octaves: i32,
}

/// Letters that an interval of so many semitones usually spans.
const LETTERS: [i32; 12] = [0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6];

impl Transposition {
    /// Of a `transpose` element.
    pub fn read(node: Node<'_, '_>) -> Transposition {
        let within = |name| tree::whole(node, name).filter(|number| number.abs() <= 120);
        let chromatic = within("chromatic").unwrap_or(0);
        let usual = 7 * chromatic.div_euclid(12) + LETTERS[chromatic.rem_euclid(12) as usize];
        Transposition {
            chromatic,
            diatonic: within("diatonic").unwrap_or(usual),
            octaves: within("octave-change").unwrap_or(0),
        }
    }

    /// The sounding pitch of a written one; `None` beyond the MIDI keys.
    pub fn pitch(self, letter: u8, alter: i32, octave: i32) -> Option<Pitch> {
        let class = PitchClass {
            letter,
            accidental: 0,
        };
        let written = 12 * (octave + 1) + i32::from(class.semitones()) + alter;
        let sounding = written + self.chromatic + 12 * self.octaves;
        let steps = i32::from(letter) + 7 * octave + self.diatonic + 7 * self.octaves;
        spelled(sounding, steps).or_else(|| plain(sounding))
    }

    /// The sounding note name of a written one.
    pub fn class(self, letter: u8, alter: i32) -> Option<PitchClass> {
        let within = Transposition { octaves: 0, ..self };
        within.pitch(letter, alter, 4).map(|pitch| pitch.class)
    }

    /// The sounding key of a written one.
    pub fn key(self, key: KeySignature) -> Option<KeySignature> {
        let PitchClass { letter, accidental } = key.tonic;
        let tonic = self.class(letter, i32::from(accidental))?;
        Some(KeySignature { tonic, ..key })
    }
}

/// The key `sounding` spelled with the letter that is `steps` above C0, where two accidentals are enough for it.
fn spelled(sounding: i32, steps: i32) -> Option<Pitch> {
    let letter = steps.rem_euclid(7) as u8;
    let octave = i8::try_from(steps.div_euclid(7)).ok()?;
    let natural = PitchClass {
        letter,
        accidental: 0,
    };
    let accidental = sounding - 12 * (i32::from(octave) + 1) - i32::from(natural.semitones());
    let accidental = i8::try_from(accidental).ok().filter(|a| a.abs() <= 2)?;
    let class = PitchClass { letter, accidental };
    Some(Pitch { class, octave }).filter(|pitch| pitch.key().is_some())
}

/// The key with the fewest accidentals, flats.
fn plain(sounding: i32) -> Option<Pitch> {
    let key = u8::try_from(sounding).ok().filter(|key| *key < 128)?;
    crate::units::Key(key).to_string().parse().ok()
}

/// The key that a signature of so many sharps (negative: flats) is in a mode (MusicXML 4.0, `fifths` and `mode`).
pub fn key(fifths: i32, mode: &str) -> Option<KeySignature> {
    // The line of fifths F C G D A E B, and how far along it a mode's tonic is from the major one.
    const LETTERS: [u8; 7] = [3, 0, 4, 1, 5, 2, 6];
    let (mode, along) = match mode {
        "minor" => (Mode::Minor, 3),
        "aeolian" => (Mode::Aeolian, 3),
        "ionian" => (Mode::Ionian, 0),
        "dorian" => (Mode::Dorian, 2),
        "phrygian" => (Mode::Phrygian, 4),
        "lydian" => (Mode::Lydian, -1),
        "mixolydian" => (Mode::Mixolydian, 1),
        "locrian" => (Mode::Locrian, 5),
        _ => (Mode::Major, 0),
    };
    let place = fifths.checked_add(1 + along)?;
    let accidental = i8::try_from(place.div_euclid(7))
        .ok()
        .filter(|a| a.abs() <= 2)?;
    let letter = LETTERS[place.rem_euclid(7) as usize];
    let tonic = PitchClass { letter, accidental };
    Some(KeySignature { tonic, mode })
}

/// The letter that a `step` names: 0 = C.
pub fn letter(step: &str) -> Option<u8> {
    let step = step.as_bytes();
    match step {
        [letter @ b'A'..=b'G'] => Some((letter - b'A' + 5) % 7),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn by(chromatic: i32, diatonic: i32, octaves: i32) -> Transposition {
        Transposition {
            chromatic,
            diatonic,
            octaves,
        }
    }

    #[test]
    fn a_bass_part_sounds_an_octave_lower() {
        let low_e = by(0, 0, -1).pitch(2, 0, 2).unwrap();
        assert_eq!(low_e.to_string(), "E1");
    }

    /// A clarinet in B flat sounds a tone lower, one in A a minor third, a horn in F a fifth (common practice).
    #[test]
    fn spelling_follows_the_letters() {
        assert_eq!(by(-2, -1, 0).pitch(0, 0, 4).unwrap().to_string(), "Bb3");
        assert_eq!(by(-3, -2, 0).pitch(0, 0, 4).unwrap().to_string(), "A3");
        assert_eq!(by(-7, -4, 0).pitch(5, 1, 4).unwrap().to_string(), "D#4");
        assert_eq!(by(1, 0, 0).pitch(6, 2, 4).unwrap().to_string(), "D5");
    }

    #[test]
    fn signatures_name_their_keys() {
        for (fifths, mode, name) in [
            (0, "major", "C major"),
            (-1, "minor", "D minor"),
            (3, "minor", "F# minor"),
            (-7, "major", "Cb major"),
            (2, "dorian", "E dorian"),
            (0, "lydian", "F lydian"),
            (-2, "none", "Bb major"),
        ] {
            assert_eq!(key(fifths, mode).unwrap().to_string(), name);
        }
        assert_eq!(key(i32::MAX, "major"), None);
    }
}
