//! MIDI as bytes: messages from a port, Standard MIDI Files, and the take that is written while it happens.
//!
//! Every time in here is [`Nanos`](crate::units::Nanos) **since the start of the file**, never since bar 1 beat 1.

pub mod conductor;
pub mod message;
pub mod smf;
pub mod swing_marker;
pub mod take_track;
pub mod take_writer;
pub mod tick_clock;
pub(crate) mod track_bytes;
mod vlq;
