//! `bend-splits`: the string is bent so far that the converter ends its note and begins the neighbouring key.
//!
//! The two are one note of the first key: there was no new pluck. Without a bend towards the new key nothing is joined,
//! so that hammered, pulled and slid notes of a line stay notes.

use super::voice::Voice;
use super::wheel::Wheel;
use crate::units::{Key, Nanos};

/// From this bend on a string counts as bent. A finger's own intonation and vibrato stay below it.
pub const FROM_CENTS: i32 = 30;
/// The converter's usual bend range reaches no further key.
pub const FURTHEST: u8 = 2;

/// Whether a note that begins as the `first` one ends is the same string, bent to it.
pub(super) fn continues(first: &Voice, key: Key, at: Nanos, wheel: &Wheel) -> bool {
    let far = first.key.0.abs_diff(key.0);
    let up = key > first.key;
    (1..=FURTHEST).contains(&far) && wheel.was_bent(at, up) >= FROM_CENTS
}
