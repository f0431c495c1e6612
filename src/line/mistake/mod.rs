//! What can be wrong with a line file: one named variant a mistake, grouped by the part of the file it is about.
//!
//! Every mistake has a message (its `Display`), a stable id in kebab-case, a label for the marked text and a help
//! that says what would be right. Bars are numbered as in the reports: from 1 through all sections, a pickup is 0.

use std::ops::Range;

pub mod bar;
pub mod document;
pub mod layer;
pub mod note;
pub mod place;
pub mod setting;

pub use bar::BarMistake;
pub use document::DocumentMistake;
pub use layer::LayerMistake;
pub use note::NoteMistake;
pub use place::PlaceMistake;
pub use setting::SettingMistake;

/// One mistake in a line file.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Mistake {
    /// About the file as a TOML document and its keys.
    #[error(transparent)]
    Document(#[from] DocumentMistake),
    /// About a value such as the tempo or the tuning.
    #[error(transparent)]
    Setting(#[from] SettingMistake),
    /// About where a note is on the fingerboard.
    #[error(transparent)]
    Place(#[from] PlaceMistake),
    /// About a note's length, marks or tie.
    #[error(transparent)]
    Note(#[from] NoteMistake),
    /// About bars and how they are filled.
    #[error(transparent)]
    Bar(#[from] BarMistake),
    /// About chords, strokes and fingers.
    #[error(transparent)]
    Layer(#[from] LayerMistake),
}

/// What is said about a mistake beside its message.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Explanation {
    /// The stable name, in kebab-case.
    pub id: &'static str,
    /// Stands beside the marked text: what was found there.
    pub label: String,
    /// What would be right.
    pub help: String,
}

impl Explanation {
    pub(crate) fn new(
        id: &'static str,
        label: impl Into<String>,
        help: impl Into<String>,
    ) -> Explanation {
        Explanation {
            id,
            label: label.into(),
            help: help.into(),
        }
    }
}

impl Mistake {
    /// Its id, label and help.
    pub fn explanation(&self) -> Explanation {
        match self {
            Mistake::Document(mistake) => mistake.explanation(),
            Mistake::Setting(mistake) => mistake.explanation(),
            Mistake::Place(mistake) => mistake.explanation(),
            Mistake::Note(mistake) => mistake.explanation(),
            Mistake::Bar(mistake) => mistake.explanation(),
            Mistake::Layer(mistake) => mistake.explanation(),
        }
    }

    /// The stable name of this kind of mistake, in kebab-case.
    pub fn id(&self) -> &'static str {
        self.explanation().id
    }
}

/// A mistake and the bytes of the file that it is about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MistakeAt {
    /// What is wrong.
    pub mistake: Mistake,
    /// Byte offsets into the file.
    pub span: Range<usize>,
}

/// A list in words: `E, A or D`.
pub(crate) fn either(words: &[String]) -> String {
    listed(words, "or")
}

/// A list in words: `E, A and D`.
pub(crate) fn all(words: &[String]) -> String {
    listed(words, "and")
}

fn listed(words: &[String], last_word: &str) -> String {
    match words {
        [] => String::new(),
        [only] => only.clone(),
        [front @ .., last] => format!("{} {last_word} {last}", front.join(", ")),
    }
}

/// A count with its noun: `1 mark`, `7 marks`.
pub(crate) fn counted(count: usize, noun: &str) -> String {
    let plural = if count == 1 { "" } else { "s" };
    format!("{count} {noun}{plural}")
}
