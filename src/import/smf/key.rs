//! Key signatures, and names for keys that a file only numbers.
//!
//! Names are counted along the line of fifths (F = -1, C = 0, G = 1 …). A major key with s sharps takes the twelve from
//! s - 4 to s + 7, a minor one those from s - 3 to s + 8, so that its raised sixth and seventh are spelled as such (common
//! practice).

use crate::line::key_signature::{KeySignature, Mode};
use crate::line::pitch::{Pitch, PitchClass};
use crate::midi::smf::{KeyChange, KeyMode};
use crate::units::Key;

/// The key that a file names.
pub fn signature(change: KeyChange) -> KeySignature {
    let (tonic, mode) = match change.mode {
        KeyMode::Major => (change.sharps, Mode::Major),
        KeyMode::Minor => (change.sharps + 3, Mode::Minor),
    };
    KeySignature {
        tonic: class(i32::from(tonic)),
        mode,
    }
}

/// A key's pitch as the signature spells it; without one as C major does.
pub fn spell(key: Key, signature: Option<KeySignature>) -> Pitch {
    let sharps = i32::from(signature.map_or(0, KeySignature::sharps));
    let is_minor = signature.is_some_and(|signature| signature.mode == Mode::Minor);
    let lowest = sharps - if is_minor { 3 } else { 4 };
    // A fifth is 7 semitones, and 7 · 7 = 49 is 1 more than four octaves.
    let fifths = lowest + (7 * i32::from(key.0) - lowest).rem_euclid(12);
    let class = class(fifths);
    let octave = (i32::from(key.0) - i32::from(class.semitones())) / 12 - 1;
    Pitch {
        class,
        octave: octave as i8,
    }
}

fn class(fifths: i32) -> PitchClass {
    // F C G D A E B
    const LETTERS: [u8; 7] = [3, 0, 4, 1, 5, 2, 6];
    let place = fifths + 1;
    PitchClass {
        letter: LETTERS[place.rem_euclid(7) as usize],
        accidental: place.div_euclid(7) as i8,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(sharps: i8, mode: KeyMode) -> (String, String) {
        let tick = 0;
        let key = signature(KeyChange { tick, sharps, mode });
        let names: Vec<String> = (36..48)
            .map(|k| spell(Key(k), Some(key)).class.to_string())
            .collect();
        (key.to_string(), names.join(" "))
    }

    #[test]
    fn keys_are_spelled_in_their_signature() {
        let (key, scale) = names(-1, KeyMode::Minor);
        assert_eq!(
            (key.as_str(), scale.as_str()),
            ("D minor", "C C# D Eb E F F# G Ab A Bb B")
        );
        let (key, scale) = names(3, KeyMode::Major);
        assert_eq!(
            (key.as_str(), scale.as_str()),
            ("A major", "C C# D D# E F F# G G# A A# B")
        );
        let (key, scale) = names(-6, KeyMode::Major);
        assert_eq!(
            (key.as_str(), scale.as_str()),
            ("Gb major", "C Db Ebb Eb Fb F Gb G Ab Bbb Bb Cb")
        );
    }

    #[test]
    fn every_key_sounds_as_it_is_spelled() {
        for sharps in -7..=7 {
            for mode in [KeyMode::Major, KeyMode::Minor] {
                let tick = 0;
                let named = signature(KeyChange { tick, sharps, mode });
                assert_eq!(named.sharps(), sharps);
                for key in 0..128 {
                    assert_eq!(spell(Key(key), Some(named)).key(), Some(Key(key)));
                }
            }
        }
    }
}
