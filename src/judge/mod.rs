//! Judging: comparing what was played with what was expected.

pub mod convention;
