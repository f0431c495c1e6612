//! Time inside a measure, finer than a tick: divisions of any size and tuplets of up to ten add up exactly.

use crate::units::{TICKS_PER_QUARTER, Ticks};
use roxmltree::Node;

use super::tree;

/// Parts of a tick: the least common multiple of 1 to 10 twice over.
const PARTS: i64 = 5040;
/// Parts of a quarter note.
const QUARTER: i64 = TICKS_PER_QUARTER * PARTS;

/// A time since the start of the measure, or a span.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Moment(i64);

impl Moment {
    /// The start of the measure.
    pub const ZERO: Moment = Moment(0);

    /// So many divisions of a quarter note.
    pub fn divisions(count: f64, a_quarter: f64) -> Moment {
        Moment((count * QUARTER as f64 / a_quarter).round() as i64)
    }

    /// The nearest tick.
    pub fn ticks(self) -> Ticks {
        Ticks((self.0 + PARTS / 2).div_euclid(PARTS))
    }

    /// Later by a span, never before the start of the measure and never beyond reason.
    pub fn moved(self, by: Moment) -> Moment {
        const FURTHEST: i64 = 100_000 * QUARTER;
        Moment(self.0.saturating_add(by.0).clamp(0, FURTHEST))
    }

    /// How much longer than another span.
    pub fn less(self, other: Moment) -> Moment {
        Moment(self.0.saturating_sub(other.0))
    }

    /// The same span backwards.
    pub fn back(self) -> Moment {
        Moment(-self.0)
    }

    /// The size without its sign.
    pub fn abs(self) -> Moment {
        Moment(self.0.saturating_abs())
    }
}

/// Quarters of a note type's name (MusicXML 4.0, `note-type-value`).
pub fn quarters(name: &str) -> Option<f64> {
    const NAMES: [(&str, f64); 12] = [
        ("long", 16.0),
        ("breve", 8.0),
        ("whole", 4.0),
        ("half", 2.0),
        ("quarter", 1.0),
        ("eighth", 0.5),
        ("16th", 0.25),
        ("32nd", 0.125),
        ("64th", 0.062_5),
        ("128th", 0.031_25),
        ("256th", 0.015_625),
        ("maxima", 32.0),
    ];
    let found = NAMES.iter().find(|(known, _)| *known == name);
    found.map(|(_, quarters)| *quarters)
}

/// The length that the look of a note says: type, dots and tuplet.
pub fn as_drawn(note: Node<'_, '_>) -> Option<Moment> {
    let plain = quarters(tree::text(note, "type")?)?;
    let dots = tree::children(note, "dot").count().min(4) as i32;
    let dotted = plain * (2.0 - 0.5_f64.powi(dots));
    let (actual, normal) = match tree::child(note, "time-modification") {
        Some(tuplet) => (
            tree::number(tuplet, "actual-notes")?,
            tree::number(tuplet, "normal-notes")?,
        ),
        None => (1.0, 1.0),
    };
    (actual > 0.0 && normal > 0.0).then(|| Moment::divisions(dotted * normal, actual))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quintuplets_and_septuplets_add_up() {
        for actual in [3.0, 5.0, 6.0, 7.0, 9.0, 10.0] {
            let one = Moment::divisions(1.0, actual);
            let all = (0..actual as usize).fold(Moment::ZERO, |sum, _| sum.moved(one));
            assert_eq!(all.ticks(), Ticks(TICKS_PER_QUARTER));
            assert_eq!(all, Moment::divisions(1.0, 1.0));
        }
    }

    #[test]
    fn time_stays_inside_reason() {
        let far = Moment::divisions(1e6, 1e-6);
        assert!(far.moved(far).ticks() < Ticks(1 << 40));
        assert_eq!(Moment::ZERO.moved(far.back()), Moment::ZERO);
    }
}
