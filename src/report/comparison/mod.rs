//! A comparison of players, for a teacher ([`text`]) and for programs ([`json`], [`csv`]).

pub mod csv;
pub mod json;
pub mod text;

use super::LineFacts;
use crate::compare::Part;
use crate::compare::alike::Way;

/// Everything a comparison is told from.
pub struct Comparison {
    /// The line, with the speed and the bars that are compared.
    pub line: LineFacts,
    /// All of it.
    pub whole: Part,
    /// Section by section, where that is asked for.
    pub sections: Option<Vec<Part>>,
    /// Takes that do not count.
    pub left_out: Vec<LeftOut>,
}

/// A take that does not count.
#[derive(Clone, Debug, PartialEq)]
pub struct LeftOut {
    /// Its file.
    pub file: String,
    /// Whose it is.
    pub player: String,
    /// Why.
    pub why: Why,
}

/// Why a take does not count.
#[derive(Clone, Debug, PartialEq)]
pub enum Why {
    /// It is of other bars, or at another speed.
    OtherWay(Way),
    /// It was ended before half of the line.
    Stopped,
    /// It could not be read or judged.
    NotJudged(String),
}
