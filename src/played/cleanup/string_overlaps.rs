//! `string-overlaps`: a converter with a channel for each string leaves a note sounding while its string has the next.
//!
//! One string has one note: the earlier one ends where the later begins. That a channel is a string is not assumed. It
//! takes notes on neighbouring channels, and it is given up for good once two notes of one channel are struck together
//! and sound on together, as on a keyboard or a bass that sends all strings on one channel.

use super::voice::Voice;
use crate::units::Nanos;

/// An off that comes this much after the next on is in order.
pub const TOLERATED: Nanos = Nanos::from_ms(5);
/// Struck together.
pub const TOGETHER: Nanos = Nanos::from_ms(30);
/// Notes that each of two neighbouring channels has to have brought.
const FEWEST: u32 = 2;

/// What is known of the channels.
#[derive(Clone, Debug, Default)]
pub(super) struct Strings {
    notes: [u32; 16],
    chords: bool,
}

impl Strings {
    /// A note of the channel; `with` are the other notes that sound on it when the later one has been heard for a while.
    pub(super) fn hear<'a>(&mut self, note: &Voice, mut with: impl Iterator<Item = &'a Voice>) {
        let slot = &mut self.notes[usize::from(note.channel)];
        *slot = slot.saturating_add(1);
        let struck_with = |other: &Voice| {
            other.ended.is_none()
                && other.key != note.key
                && (note.onset - other.onset).abs() < TOGETHER
        };
        self.chords |= note.ended.is_none() && with.any(struck_with);
    }

    /// Whether the channel is one string among others.
    pub(super) fn is_string(&self, channel: u8) -> bool {
        let channel = usize::from(channel);
        let plays = |at: Option<&u32>| at.is_some_and(|notes| *notes >= FEWEST);
        let next = channel
            .checked_sub(1)
            .and_then(|below| self.notes.get(below));
        !self.chords
            && plays(self.notes.get(channel))
            && (plays(next) || plays(self.notes.get(channel + 1)))
    }
}

/// Whether the earlier note still sounds as the later one of its string begins.
pub(super) fn overlaps(earlier: &Voice, onset: Nanos) -> bool {
    earlier.ended.is_none_or(|end| end > onset + TOLERATED)
}
