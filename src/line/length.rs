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

impl std::fmt::Display for NoteLength {
    /// As a line file writes it: `8`, `4.`, `16.t`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let dots = ".".repeat(usize::from(self.dots));
        write!(
            f,
            "{}{dots}{}",
            self.value,
            if self.triplet { "t" } else { "" }
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn length(value: u8, dots: u8, triplet: bool) -> NoteLength {
        NoteLength {
            value,
            dots,
            triplet,
        }
    }

    /// A dot adds half, a second dot half of that; a triplet note is two thirds (common notation).
    #[test]
    fn dots_and_triplets_have_their_lengths() {
        assert_eq!(length(4, 0, false).ticks(), Ticks(960));
        assert_eq!(length(4, 1, false).ticks(), Ticks(1440));
        assert_eq!(length(4, 2, false).ticks(), Ticks(1680));
        assert_eq!(length(8, 0, true).ticks(), Ticks(320));
        assert_eq!(length(32, 2, true).ticks(), Ticks(140));
    }

    #[test]
    fn lengths_are_written_dots_first() {
        assert_eq!(length(8, 1, true).to_string(), "8.t");
        assert_eq!(length(16, 0, false).to_string(), "16");
    }
}
