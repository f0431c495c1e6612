//! What to play today.

use super::History;
use crate::line::bar_range::BarRange;
use serde::Serialize;

/// One line that the player has played.
#[derive(Clone, Copy, Debug)]
pub struct Practised<'a> {
    /// Its title.
    pub title: &'a str,
    /// The takes of it.
    pub history: &'a History,
}

/// Something to play.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Suggestion {
    /// The line's title.
    pub title: String,
    /// Its place among the lines that were given.
    #[serde(skip)]
    pub line: usize,
    /// The bars; null: all of the line.
    pub bars: Option<BarRange>,
    /// Percent of the written tempo.
    pub speed: u32,
    /// Why.
    #[serde(flatten)]
    pub reason: Reason,
}

/// Why something is suggested.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "why")]
pub enum Reason {
    /// The latest take at this speed was clean, or missed it by one thing: two clean takes in a row hold it.
    NearlyThere {
        /// Takes in a row that are still to be played clean: 1 or 2.
        clean_takes_to_go: u32,
    },
    /// The finding that hurts most in the latest take of the line.
    Weakest {
        /// Its id.
        finding: String,
        /// Notes that show it.
        count: u32,
        /// Out of how many.
        of: u32,
    },
    /// It has not been played for long.
    Stale {
        /// Whole days, by the player's own calendar.
        days: i64,
    },
}
