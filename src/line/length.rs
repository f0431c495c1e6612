//! Written note lengths.

use crate::units::{TICKS_PER_WHOLE, Ticks};

/// A written length: a power of two of the whole note, dotted or not, in a triplet or not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NoteLength {
    /// 1, 2, 4, 8, 16 or 32: which part of a whole note.
    pub value: u8,
    /// 0, 1 or 2: each dot adds half of what the one before added.
    pub dots: u8,
    /// Two thirds of the length, three in the time of two.
    pub triplet: bool,
}

impl NoteLength {
    /// The exact length.
    pub fn ticks(self) -> Ticks {
        let plain = TICKS_PER_WHOLE / i64::from(self.value);
        let dotted = (plain << 1) - (plain >> self.dots);
        Ticks(if self.triplet { dotted * 2 / 3 } else { dotted })
    }
}
