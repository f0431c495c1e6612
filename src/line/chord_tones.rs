//! The tones of a chord, from its symbol.
//!
//! Symbols are read as lead sheets are read (common practice, from memory; music21 10.5.1 agrees wherever it can read
//! the symbol, see `tests/harmony.rs`):
//!
//! - A 7 is flat; after `maj`, `M`, `Δ` or `^` it is major, after `dim`, `°` or `o` doubly flat. `Δ` and `^` alone have
//!   it too, and so has `ø` its flat one.
//! - 9, 11 and 13 bring all thirds below them; after a 6 they stand alone.
//! - An altered tone takes the place of the natural one; two alterations of one tone (`b9 #9`) stand side by side.
//! - `+` and `-` first are augmented and minor (`C+7`, `C-7`); before a 5, and before a 9, 11 or 13 that comes later,
//!   they are sharp and flat (`C7-9`).
//! - `sus` alone and a bare `4` are `sus4`, a bare `2` is `add9`, a bare `5` has no third, `alt` is `7` with both
//!   alterations of the fifth and the ninth.
//! - What follows `no` or `omit` is taken out again; the note after the slash is a tone whatever it is.

use super::chord::{self, ChordSymbol};
use super::degree::Degree;
use super::pitch::PitchClass;
use crate::units::Key;
use std::fmt;

/// The tones of a chord as degrees above its root.
#[derive(Clone, Copy, PartialEq, Eq, Hash)]
pub struct ChordTones(u64);

impl ChordTones {
    /// The tones of a chord symbol, the note after its slash among them.
    pub fn of(symbol: &ChordSymbol) -> ChordTones {
        let mut reading = Reading::new();
        let mut parts = chord::parts(&symbol.quality).flatten().peekable();
        let mut place = Place::First;
        while let Some(part) = parts.next() {
            let signed = match (part, parts.peek()) {
                ("+" | "-", Some(number)) => alteration(part, number, place),
                _ => None,
            };
            match signed {
                Some(signed) => {
                    parts.next();
                    reading.add(signed, place);
                }
                None => reading.add(part, place),
            }
            place = Place::Later;
        }
        let mut tones = reading.finish();
        if let Some(bass) = symbol.bass {
            tones.put(Degree::between(symbol.root, bass));
        }
        tones
    }

    /// Whether the chord has a degree.
    pub fn has(self, degree: Degree) -> bool {
        bit(degree).is_some_and(|bit| self.0 & bit != 0)
    }

    /// The tones, lowest degree first.
    pub fn degrees(self) -> impl Iterator<Item = Degree> {
        let all = (1..=7)
            .flat_map(|number| (-2..=2).map(move |accidental| Degree { number, accidental }));
        all.filter(move |degree| self.has(*degree))
    }

    /// Which tone a key is, over a root.
    pub fn tone_at(self, sounding: Key, root: PitchClass) -> Option<Degree> {
        let above = (i16::from(sounding.0) - i16::from(root.semitones())).rem_euclid(12);
        self.degrees()
            .find(|degree| i16::from(degree.semitones()).rem_euclid(12) == above)
    }

    /// The third that makes the chord major (3) or minor (b3); none in a `sus` or power chord.
    pub fn third(self) -> Option<Degree> {
        [0, -1]
            .map(|accidental| Degree {
                number: 3,
                accidental,
            })
            .into_iter()
            .find(|third| self.has(*third))
    }

    fn put(&mut self, degree: Degree) {
        self.0 |= bit(degree).unwrap_or(0);
    }

    fn clear(&mut self, number: u8) {
        self.0 &= !(0b11111 << (5 * (number - 1)));
    }
}

/// Five bits a number, one an accidental from double flat to double sharp.
fn bit(degree: Degree) -> Option<u64> {
    let accidental = u32::try_from(degree.accidental + 2).ok();
    let accidental = accidental.filter(|accidental| *accidental < 5)?;
    Some(1 << (5 * u32::from(degree.number - 1) + accidental))
}

impl fmt::Debug for ChordTones {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let degrees: Vec<String> = self.degrees().map(|degree| degree.to_string()).collect();
        f.write_str(&degrees.join(" "))
    }
}

/// Where a part stands.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Place {
    /// Directly after the root.
    First,
    Later,
}

/// What the next bare number means.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Number {
    /// 7 or the stack of thirds up to it.
    Stacked,
    /// That tone alone.
    Added,
    /// In place of the third.
    Suspended,
    /// Taken out.
    Left,
}

/// A chord symbol being read.
struct Reading {
    tones: ChordTones,
    /// The accidental that a 7 has.
    seventh: i8,
    has_sixth: bool,
    number: Number,
    /// `sus` was read and no number yet.
    bare_sus: bool,
    /// Bits of the numbers that have an altered tone.
    altered: u8,
    /// Bits of the numbers taken out at the end.
    left: u8,
}

impl Reading {
    fn new() -> Reading {
        let mut tones = ChordTones(0);
        for number in [1, 3, 5] {
            tones.put(natural(number));
        }
        Reading {
            tones,
            seventh: -1,
            has_sixth: false,
            number: Number::Stacked,
            bare_sus: false,
            altered: 0,
            left: 0,
        }
    }

    fn add(&mut self, part: &str, place: Place) {
        match part {
            "m" | "min" | "-" => self.set(3, -1),
            "maj" | "M" => self.seventh = 0,
            "Δ" | "^" => {
                self.seventh = 0;
                self.set(7, 0);
            }
            "aug" | "+" => self.set(5, 1),
            "dim" | "°" | "o" => {
                self.set(3, -1);
                self.set(5, -1);
                self.seventh = -2;
            }
            "ø" => {
                self.set(3, -1);
                self.set(5, -1);
                self.set(7, -1);
            }
            "alt" => self.alter(&[(5, -1), (5, 1), (2, -1), (2, 1), (7, -1)]),
            "sus" => {
                self.tones.clear(3);
                self.bare_sus = true;
            }
            _ => {}
        }
        match part {
            "sus" => self.number = Number::Suspended,
            "add" => self.number = Number::Added,
            "omit" | "no" => self.number = Number::Left,
            "," | "/" | "(" => {}
            _ => match number(part) {
                Some((number, 0)) => self.add_number(number, place),
                Some((number, accidental)) => self.alter(&[(simple(number), accidental)]),
                None => self.number = Number::Stacked,
            },
        }
    }

    fn add_number(&mut self, number: u8, place: Place) {
        match (self.number, number) {
            (Number::Left, _) => self.left |= 1 << simple(number),
            (Number::Suspended, 2 | 4) => {
                self.tones.put(natural(number));
                self.bare_sus = false;
            }
            (Number::Added, _) => self.tones.put(natural(simple(number))),
            (_, 7) => self.set(7, self.seventh),
            (_, 9 | 11 | 13) if self.has_sixth => self.tones.put(natural(simple(number))),
            (_, 9 | 11 | 13) => self.stack(number),
            (_, 5) if place == Place::First => self.tones.clear(3),
            (_, 4) => {
                self.tones.clear(3);
                self.tones.put(natural(4));
            }
            _ => {
                self.has_sixth |= number == 6;
                self.tones.put(natural(number));
            }
        }
    }

    /// The seventh and every third above it up to the number.
    fn stack(&mut self, highest: u8) {
        self.set(7, self.seventh);
        for number in [9, 11, 13] {
            if number <= highest && self.altered & (1 << simple(number)) == 0 {
                self.tones.put(natural(simple(number)));
            }
        }
    }

    /// Alterations take the natural tone's place and leave each other alone.
    fn alter(&mut self, tones: &[(u8, i8)]) {
        for (number, accidental) in tones {
            let natural = natural(*number);
            self.altered |= 1 << number;
            self.tones.0 &= !bit(natural).unwrap_or(0);
            self.tones.put(Degree {
                number: *number,
                accidental: *accidental,
            });
        }
    }

    fn set(&mut self, number: u8, accidental: i8) {
        self.tones.clear(number);
        self.tones.put(Degree { number, accidental });
    }

    fn finish(mut self) -> ChordTones {
        if self.bare_sus {
            self.tones.put(natural(4));
        }
        for number in 1..=7 {
            if self.left & (1 << number) != 0 {
                self.tones.clear(number);
            }
        }
        self.tones
    }
}

/// `+5` is `#5` wherever it stands; `+9` is `#9` only after something else, since `C+9` is an augmented ninth chord.
fn alteration(sign: &str, number: &str, place: Place) -> Option<&'static str> {
    match (sign, number, place) {
        ("+", "5", _) => Some("#5"),
        ("-", "5", _) => Some("b5"),
        (_, _, Place::First) => None,
        ("+", "9", _) => Some("#9"),
        ("-", "9", _) => Some("b9"),
        ("+", "11", _) => Some("#11"),
        ("-", "13", _) => Some("b13"),
        _ => None,
    }
}

/// A number and its accidental, where the part is one.
fn number(part: &str) -> Option<(u8, i8)> {
    let (accidental, digits) = match part.split_at_checked(1)? {
        ("b", digits) => (-1, digits),
        ("#", digits) => (1, digits),
        _ => (0, part),
    };
    digits.parse().ok().map(|number| (number, accidental))
}

/// A ninth is a second, an eleventh a fourth, a thirteenth a sixth.
fn simple(number: u8) -> u8 {
    (number - 1) % 7 + 1
}

fn natural(number: u8) -> Degree {
    Degree {
        number,
        accidental: 0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tones(text: &str) -> String {
        let symbol: ChordSymbol = text.parse().expect(text);
        format!("{:?}", ChordTones::of(&symbol))
    }

    /// By hand (common practice): what music21 cannot read, or reads without its alterations.
    #[test]
    fn symbols_mean_what_lead_sheets_mean() {
        for (text, expected) in [
            ("C°", "1 b3 b5"),
            ("C°7", "1 b3 b5 bb7"),
            ("C6/9", "1 2 3 5 6"),
            ("C69", "1 2 3 5 6"),
            ("Cm6/9", "1 2 b3 5 6"),
            ("C-", "1 b3 5"),
            ("C-7", "1 b3 5 b7"),
            ("CΔ", "1 3 5 7"),
            ("CΔ9", "1 2 3 5 7"),
            ("C^7", "1 3 5 7"),
            ("C-Δ7", "1 b3 5 7"),
            ("Cm(maj7)", "1 b3 5 7"),
            ("Cm(M7)", "1 b3 5 7"),
            ("Cmmaj9", "1 2 b3 5 7"),
            ("Cø", "1 b3 b5 b7"),
            ("C+maj7", "1 3 #5 7"),
            ("Cmaj7+5", "1 3 #5 7"),
            ("C+7#9", "1 #2 3 #5 b7"),
            ("C+9", "1 2 3 #5 b7"),
            ("Cmaj9", "1 2 3 5 7"),
            ("Cmaj11", "1 2 3 4 5 7"),
            ("Cmaj13", "1 2 3 4 5 6 7"),
            ("Cmaj9#11", "1 2 3 #4 5 7"),
            ("Cmaj6", "1 3 5 6"),
            ("C13b9", "1 b2 3 4 5 6 b7"),
            ("C13#11", "1 2 3 #4 5 6 b7"),
            ("C13#9", "1 #2 3 4 5 6 b7"),
            ("C9sus4", "1 2 4 5 b7"),
            ("C13sus4", "1 2 4 5 6 b7"),
            ("Csus9", "1 2 4 5 b7"),
            ("Csus2sus4", "1 2 4 5"),
            ("Csus24", "1 2 4 5"),
            ("C4", "1 4 5"),
            ("C2", "1 2 3 5"),
            ("C7/4", "1 4 5 b7"),
            ("Cno3", "1 5"),
            ("C7no5", "1 3 b7"),
            ("C9no3", "1 2 5 b7"),
            ("C13(no5,11)", "1 2 3 6 b7"),
            ("Calt", "1 b2 #2 3 b5 #5 b7"),
            ("C7alt", "1 b2 #2 3 b5 #5 b7"),
            ("C7-9", "1 b2 3 5 b7"),
            ("C7+9", "1 #2 3 5 b7"),
            ("C7-5", "1 3 b5 b7"),
            ("C7+11", "1 3 #4 5 b7"),
            ("C-7-5", "1 b3 b5 b7"),
            ("C-5", "1 3 b5"),
            ("Cdim(maj7)", "1 b3 b5 7"),
            ("Cadd9,11", "1 2 3 4 5"),
            ("C5add9", "1 2 5"),
            ("C7#11,13", "1 2 3 #4 5 6 b7"),
            ("C7b5#5", "1 3 b5 #5 b7"),
            ("C7(b9,b13)", "1 b2 3 5 b6 b7"),
        ] {
            assert_eq!(tones(text), expected, "{text}");
        }
    }

    #[test]
    fn the_note_after_the_slash_is_a_tone() {
        assert_eq!(tones("Bbm7/Ab"), "1 b3 5 b7");
        assert_eq!(tones("C/D"), "1 2 3 5");
        assert_eq!(tones("F/Eb"), "1 3 5 b7");
    }

    #[test]
    fn the_third_tells_major_from_minor() {
        let third = |text: &str| {
            let symbol: ChordSymbol = text.parse().expect(text);
            let third = ChordTones::of(&symbol).third();
            third.map(|third| third.to_string()).unwrap_or_default()
        };
        assert_eq!(third("E7#9"), "3");
        assert_eq!(third("Em7b5"), "b3");
        assert_eq!(third("Esus4"), "");
        assert_eq!(third("E5"), "");
    }

    #[test]
    fn a_key_is_found_among_the_tones() {
        let symbol: ChordSymbol = "Db7".parse().expect("a chord");
        let tones = ChordTones::of(&symbol);
        let tone = |key| {
            tones
                .tone_at(Key(key), symbol.root)
                .map(|tone| tone.to_string())
        };
        assert_eq!(tone(35).as_deref(), Some("b7"));
        assert_eq!(tone(37).as_deref(), Some("1"));
        assert_eq!(tone(36), None);
    }
}
