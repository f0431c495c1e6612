//! Progress as it is told: in the terminal ([`text`]), for a program ([`json`], [`csv`]).

pub mod csv;
pub mod json;
pub mod plot;
pub mod text;
pub mod words;

use crate::progress::Progress;
use crate::progress::today::Suggestion;

/// Progress on one line, with what belongs to the line.
pub struct OnLine<'a> {
    /// The line's title.
    pub title: &'a str,
    /// Its file, as it was given when it was played last.
    pub file: &'a str,
    /// Who played.
    pub player: &'a str,
    /// What is said.
    pub progress: &'a Progress,
    /// Takes of the same title that were played to other notes: the line was changed since.
    pub of_other_notes: usize,
}

/// What to play today, and where each line's file is.
pub struct Today<'a> {
    /// What, the most fruitful first.
    pub suggestions: &'a [Suggestion],
    /// The files of the lines, by [`Suggestion::line`].
    pub files: &'a [String],
}
