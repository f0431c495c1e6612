//! `octave-glitches`: a converter first hears a partial, or half the pitch, and corrects itself within a few periods.
//!
//! The two are one note: onset of the first, key of the second. A real octave leap needs a stroke of its own; at
//! sixteenths of 200 bpm it takes 75 ms, so what is shorter than 40 ms was never played.

use super::voice::Voice;
use crate::units::{Key, Nanos};

/// A guess that lasted this long or longer is a note.
pub const SHORTER_THAN: Nanos = Nanos::from_ms(40);

/// Whether a note that begins as the `first` one ends is its correction.
pub(super) fn corrects(first: &Voice, key: Key, onset: Nanos) -> bool {
    first.key.0.abs_diff(key.0) == 12 && first.held && onset - first.since < SHORTER_THAN
}
