//! The strings beside: what the same fret sounds there.

use crate::expected::{Expected, ExpectedNote};
use crate::findings::evidence::Heard;
use crate::units::Key;

/// Which of the strings beside the right one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The next higher sounding one.
    Higher,
    /// The next lower sounding one.
    Lower,
}

/// Where the notes of a line are played.
pub struct Board {
    /// The open strings, highest first, as far as they are known.
    open: Vec<Option<Key>>,
}

impl Board {
    pub(super) fn of(expected: &Expected) -> Board {
        let mut open = vec![None; expected.strings.len()];
        for note in &expected.notes {
            if let (Some(string), Some(fret), Some(key)) = (note.string, note.fret, note.key) {
                open[usize::from(string) - 1] = key.0.checked_sub(fret).map(Key);
            }
        }
        Board { open }
    }

    /// On which side of the right string the right fret sounds what was played.
    pub(super) fn side(&self, heard: &Heard) -> Option<Side> {
        let (string, fret) = place(heard.note)?;
        let sounds = |string: usize| {
            let open = self.open.get(string)?.as_ref()?;
            Some(Key(open.0 + fret))
        };
        // String n has index n − 1, and higher strings have lower numbers.
        let here = usize::from(string) - 1;
        let higher = here.checked_sub(1).and_then(sounds);
        match heard.played {
            played if higher == Some(played) => Some(Side::Higher),
            played if sounds(here + 1) == Some(played) => Some(Side::Lower),
            _ => None,
        }
    }
}

fn place(note: &ExpectedNote) -> Option<(u8, u8)> {
    note.string.zip(note.fret)
}
