//! Clocks, fed by numbers only: which frame a time is, when a frame is heard, when a stamped event happened.
//!
//! Three clocks meet here and none of them is the others':
//!
//! - the **stream**: frames of the audio output, frame 0 being the first one rendered. Stream time is
//!   [`Nanos`](crate::units::Nanos) since frame 0 *was heard*; see [`frames`].
//! - the **host**: the monotonic clock, nanoseconds since an origin that the owner chooses.
//! - the **port**: the stamps of a MIDI driver, nanoseconds since an origin that nobody knows.
//!
//! [`dll`] fits the stream to the host, [`envelope`] fits the port to the host.

pub mod dll;
pub mod envelope;
pub mod frames;
