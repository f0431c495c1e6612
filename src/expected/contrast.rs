//! A note that was played beside the one that the line has, both as degrees: what a wrong note is called.

use super::ExpectedNote;
use super::harmony::{Harmony, is_usual};
use crate::line::degree::Degree;
use crate::line::pitch::PitchClass;
use crate::units::Key;
use std::fmt;

/// What two degrees are counted from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CountedFrom {
    /// The root of the chord.
    Root,
    /// The tonic of the key.
    Tonic,
}

/// Two degrees counted from the same note. As text: "natural 7th where the line has the flat 7th", or, where a third
/// other than the chord's was played for a note that is none, "minor third over a major chord".
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Contrast {
    /// What was played.
    pub played: Degree,
    /// What the line has.
    pub line: Degree,
    /// What both are counted from.
    pub from: CountedFrom,
    /// The third of the chord, counted from the root.
    pub third: Option<Degree>,
}

impl ExpectedNote {
    /// The degree of the key that a key played here is; `None` where the section has no key or the note is dead.
    pub fn degree_of(&self, played: Key) -> Option<Degree> {
        let tonic = self.signature?.tonic;
        Some(self.read(played, tonic, self.degree?))
    }

    /// The degree of the chord that a key played here is; `None` where there is no chord or the note is dead.
    pub fn chord_degree_of(&self, played: Key) -> Option<Degree> {
        let chord = self.chord?;
        let tone = chord.tones.tone_at(played, chord.root);
        let third = |degree: &Degree| degree.number == 3;
        let other_third = same_number(chord.degree, self.key?, played).filter(third);
        Some(
            other_third
                .or(tone)
                .unwrap_or_else(|| self.read(played, chord.root, chord.degree)),
        )
    }

    /// What a key played for this note is, beside what the line has: counted from the root when the line's note is a
    /// tone of the chord or a third other than the chord's was played, else from the tonic. `None` for the right note
    /// in any octave, a dead note, and where there is neither key nor chord.
    pub fn contrast(&self, played: Key) -> Option<Contrast> {
        if (i16::from(self.key?.0) - i16::from(played.0)) % 12 == 0 {
            return None;
        }
        let third = self.chord.and_then(|chord| chord.third());
        let from_root = self
            .chord
            .zip(self.chord_degree_of(played))
            .map(|(chord, degree)| Contrast {
                played: degree,
                line: chord.degree,
                from: CountedFrom::Root,
                third,
            });
        let counts = |contrast: &Contrast| {
            self.chord.is_some_and(|chord| chord.belongs()) || contrast.denies_third()
        };
        let from_tonic = self
            .degree
            .zip(self.degree_of(played))
            .map(|(line, played)| Contrast {
                played,
                line,
                from: CountedFrom::Tonic,
                third,
            });
        from_root.filter(counts).or(from_tonic).or(from_root)
    }

    /// A played key counted from `base`, where the line has `line`. A third or seventh stays one when it is a semitone out: that is
    /// the mistake a player knows. Then the chord and the mode tell, then the number of the line's note.
    fn read(&self, played: Key, base: PitchClass, line: Degree) -> Degree {
        let same = self.key.and_then(|key| same_number(line, key, played));
        let harmony = Harmony {
            key: self.signature,
            chord: self.chord.map(Into::into),
        };
        let spelled = || {
            harmony
                .spells(played)
                .map(|class| Degree::between(base, class))
        };
        same.filter(|degree| matches!(degree.number, 3 | 7))
            .or_else(|| spelled().filter(|degree| is_usual(*degree)))
            .or(same)
            .unwrap_or_else(|| Degree::outside(played, base))
    }
}

/// The line's degree raised or lowered to the key a semitone away, where players say so.
fn same_number(line: Degree, key: Key, played: Key) -> Option<Degree> {
    let out = match (i16::from(played.0) - i16::from(key.0)).rem_euclid(12) {
        1 => 1,
        11 => -1,
        _ => return None,
    };
    let degree = Degree {
        accidental: line.accidental + out,
        ..line
    };
    // The raised 2nd is the minor third to whoever plays it by mistake.
    (is_usual(degree) && (degree.number, degree.accidental) != (2, 1)).then_some(degree)
}

impl Contrast {
    /// Whether a third was played that is not the chord's, for a note that is no third.
    fn denies_third(&self) -> bool {
        let third_played = self.from == CountedFrom::Root && self.played.number == 3;
        let other = self.third.is_some_and(|third| third != self.played);
        third_played && other && self.line.number != 3
    }
}

impl fmt::Display for Contrast {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let played = self.played.in_words(self.line);
        if self.denies_third() {
            let minor = self.third.is_some_and(|third| third.accidental < 0);
            let chord = if minor { "minor" } else { "major" };
            return write!(f, "{played} over a {chord} chord");
        }
        let line = self.line.in_words(self.played);
        write!(f, "{played} where the line has the {line}")
    }
}
