//! `slide-steps`: a slide that a converter reports as a run of short notes a semitone apart, each beginning as the
//! last one ends.
//!
//! The run is one note: it begins where the slide begins and has the key that it comes to rest on. Where the run starts
//! from a long note and never comes to rest (a fall at the end of a note), it belongs to that long note.
//!
//! A finger that plays semitones as notes needs 60 ms for each (thirty-seconds at 120 bpm: 62.5 ms; a fast trill: 80 ms);
//! fewer than two steps of less than 40 ms may be a grace note and are left alone. While a slide goes on its note is
//! held back, half a second at most.

use super::voice::Voice;
use crate::units::Nanos;

/// A step that lasted this long or longer is a note.
pub const SHORTER_THAN: Nanos = Nanos::from_ms(40);
/// A slide is followed for this long.
pub const LONGEST: Nanos = Nanos::from_ms(500);

/// Whether the note's latest part lasted no longer than a step, when the next one begins or it ended at `until`.
pub(super) fn is_step(part: &Voice, until: Nanos) -> bool {
    until - part.since < SHORTER_THAN
}

/// Whether a slide ended on the move.
pub(super) fn never_rests(slide: &Voice) -> bool {
    slide.sliding.is_some() && slide.ended.is_some_and(|end| is_step(slide, end))
}
