//! Clocks, fed by numbers only: which frame a time is, when a frame is heard, when a stamped event happened.
//!
//! Three clocks meet here and none of them is the others':
//!
//! - the **stream**: frames of the audio output, frame 0 being the first one rendered. Stream time is
//!   [`Nanos`](crate::units::Nanos) since frame 0 *was heard*; see [`frames`].
//! - the **host**: the monotonic clock, nanoseconds since an origin that the owner chooses.
//! - the **port**: the stamps of a MIDI driver, nanoseconds since an origin that nobody knows.
//!
//! [`timebase`] is what a session asks. Under it [`stream`] fits the stream to the host ([`envelope`], then [`dll`]),
//! [`port`] fits the port to the host ([`envelope`], [`grain`]), and [`order`] keeps times from running back. What goes
//! wrong on the way is a [`glitch`]. Lateness is
//! one-sided, so it is nowhere averaged.

pub mod dll;
pub mod envelope;
pub mod frames;
pub mod glitch;
pub mod grain;
pub mod order;
pub mod port;
pub mod stream;
pub mod timebase;
