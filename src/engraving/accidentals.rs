//! Which notes need a sign: the rule of the bar (common practice, from memory). A sign holds for its line or space to the end of
//! its bar, and through a tie for that note alone; there are no courtesy signs.

use super::figures::step;
use crate::line::key_signature::KeySignature;
use crate::line::pitch::Pitch;
use std::collections::HashMap;

/// The letters of a signature in their order: F C G D A E B for sharps, backwards for flats.
const FIFTHS: [u8; 7] = [3, 0, 4, 1, 5, 2, 6];

/// What holds in a bar.
pub(super) struct Accidentals {
    /// By letter.
    of_key: [i8; 7],
    /// By line or space.
    of_bar: HashMap<i32, i8>,
}

impl Accidentals {
    pub(super) fn of(key: Option<KeySignature>) -> Accidentals {
        let mut of_key = [0; 7];
        for (letter, sharps) in key.into_iter().flat_map(signature) {
            of_key[usize::from(letter)] += sharps;
        }
        Accidentals {
            of_key,
            of_bar: HashMap::new(),
        }
    }

    /// The sign that a note needs, if any; it holds from now on. A note that is held on needs none, and its own holds for it alone.
    pub(super) fn needed(&mut self, pitch: Pitch, tied_in: bool) -> Option<i8> {
        let step = step(pitch.class, pitch.octave);
        let of_key = self.of_key[usize::from(pitch.class.letter)];
        let holds = self.of_bar.get(&step).copied().unwrap_or(of_key);
        let own = pitch.class.accidental;
        if tied_in || holds == own {
            return None;
        }
        self.of_bar.insert(step, own);
        Some(own)
    }
}

/// The letters that a key sharpens (1) or flattens (−1), in the order in which they are written; of more than seven signs, the
/// letters that have two come again.
pub(super) fn signature(key: KeySignature) -> Vec<(u8, i8)> {
    let sharps = key.sharps();
    let count = usize::from(sharps.unsigned_abs());
    let letter = |index: usize| match sharps > 0 {
        true => FIFTHS[index % 7],
        false => FIFTHS[6 - index % 7],
    };
    (0..count)
        .map(|index| (letter(index), sharps.signum()))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Signs of notes in one bar: `.` none; `~` before a note is a tie into it.
    fn signs(key: &str, notes: &str) -> String {
        let mut accidentals = Accidentals::of(key.parse().ok());
        let sign = |word: &str| {
            let pitch = word.trim_start_matches('~').parse().expect(word);
            match accidentals.needed(pitch, word.starts_with('~')) {
                None => ".".to_string(),
                Some(own) => own.to_string(),
            }
        };
        notes.split(' ').map(sign).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn a_sign_holds_to_the_end_of_the_bar_on_its_line_alone() {
        assert_eq!(signs("D minor", "C#2 C#2 C#3 C2 B1 Bb1"), "1 . 1 0 0 -1");
        assert_eq!(signs("E major", "F#1 G#1 G1 G#1 D#2 E#2"), ". . 0 1 . 1");
        assert_eq!(signs("none", "Bbb1 Bb1 F##1"), "-2 -1 2");
    }

    #[test]
    fn a_note_held_over_the_bar_line_keeps_its_sign_for_itself() {
        assert_eq!(signs("C major", "~C#2 C2 C#2"), ". . 1");
        assert_eq!(signs("C major", "C#2 ~C#2 C#2"), "1 . .");
    }

    #[test]
    fn signatures_are_written_in_fifths() {
        let letters = |key: &str| -> String {
            let key: KeySignature = key.parse().expect(key);
            let letters = signature(key).into_iter();
            letters
                .map(|(letter, _)| char::from(b"CDEFGAB"[usize::from(letter)]))
                .collect()
        };
        assert_eq!(letters("C# minor"), "FCGD");
        assert_eq!(letters("Eb major"), "BEA");
        assert_eq!(letters("D dorian"), "");
        assert_eq!(letters("D harmonic minor"), "B");
    }
}
