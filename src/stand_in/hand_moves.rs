//! How the hands get from one note to the next.

use super::timing::Strike;
use crate::expected::ExpectedNote;
use crate::units::Key;

/// From this many semitones on, a change of place counts as a jump where the line names no strings.
const JUMP_SEMITONES: u8 = 5;
/// Frets that a hand reaches without moving.
const REACH_FRETS: u8 = 3;

/// Whether the hand goes to another string where the line names both, else over five semitones or more.
pub(super) fn is_crossing(from: &ExpectedNote, to: &ExpectedNote) -> bool {
    match (from.string, to.string, from.key, to.key) {
        (Some(from), Some(to), _, _) => from != to,
        (_, _, Some(Key(from)), Some(Key(to))) => from.abs_diff(to) >= JUMP_SEMITONES,
        _ => false,
    }
}

/// Follows the fretting hand along the line.
#[derive(Default)]
pub(super) struct Shifts {
    /// The last fret that was not an open string.
    last: Option<u8>,
}

impl Shifts {
    /// Whether the hand has to move along the neck for this strike, the next one.
    pub(super) fn is_next(&mut self, strike: Strike) -> bool {
        let frets = strike.iter().filter_map(|note| note.fret);
        let Some(fret) = frets.filter(|fret| *fret > 0).min() else {
            return false;
        };
        let last = self.last.replace(fret);
        last.is_some_and(|last| last.abs_diff(fret) > REACH_FRETS)
    }
}
