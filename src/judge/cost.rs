//! What a match is worth.
//!
//! The cheapest alignment is found as the one that **gains** most: against leaving both notes alone (one missed, one
//! extra) a match saves `missed + extra − cost`. All costs are in nanoseconds of offset, so that "a wrong pitch costs
//! as much as 700 ms" can be read off, and sums are exact. The values are our own, chosen so that
//! - every pair within the capture window is worth matching, whatever its pitch;
//! - a phrase has to be about seven notes long before it is followed off the beat where the beat is also full of
//!   (wrong) notes, or where it is half a beat away and still within the capture window, and four where the beat is
//!   empty.

use super::rows::Row;
use crate::expected::ExpectedNote;
use crate::units::{Key, Nanos};

/// An expected note that nothing was played for.
const MISSED: i64 = 500_000_000;
/// The same for a ghost note, which may be left out.
const MISSED_OPTIONAL: i64 = 300_000_000;
/// A played note that belongs nowhere.
const EXTRA: i64 = 500_000_000;
/// How many times each ns beyond a quarter of a beat counts: from there on the note is nearer to the grid half a beat
/// away. Never so much that a pair is worth less than one of wrong pitch at that offset.
const STRAY: i64 = 3;
/// On top of the offset: the right note name in another octave.
const OCTAVE: i64 = 200_000_000;
/// Another pitch.
const WRONG: i64 = 700_000_000;
/// A dead note takes any pitch, but a pitched neighbour that the pitch fits goes first.
const UNJUDGED: i64 = 100_000_000;
/// Each note followed off its place; decides which time through a repeated bar was the written one.
const DISPLACED: i64 = 50_000_000;
/// Leaving one row for another.
pub const SWITCH: i64 = 1_500_000_000;

/// The most that a match outside row 0 can gain.
pub const MOST_DISPLACED: i64 = MISSED + EXTRA - DISPLACED;

/// The verdict on pitch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Pitch {
    /// The written key.
    Right,
    /// The written note name in another octave.
    Octave,
    /// Another key.
    Wrong,
    /// A dead note: any pitch will do.
    Unjudged,
}

/// How a played key stands to the expected one (`None`: a dead note).
pub fn pitch_of(expected: Option<Key>, played: Key) -> Pitch {
    match expected {
        None => Pitch::Unjudged,
        Some(key) if key == played => Pitch::Right,
        Some(key) if key.0 % 12 == played.0 % 12 => Pitch::Octave,
        Some(_) => Pitch::Wrong,
    }
}

/// What matching saves, in nanoseconds; below zero it is better left alone.
pub fn gain(note: &ExpectedNote, played: Key, off_grid: Nanos, row: Row) -> i64 {
    let pitch = match pitch_of(note.key, played) {
        Pitch::Right => 0,
        Pitch::Octave => OCTAVE,
        Pitch::Wrong => WRONG,
        Pitch::Unjudged => UNJUDGED,
    };
    let (off_grid, quarter) = (off_grid.0.abs(), note.beat.0 / 4);
    let stray = (off_grid - quarter).max(0) * (STRAY - 1);
    most(note, row) - off_grid - (pitch + stray).min(WRONG)
}

/// The most that any partner could save for this note in this row.
pub fn most(note: &ExpectedNote, row: Row) -> i64 {
    let missed = if note.is.optional {
        MISSED_OPTIONAL
    } else {
        MISSED
    };
    missed + EXTRA - if row == 0 { 0 } else { DISPLACED }
}
