//! A pass's shift, applied to names: what it does to the key, the chords and the spelling of the notes.
//!
//! In a key everything keeps its degree: the tonic gets the name with the fewest accidentals in its signature, and all
//! other names move by as many letters as the tonic. Without a key each root is named as if it were the tonic of a major or minor
//! key, by the chord's third, and the notes follow the root; without a chord either, nothing tells a name.

use super::harmony::Chord;
use crate::line::degree::Degree;
use crate::line::key_signature::{KeySignature, Mode};
use crate::line::pitch::PitchClass;

/// A shift by semitones with the letters that go with it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Transposition {
    semitones: i8,
    key: Option<KeySignature>,
    /// Letters up; `None` where no key tells.
    letters: Option<u8>,
}

impl Transposition {
    pub(super) fn new(written: Option<KeySignature>, semitones: i8) -> Transposition {
        let semitones = semitones.rem_euclid(12);
        let key = written.map(|key| key.shifted(semitones));
        let letters = match (written, key) {
            (Some(written), Some(key)) => Some(letters(written.tonic, key.tonic)),
            _ => (semitones == 0).then_some(0),
        };
        Transposition {
            semitones,
            key,
            letters,
        }
    }

    /// The key of the pass.
    pub(super) fn key(&self) -> Option<KeySignature> {
        self.key
    }

    /// The chord as it sounds in the pass.
    pub(super) fn chord(&self, written: Chord) -> Chord {
        let by_letters = self
            .letters
            .and_then(|letters| written.root.moved(letters, self.semitones));
        Chord {
            root: by_letters.unwrap_or_else(|| self.root_by_itself(written)),
            tones: written.tones,
        }
    }

    fn root_by_itself(&self, written: Chord) -> PitchClass {
        let is_minor = |third: Degree| third.accidental < 0;
        let mode = match written.tones.third().is_some_and(is_minor) {
            true => Mode::Minor,
            false => Mode::Major,
        };
        let tonic = written.root;
        KeySignature { tonic, mode }.shifted(self.semitones).tonic
    }

    /// The name of a note in the pass, given the chord it is written over and that chord in the pass. `None` where nothing
    /// tells it, or where it would need more than a double accidental.
    pub(super) fn note(
        &self,
        written: PitchClass,
        over: Option<(PitchClass, PitchClass)>,
    ) -> Option<PitchClass> {
        let letters = self
            .letters
            .or(over.map(|(written, now)| letters(written, now)))?;
        written.moved(letters, self.semitones)
    }
}

fn letters(from: PitchClass, to: PitchClass) -> u8 {
    (to.letter + 7 - from.letter) % 7
}

#[cfg(test)]
mod tests {
    use super::*;

    fn moved(key: Option<&str>, semitones: i8, chord: &str, note: &str) -> String {
        let key = key.map(|key| key.parse().expect(key));
        let transposition = Transposition::new(key, semitones);
        let chord = Chord::of(&chord.parse().expect(chord));
        let over = transposition.chord(chord);
        let note = transposition.note(note.parse().expect(note), Some((chord.root, over.root)));
        let key = transposition
            .key()
            .map_or("no key".into(), |key| key.to_string());
        let note = note.map_or("?".into(), |note| note.to_string());
        format!("{key}: {note} over {}", over.root)
    }

    #[test]
    fn everything_keeps_its_degree_of_the_key() {
        assert_eq!(moved(Some("D minor"), 1, "A7", "C#"), "Eb minor: D over Bb");
        assert_eq!(moved(Some("D minor"), 2, "A7", "C#"), "E minor: D# over B");
        assert_eq!(
            moved(Some("C major"), 1, "C7", "Bb"),
            "Db major: Cb over Db"
        );
        assert_eq!(
            moved(Some("C major"), -11, "C7", "Bb"),
            "Db major: Cb over Db"
        );
        assert_eq!(
            moved(Some("B major"), 2, "G#7", "B#"),
            "Db major: D over Bb"
        );
        assert_eq!(
            moved(Some("C# major"), 12, "C#", "E#"),
            "C# major: E# over C#"
        );
    }

    #[test]
    fn six_sharps_and_six_flats_stay_on_the_side_of_the_written_key() {
        assert_eq!(moved(Some("E major"), 2, "E", "G#"), "F# major: A# over F#");
        assert_eq!(moved(Some("F major"), 1, "F", "A"), "Gb major: Bb over Gb");
    }

    #[test]
    fn without_a_key_roots_have_their_plainest_name_and_notes_follow_them() {
        assert_eq!(moved(None, 1, "C7", "Bb"), "no key: Cb over Db");
        assert_eq!(moved(None, 1, "Cm7", "Bb"), "no key: B over C#");
        assert_eq!(moved(None, 4, "D7", "F#"), "no key: A# over F#");
        assert_eq!(moved(None, 0, "G#7", "B#"), "no key: B# over G#");
        assert!(
            Transposition::new(None, 3)
                .note(
                    PitchClass {
                        letter: 0,
                        accidental: 0
                    },
                    None
                )
                .is_none()
        );
    }
}
