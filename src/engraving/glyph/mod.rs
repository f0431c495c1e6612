//! Music signs as outlines: which there are, how large they are, how they are drawn.
//!
//! Outlines and boxes follow SMuFL 1.4 (W3C Music Notation Community Group): the origin of a head is the left of its middle,
//! of a rest the middle line, of a flag the end of the stem. The licence is in `LICENCE.md`.

mod outlines;

use super::shape::Area;

/// Units of the outlines in a staff space.
const UNITS: f64 = 250.0;

/// A sign.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)] // the names are the documentation
pub enum Glyph {
    BassClef,
    Digit0,
    Digit1,
    Digit2,
    Digit3,
    Digit4,
    Digit5,
    Digit6,
    Digit7,
    Digit8,
    Digit9,
    WholeHead,
    HalfHead,
    BlackHead,
    CrossHead,
    OpenParenthesis,
    CloseParenthesis,
    Dot,
    EighthUp,
    EighthDown,
    SixteenthUp,
    SixteenthDown,
    ThirtySecondUp,
    ThirtySecondDown,
    Flat,
    Natural,
    Sharp,
    DoubleSharp,
    DoubleFlat,
    AccentAbove,
    AccentBelow,
    Staccato,
    Tenuto,
    WholeRest,
    HalfRest,
    QuarterRest,
    EighthRest,
    SixteenthRest,
    ThirtySecondRest,
    DownStroke,
    UpStroke,
    Triplet,
    QuarterNote,
}

/// An outline and the box around it, in units.
struct Outline {
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
    path: &'static str,
}

impl Glyph {
    const DIGITS: [Glyph; 10] = [
        Glyph::Digit0,
        Glyph::Digit1,
        Glyph::Digit2,
        Glyph::Digit3,
        Glyph::Digit4,
        Glyph::Digit5,
        Glyph::Digit6,
        Glyph::Digit7,
        Glyph::Digit8,
        Glyph::Digit9,
    ];

    fn outline(self) -> &'static Outline {
        &outlines::OUTLINES[self as usize]
    }

    /// The box around it, in staff spaces from its origin, y downwards.
    pub fn area(self) -> Area {
        let outline = self.outline();
        Area {
            left: outline.left / UNITS,
            right: outline.right / UNITS,
            top: outline.top / UNITS,
            bottom: outline.bottom / UNITS,
        }
    }

    /// From its origin to its right edge, in staff spaces.
    pub fn width(self) -> f64 {
        self.area().right
    }

    /// Its outline as the data of an SVG path, y upwards, 250 units to the staff space.
    pub fn path(self) -> &'static str {
        self.outline().path
    }

    /// What it is called in a drawing.
    pub fn name(self) -> String {
        format!("{self:?}")
    }

    /// The digits of a number, as they stand in a time signature.
    pub fn digits(number: u8) -> Vec<Glyph> {
        let digits = number.to_string().into_bytes();
        let digits = digits
            .iter()
            .map(|digit| Glyph::DIGITS[usize::from(digit - b'0')]);
        digits.collect()
    }

    /// The sign before a note that is so many sharps (negative: flats) from its natural.
    pub fn accidental(sharps: i8) -> Glyph {
        match sharps {
            ..=-2 => Glyph::DoubleFlat,
            -1 => Glyph::Flat,
            0 => Glyph::Natural,
            1 => Glyph::Sharp,
            2.. => Glyph::DoubleSharp,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// SMuFL: a black head is a staff space high, and about 1.18 wide; a sharp is 2.8 high; the quarter rest lies around
    /// the middle line.
    #[test]
    fn signs_have_the_size_of_their_standard() {
        let head = Glyph::BlackHead.area();
        assert_eq!((head.left, head.right), (0.0, 1.18));
        assert_eq!((head.top, head.bottom), (-0.5, 0.5));
        let sharp = Glyph::Sharp.area();
        assert!((sharp.bottom - sharp.top - 2.8).abs() < 0.05);
        let rest = Glyph::QuarterRest.area();
        assert!(rest.top < -1.3 && rest.bottom > 1.3);
        assert_eq!(Glyph::QuarterNote as usize + 1, outlines::OUTLINES.len());
    }

    #[test]
    fn numbers_are_drawn_digit_by_digit() {
        assert_eq!(Glyph::digits(12), [Glyph::Digit1, Glyph::Digit2]);
        assert_eq!(Glyph::digits(7), [Glyph::Digit7]);
    }
}
