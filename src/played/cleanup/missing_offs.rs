//! `missing-offs`: a note whose end never came.
//!
//! It is known when the same key of the same channel is struck again, with no off until well after it (an off shortly
//! after belongs to the earlier note), or when the take is over. The note then ends where the next note of its channel
//! began; notes struck together with it do not count. A note with no next one stays without an end.

use super::voice::Voice;
use crate::units::Nanos;

/// Notes this close after the onset were struck with it.
pub const WITH_IT: Nanos = Nanos::from_ms(50);
/// A note that the end of a take cuts off may ring into the next one for this long.
pub const MAY_RING: Nanos = Nanos::from_ms(2000);

/// Whether a note is the next one of the channel.
pub(super) fn is_next(earlier: &Voice, onset: Nanos) -> bool {
    onset - earlier.onset >= WITH_IT
}

/// Where a note ends that the take's last event, at `last`, left sounding.
pub(super) fn end_of_left(note: &Voice, last: Nanos) -> Option<Nanos> {
    note.next.filter(|next| last - *next >= MAY_RING)
}
