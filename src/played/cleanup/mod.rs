//! The clean-up stage: messages as a pitch-to-MIDI converter sends them, to messages as the player played them.
//!
//! It stands between the intake and the pairing. Each thing that converters are known to do wrong has a rule with a
//! name ([`Rule`]), a file, and bounds that no player reaches, so that clean playing passes unchanged. What a rule did is
//! listed ([`Cleaned`]); the take's file keeps the messages as they came. A note-on of velocity 0 needs no rule: it
//! is read as an off where bytes become messages.
//!
//! Messages are held back for [`HOLD`] at most, and while a slide goes on for [`slide_steps::LONGEST`]. They are passed
//! on in the order of time and at their own times: only a note's end that never came, or came after its string's next
//! note, is given a time. What is done depends on the messages and their times alone, never on when the stage was
//! asked, so that a take judged live and the same take read from disk are cleaned alike. Nothing allocates but the list
//! of what was cleaned, once it has outgrown the room it was given.

pub mod bend_splits;
pub mod bent_keys;
pub mod doubled_notes;
pub mod ghost_triggers;
mod held;
mod joining;
pub mod missing_offs;
pub mod octave_glitches;
mod passing;
mod rule;
pub mod slide_steps;
mod stage;
pub mod string_overlaps;
mod voice;
mod wheel;

pub use rule::{Rule, Rules};
pub use stage::Cleanup;

use crate::units::{Key, Nanos};

/// How long a note is held back before it is known to be one: the longest glitch, and the time an off may come late.
pub const HOLD: Nanos = Nanos(slide_steps::SHORTER_THAN.0 + JOIN.0);
/// A note that begins this close to the end of another, on either side, begins as it ends. Converters send the two
/// messages within a block of theirs, and a cable needs 1 ms for each (31.25 kBd).
pub const JOIN: Nanos = Nanos::from_ms(5);

/// One thing that was cleaned up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cleaned {
    /// By which rule.
    pub rule: Rule,
    /// When the note began that is no longer there or has another key; for an end that was set, where it was set.
    pub at: Nanos,
    /// The key that came.
    pub key: Key,
    /// The key of the note that it is, or is part of, now; `None` when it was left out.
    pub into: Option<Key>,
}
