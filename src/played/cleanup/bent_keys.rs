//! `bent-keys`: a bend that stands as the note begins, and stays, is part of its key.
//!
//! Bends are otherwise without effect: vibrato, intonation and a bend in mid-note neither change a key nor begin a
//! note. But an instrument that holds its wheel a whole semitone or more away sounds another key than it names. The
//! bend has to be there by [`BY`], to within a fifth of a semitone, and still when the note is judged some 30 ms later.

use super::voice::Voice;
use super::wheel::Wheel;
use crate::units::{Key, Nanos};

/// How soon after the onset the bend has to stand.
pub const BY: Nanos = Nanos::from_ms(15);
/// How long the note has to last with it.
pub const STEADY: Nanos = Nanos::from_ms(30);
/// A whole semitone, less what intonation may take off.
pub const FROM_CENTS: i32 = 90;

/// The key that sounds, if it is another one.
pub(super) fn sounding(note: &Voice, wheel: &Wheel) -> Option<Key> {
    let lasts = note.ended.is_none_or(|end| end - note.since >= BY + STEADY);
    let cents = wheel.steady_by(note.since + BY)?;
    if !lasts || note.sliding.is_some() || cents.abs() < FROM_CENTS {
        return None;
    }
    let semitones = (cents + 50 * cents.signum()) / 100;
    let key = i32::from(note.out.0) + semitones;
    u8::try_from(key).ok().filter(|key| *key < 128).map(Key)
}
