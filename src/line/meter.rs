//! The meter of a bar and the beat that it is counted in.

use crate::units::{TICKS_PER_WHOLE, Ticks};

/// A meter as written, such as 4/4 or 12/8.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Meter {
    /// The upper number, 1 to 32.
    pub upper: u8,
    /// The lower number: 1, 2, 4, 8, 16 or 32.
    pub lower: u8,
}

impl Meter {
    /// The length of a whole bar.
    pub fn bar(self) -> Ticks {
        Ticks(i64::from(self.upper) * TICKS_PER_WHOLE / i64::from(self.lower))
    }

    /// Whether the beat is a dotted quarter: 6/8, 9/8 and 12/8.
    pub fn is_compound(self) -> bool {
        self.lower == 8 && matches!(self.upper, 6 | 9 | 12)
    }

    /// The length of a beat: the lower number, or the dotted quarter in compound meters.
    pub fn beat(self) -> Ticks {
        let lower = TICKS_PER_WHOLE / i64::from(self.lower);
        Ticks(if self.is_compound() { 3 * lower } else { lower })
    }
}
