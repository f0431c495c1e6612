//! Played notes: what came from the player, as events and as notes.

pub mod cleanup;
pub mod pairing;

use crate::units::{Key, Nanos};

/// What a bass or a converter says, reduced to what bears on notes. Everything else is [`MidiMessage::Other`] and
/// is kept in a take but does not make notes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MidiMessage {
    /// A note begins. Velocity is 1 to 127: a note-on of velocity 0 is read as [`MidiMessage::NoteOff`].
    NoteOn {
        /// 0 to 15.
        channel: u8,
        /// Its pitch.
        key: Key,
        /// How hard, 1 to 127.
        velocity: u8,
    },
    /// A note ends.
    NoteOff {
        /// 0 to 15.
        channel: u8,
        /// Its pitch.
        key: Key,
    },
    /// Every note of the channel ends (control changes 120 and 123 to 127).
    AllNotesOff {
        /// 0 to 15.
        channel: u8,
    },
    /// Another channel voice message, as its bytes (unused ones 0).
    Other([u8; 3]),
}

/// A message and when it happened; the origin is the owner's to say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimedMessage {
    /// When.
    pub at: Nanos,
    /// What.
    pub message: MidiMessage,
}

/// One note that came from the player.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PlayedNote {
    /// Its pitch.
    pub key: Key,
    /// 0 to 15.
    pub channel: u8,
    /// When it began.
    pub onset: Nanos,
    /// How long it sounded; `None` while it still does, or when its end never came.
    pub length: Option<Nanos>,
    /// How hard, 1 to 127.
    pub velocity: u8,
}
