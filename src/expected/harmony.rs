//! What a note sounds over: the key and the chord, and how the two name it.

use crate::line::chord::ChordSymbol;
use crate::line::chord_tones::ChordTones;
use crate::line::degree::Degree;
use crate::line::key_signature::KeySignature;
use crate::line::pitch::PitchClass;
use crate::units::Key;

/// What a note is in the chord that sounds when it is struck.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ChordTone {
    /// The root, moved with the pass.
    pub root: PitchClass,
    /// The tones of the chord.
    pub tones: ChordTones,
    /// The note counted from the root.
    pub degree: Degree,
}

impl ChordTone {
    /// Whether the note belongs to the chord (it passes between its tones otherwise).
    pub fn belongs(self) -> bool {
        self.tones.has(self.degree)
    }

    /// The third that makes the chord major (3) or minor (b3), where it has one.
    pub fn third(self) -> Option<Degree> {
        self.tones.third()
    }
}

/// A chord on its root.
#[derive(Clone, Copy, Debug)]
pub(super) struct Chord {
    pub(super) root: PitchClass,
    pub(super) tones: ChordTones,
}

impl Chord {
    pub(super) fn of(symbol: &ChordSymbol) -> Chord {
        Chord {
            root: symbol.root,
            tones: ChordTones::of(symbol),
        }
    }

    /// What a note is in the chord. Letters decide unless the line spells a tone of the chord as another note (`G#` over `Ab7`) or
    /// counts to an interval that nobody says.
    pub(super) fn tone(self, sounding: Key, spelled: PitchClass) -> ChordTone {
        let by_letters = Degree::between(self.root, spelled);
        let degree = if self.tones.has(by_letters) {
            by_letters
        } else {
            let tone = self.tones.tone_at(sounding, self.root);
            tone.or(Some(by_letters).filter(|degree| is_usual(*degree)))
                .unwrap_or_else(|| Degree::outside(sounding, self.root))
        };
        ChordTone {
            root: self.root,
            tones: self.tones,
            degree,
        }
    }
}

impl From<ChordTone> for Chord {
    fn from(tone: ChordTone) -> Chord {
        Chord {
            root: tone.root,
            tones: tone.tones,
        }
    }
}

/// Key and chord at one place.
#[derive(Clone, Copy, Debug)]
pub(super) struct Harmony {
    pub(super) key: Option<KeySignature>,
    pub(super) chord: Option<Chord>,
}

impl Harmony {
    /// How the chord, else the mode, spells a note that it has.
    pub(super) fn spells(self, sounding: Key) -> Option<PitchClass> {
        let tone = self.chord.and_then(|chord| {
            let tone = chord.tones.tone_at(sounding, chord.root)?;
            tone.above(chord.root)
        });
        tone.or_else(|| {
            let key = self.key?;
            Degree::in_mode(sounding, key)?.above(key.tonic)
        })
    }

    /// The same for every note: one that neither has is counted from the tonic, or without a key from the root. `None`
    /// without either.
    pub(super) fn spell(self, sounding: Key) -> Option<PitchClass> {
        self.spells(sounding).or_else(|| {
            let tonic = self.key.map(|key| key.tonic);
            let base = tonic.or(self.chord.map(|chord| chord.root))?;
            Degree::outside(sounding, base).above(base)
        })
    }
}

/// Whether players count so: the twelve plain ones, and `#2`, `b5` and `#5`.
pub(super) fn is_usual(degree: Degree) -> bool {
    match degree.number {
        1 => degree.accidental == 0,
        2 => matches!(degree.accidental, -1..=1),
        3 | 6 | 7 => matches!(degree.accidental, -1 | 0),
        4 => matches!(degree.accidental, 0 | 1),
        _ => matches!(degree.accidental, -1..=1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chord(text: &str) -> Chord {
        Chord::of(&text.parse().expect(text))
    }

    fn key(text: &str) -> Option<KeySignature> {
        Some(text.parse().expect(text))
    }

    fn spelled(key: Option<KeySignature>, over: Option<&str>, sounding: u8) -> String {
        let chord = over.map(chord);
        let class = Harmony { key, chord }.spell(Key(sounding));
        class.map(|class| class.to_string()).unwrap_or_default()
    }

    /// Common practice: the flat seventh of Db is Cb, the raised seventh of D minor is C#.
    #[test]
    fn the_chord_spells_first_then_the_mode_then_a_flat() {
        assert_eq!(spelled(key("Ab major"), Some("Db7"), 35), "Cb");
        assert_eq!(spelled(key("D minor"), Some("A7"), 37), "C#");
        assert_eq!(spelled(key("D minor"), Some("Dm7"), 34), "Bb");
        assert_eq!(spelled(key("E major"), Some("Am6"), 42), "F#");
        assert_eq!(spelled(key("D minor"), Some("Dm7"), 39), "Eb");
        assert_eq!(spelled(key("D minor"), Some("Dm7"), 44), "G#");
        assert_eq!(spelled(None, Some("Db7"), 38), "Ebb");
        assert_eq!(spelled(None, None, 38), "");
    }

    fn function(over: &str, sounding: u8, spelled: &str) -> String {
        let class = spelled.parse().expect(spelled);
        chord(over).tone(Key(sounding), class).degree.to_string()
    }

    #[test]
    fn a_note_is_counted_from_the_root() {
        assert_eq!(function("A7", 37, "C#"), "3");
        assert_eq!(function("Gm7", 37, "C#"), "#4");
        assert_eq!(function("Gm7", 37, "Db"), "b5");
        assert_eq!(function("Em7b5", 34, "A#"), "b5");
        assert_eq!(function("Ab7", 32, "G#"), "1");
        assert_eq!(function("Ab7", 36, "B#"), "3");
        assert_eq!(function("C7#9", 39, "Eb"), "#2");
        assert_eq!(function("Dm7", 39, "D#"), "b2");
    }
}
