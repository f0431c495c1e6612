//! With both hands on the instrument: foot switches and other MIDI controls ([`switches`], bound in one step by [`learn`]),
//! and two quick notes on an open string ([`two_notes`]).
//!
//! Times are of one clock that goes on through takes and what lies between them (stream time).

pub mod learn;
pub mod mapping;
pub mod switches;
pub mod trigger;
pub mod two_notes;

pub use learn::{Learn, Learned};
pub use mapping::{Bound, Mapping};
pub use switches::Switches;
pub use trigger::{Press, Trigger};
pub use two_notes::{Listening, TwoNotes};

use crate::units::Nanos;

/// Within this of its last change a switch has not been pressed again. A contact bounces for some 20 ms at the most, and
/// nobody presses one twice on purpose within a seventh of a second.
pub const DEBOUNCE: Nanos = Nanos::from_ms(150);
