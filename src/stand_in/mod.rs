//! The stand-in: a simulated player with habits, for tests, for the demo, and for anyone without an instrument.
//!
//! It plays the expected notes of a line as MIDI events on channel 0 (a converter with a channel for each string: 0 to 3),
//! at times since bar 1 beat 1. What it does by chance comes from a seed alone, so that a take can be played again on
//! any machine; each habit draws from its own stream, so that turning one on does not move what the others do.

mod chance;
pub mod converter;
mod converter_faults;
mod fingerboard;
mod habit_text;
mod habits;
mod hand_moves;
mod lengths;
mod overlap;
mod performance;
mod pitch_slips;
mod players;
mod ringing;
mod timing;

pub use converter_faults::Fault;
pub use habit_text::HabitError;
pub use habits::Habits;
pub use performance::{Performance, Truth, perform};

use crate::expected::Expected;
use crate::played::TimedMessage;

/// Plays a line: the events by time, an end before a beginning at the same time. See [`perform`] for the truth
/// behind them.
pub fn play(expected: &Expected, habits: &Habits, seed: u64) -> Vec<TimedMessage> {
    perform(expected, habits, seed).events
}
