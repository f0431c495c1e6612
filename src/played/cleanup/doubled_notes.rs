//! `doubled-notes`: the same key reported again without a new pluck, with or without an off between.
//!
//! The two are one note, from the first onset to the last off. Sixteenths on one key at 160 bpm are 94 ms apart, and
//! no finger repeats a string within 60 ms. With an off between, two strings a fourth apart can be brushed some 35 ms
//! apart under one key, so less is taken for a double there. Without an off one string cannot have done it at all.

use super::voice::Voice;
use crate::units::{Key, Nanos};

/// With the first one still sounding.
pub const SOUNDING: Nanos = Nanos::from_ms(40);
/// With an off between.
pub const ENDED: Nanos = Nanos::from_ms(30);

/// Whether a note is the `first` one, reported again.
pub(super) fn repeats(first: &Voice, key: Key, onset: Nanos) -> bool {
    let within = if first.ended.is_none() {
        SOUNDING
    } else {
        ENDED
    };
    first.key == key && onset - first.since < within
}
