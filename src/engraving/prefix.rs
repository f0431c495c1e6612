//! What stands at the beginning of a system: string names, clef, signature, meter.

use super::accidentals::signature;
use super::glyph::Glyph;
use super::rows::words;
use super::shape::{Anchor, Item, Role, Shape, at, text_width};
use super::stems::height;
use super::tablature;
use crate::line::key_signature::KeySignature;
use crate::line::meter::Meter;

const NAME_SIZE: f64 = 1.2;
const GAP: f64 = 0.9;
/// The positions of sharps in bass clef in their order, then of flats (common practice, from memory).
const SHARPS: [i32; 7] = [6, 3, 7, 4, 1, 5, 2];
const FLATS: [i32; 7] = [2, 5, 1, 4, 0, 3, -1];

/// What a system begins with.
pub(super) struct Prefix {
    pub(super) key: Option<KeySignature>,
    /// Where it has to be said.
    pub(super) meter: Option<Meter>,
    /// From the highest on.
    pub(super) strings: Vec<String>,
}

impl Prefix {
    /// Where the staff begins.
    pub(super) fn staff(&self) -> f64 {
        let widths = self.strings.iter().map(|name| text_width(name, NAME_SIZE));
        widths.fold(0.0, f64::max) + 0.5
    }

    fn key_x(&self) -> f64 {
        self.staff() + 0.6 + Glyph::BassClef.width() + GAP
    }

    fn signs(&self) -> Vec<(Glyph, i32)> {
        let signs = self.key.map(signature).unwrap_or_default();
        let place = |(index, (_, sharps)): (usize, (u8, i8))| match sharps > 0 {
            true => (Glyph::Sharp, SHARPS[index % 7]),
            false => (Glyph::Flat, FLATS[index % 7]),
        };
        signs.into_iter().enumerate().map(place).collect()
    }

    fn meter_x(&self) -> f64 {
        let signs = self.signs();
        let widths = signs
            .iter()
            .map(|(glyph, _)| glyph.width() + 0.1)
            .sum::<f64>();
        self.key_x() + widths + if signs.is_empty() { 0.0 } else { GAP }
    }

    /// Where the first bar begins.
    pub(super) fn width(&self) -> f64 {
        let meter = self.meter.map_or(0.0, |meter| meter_width(meter) + GAP);
        self.meter_x() + meter - 0.4
    }

    /// Adds it; the highest string is at `top`.
    pub(super) fn draw(&self, top: f64, items: &mut Vec<Item>) {
        let sign = |role, glyph, x, y| Item::new(role, Shape::Sign(glyph, at(x, y)));
        items.push(sign(Role::Clef, Glyph::BassClef, self.staff() + 0.6, 1.0));
        let mut x = self.key_x();
        for (glyph, position) in self.signs() {
            items.push(sign(Role::KeySignature, glyph, x, height(position)));
            x += glyph.width() + 0.1;
        }
        if let Some(meter) = self.meter {
            let wide = meter_width(meter);
            for (number, y) in [(meter.upper, 1.0), (meter.lower, 3.0)] {
                let digits = Glyph::digits(number);
                let mut x = self.meter_x() + (wide - number_width(&digits)) / 2.0;
                for digit in digits {
                    items.push(sign(Role::TimeSignature, digit, x, y));
                    x += digit.width();
                }
            }
        }
        for (name, string) in self.strings.iter().zip(0..) {
            let y = top + tablature::STEP * f64::from(string) + 0.36 * NAME_SIZE;
            let place = at(self.staff() - 0.4, y);
            let style = (NAME_SIZE, Anchor::End);
            items.push(words(Role::StringName, None, name.clone(), place, style));
        }
    }
}

fn number_width(digits: &[Glyph]) -> f64 {
    digits.iter().map(|digit| digit.width()).sum()
}

fn meter_width(meter: Meter) -> f64 {
    let width = |number| number_width(&Glyph::digits(number));
    width(meter.upper).max(width(meter.lower))
}
