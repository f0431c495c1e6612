//! Readers of other formats: each makes a [`crate::score::Score`] of a file.

pub mod musicxml;
pub mod smf;
