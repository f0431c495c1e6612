//! Which note heads need an accidental.

use crate::line::key_signature::KeySignature;
use crate::line::pitch::Pitch;
use std::collections::HashMap;

/// The accidentals in force in a measure: those of the signature until a note of the same letter and octave has another.
pub(super) struct Accidentals {
    sharps: i8,
    /// By letter and octave.
    written: HashMap<(u8, i8), i8>,
}

impl Accidentals {
    /// At a bar line; without a key no letter has one.
    pub(super) fn of(key: Option<KeySignature>) -> Accidentals {
        Accidentals {
            sharps: key.map_or(0, KeySignature::sharps),
            written: HashMap::new(),
        }
    }

    /// The accidental to write before a struck note, and notes that it is in force.
    pub(super) fn before(&mut self, pitch: Pitch) -> Option<&'static str> {
        let class = pitch.class;
        let signature = self.in_signature(class.letter);
        let place = (class.letter, pitch.octave);
        let in_force = self.written.insert(place, class.accidental);
        (in_force.unwrap_or(signature) != class.accidental).then_some(match class.accidental {
            -2 => "flat-flat",
            -1 => "flat",
            0 => "natural",
            1 => "sharp",
            _ => "double-sharp",
        })
    }

    /// Sharps come in the order F C G D A E B, flats the other way round; beyond seven they are doubled.
    fn in_signature(&self, letter: u8) -> i8 {
        const RANK: [i8; 7] = [1, 3, 5, 0, 2, 4, 6];
        let rank = RANK[usize::from(letter)];
        match self.sharps {
            0.. => (self.sharps - rank + 6).div_euclid(7),
            _ => -((-self.sharps - (6 - rank) + 6).div_euclid(7)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn written(key: &str, pitches: &str) -> Vec<Option<&'static str>> {
        let mut accidentals = Accidentals::of(key.parse().ok());
        let pitches = pitches.split(' ').map(|pitch| pitch.parse().unwrap());
        pitches.map(|pitch| accidentals.before(pitch)).collect()
    }

    #[test]
    fn a_note_of_the_signature_has_none() {
        assert_eq!(written("D major", "F#2 C#2 G2"), [None; 3]);
        assert_eq!(written("Eb major", "Bb1 Eb2 Ab2 D2"), [None; 4]);
        assert_eq!(written("no key", "C2"), [None]);
        assert_eq!(written("G# major", "F##2 G#2"), [None; 2]);
    }

    #[test]
    fn an_accidental_holds_for_its_letter_and_octave_until_the_bar_line() {
        let some = |text| Some(text);
        assert_eq!(
            written("D minor", "B1 B1 B2 Bb1 C#2 C2 Cb2 Cbb2 F##2"),
            [
                some("natural"),
                None,
                some("natural"),
                some("flat"),
                some("sharp"),
                some("natural"),
                some("flat"),
                some("flat-flat"),
                some("double-sharp"),
            ]
        );
    }
}
