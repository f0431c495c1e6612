//! leadsman: listens to a bass over MIDI while a click plays, and says how every note sat against the written line.
//!
//! The modules follow the way of the data; each knows only those to its left:
//!
//! ```text
//! line ─► expected ─┐
//!                   ├─► judge ─► findings ─► report
//! midi ─► played ───┘                        └─► progress
//! ```
//!
//! Everything named here is pure (no thread, no clock, no device) except `backend` and `commands`.
//!
//! Time is [`units::Nanos`] since **bar 1 beat 1** wherever a line is involved, and since the start of the file
//! inside `midi`; the two never mix.

pub mod advice;
pub mod backend;
pub mod chart;
pub mod cli;
pub mod click;
pub mod clock;
pub mod commands;
pub mod compare;
mod draft;
pub mod engraving;
pub mod expected;
pub mod export;
pub mod findings;
pub mod fingering;
pub mod import;
pub mod judge;
pub mod latency;
pub mod line;
pub mod live;
pub mod logbook;
pub mod midi;
pub mod page;
pub mod played;
pub mod practice;
pub mod progress;
mod quiet;
pub mod report;
pub mod score;
pub mod screen;
pub mod settings;
pub mod stand_in;
pub mod take;
pub mod tone;
pub mod units;
pub mod wav;

/// Counts nothing and costs nothing, but for what runs inside `assert_no_alloc`: an allocation there ends the tests.
#[cfg(test)]
#[global_allocator]
static ALLOCATOR: assert_no_alloc::AllocDisabler = assert_no_alloc::AllocDisabler;
