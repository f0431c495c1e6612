//! `ghost-triggers`: a touch, a damped string or a crosstalk pulse that the converter took for a note.
//!
//! Such a note is left out when it is both very short and very soft. One period of the open G string takes 10 ms and of the
//! open E string 24 ms: in 15 ms hardly a pitch was heard. Ghost notes that a player means are louder or longer.

use super::voice::Voice;
use crate::units::Nanos;

/// A note that lasted this long or longer is kept.
pub const SHORTER_THAN: Nanos = Nanos::from_ms(15);
/// So is one of this velocity or more, a quarter of the scale.
pub const SOFTER_THAN: u8 = 32;

/// Whether nobody meant it. A note made of several parts has been something.
pub(super) fn is_ghost(note: &Voice) -> bool {
    let short = note
        .ended
        .is_some_and(|end| end - note.onset < SHORTER_THAN);
    short && note.velocity < SOFTER_THAN && note.since == note.onset
}

/// Whether a note that begins as the `first` one ends leaves it a ghost: a first guess of a note is as loud as the note.
pub(super) fn comes_before(first: &Voice, later: &Voice) -> bool {
    let short = later.onset - first.since < SHORTER_THAN;
    short && first.velocity < SOFTER_THAN && later.velocity >= SOFTER_THAN
}
