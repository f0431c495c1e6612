//! Mistakes in a note's length, marks and tie.

use super::Explanation;

/// A mistake in a note.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoteMistake {
    /// No `/LENGTH` after the place.
    #[error("`{found}` has no length")]
    MissingLength {
        /// The note as written.
        found: String,
    },
    /// What follows the `/` is no length.
    #[error("`{found}` is not a length")]
    BadLength {
        /// The text.
        found: String,
        /// The length that was probably meant.
        meant: Option<String>,
    },
    /// A character after the length that is no mark.
    #[error("`{found}` is not a mark")]
    BadMark {
        /// The character.
        found: char,
    },
    /// The same mark twice.
    #[error("the mark `{mark}` stands twice")]
    RepeatedMark {
        /// The mark.
        mark: char,
    },
    /// Marks that exclude each other.
    #[error("`{first}` and `{second}` contradict each other")]
    ContradictoryMarks {
        /// The mark that came first.
        first: char,
        /// The mark that contradicts it.
        second: char,
    },
    /// A mark on a rest.
    #[error("a rest has no mark `{mark}`")]
    MarkOnRest {
        /// The mark.
        mark: char,
    },
    /// A length mark on a dead note.
    #[error("a dead note has no mark `{mark}`: it is short as it is")]
    LengthMarkOnDeadNote {
        /// The mark.
        mark: char,
    },
    /// A mark on a note that the one before ties into.
    #[error("this note is tied to the one before and not struck again, so it has no mark `{mark}`")]
    MarkOnTiedNote {
        /// The mark.
        mark: char,
    },
    /// Something after the tie.
    #[error("`{after}` stands after the tie")]
    TieNotLast {
        /// What follows the `~`.
        after: String,
    },
    /// A tie that starts at a rest.
    #[error("a rest cannot be tied")]
    TieOnRest,
    /// A tie that starts at a dead note.
    #[error("a dead note cannot be tied")]
    TieOnDeadNote,
    /// A tie into a rest.
    #[error("{from} is tied to a rest")]
    TieToRest {
        /// The tied note.
        from: String,
    },
    /// A tie into a dead note.
    #[error("{from} is tied to a dead note")]
    TieToDeadNote {
        /// The tied note.
        from: String,
    },
    /// A tie into another pitch.
    #[error("{from} is tied to another pitch, {to}")]
    TieToAnotherPitch {
        /// The tied note.
        from: String,
        /// The next one.
        to: String,
    },
    /// A tie into the same pitch on another string.
    #[error("{from} is tied to the same pitch on another string, {to}")]
    TieToAnotherString {
        /// The tied note.
        from: String,
        /// The next one.
        to: String,
    },
    /// A tie with nothing after it.
    #[error("{from} is tied past the end of the section")]
    TieAtEnd {
        /// The tied note.
        from: String,
    },
}

impl NoteMistake {
    pub(super) fn explanation(&self) -> Explanation {
        use NoteMistake as M;
        match self {
            M::MissingLength { found } => Explanation::new(
                "missing-length",
                "a place without a length",
                format!("write `{found}/4` for a quarter, `{found}/8` for an eighth"),
            ),
            M::BadLength { meant, .. } => Explanation::new(
                "bad-length",
                "not a length",
                match meant {
                    Some(meant) => format!("write `/{meant}`"),
                    None => "a length is 1, 2, 4, 8, 16 or 32, then `.` or `..` for dots, then `t` for a triplet".to_owned(),
                },
            ),
            M::BadMark { .. } => Explanation::new(
                "bad-mark",
                "not a mark",
                "the marks are `'` short, `_` full, `m` muted, `>` accent, `?` optional; a final `~` ties",
            ),
            M::RepeatedMark { mark } => Explanation::new(
                "repeated-mark",
                "for the second time",
                format!("write `{mark}` once"),
            ),
            M::ContradictoryMarks { .. } => Explanation::new(
                "contradictory-marks",
                "not both",
                "`'` and `m` make a note short, `_` makes it full: keep the one that is meant",
            ),
            M::MarkOnRest { .. } => Explanation::new(
                "mark-on-rest",
                "a mark on a rest",
                "leave it out; to end the note before cleanly, mark that note `m`",
            ),
            M::LengthMarkOnDeadNote { .. } => Explanation::new(
                "length-mark-on-dead-note",
                "says nothing on a dead note",
                "leave it out; `>` and `?` are what a dead note can have",
            ),
            M::MarkOnTiedNote { mark } => Explanation::new(
                "mark-on-tied-note",
                "not struck again",
                format!("put `{mark}` on the note where the tie begins: it then counts for the whole length"),
            ),
            M::TieNotLast { .. } => Explanation::new(
                "tie-not-last",
                "after the tie",
                "put `~` at the very end of the note",
            ),
            M::TieOnRest => Explanation::new(
                "tie-on-rest",
                "a tie on a rest",
                "leave `~` out: rests that follow each other add up by themselves",
            ),
            M::TieOnDeadNote => Explanation::new(
                "tie-on-dead-note",
                "a tie on a dead note",
                "leave `~` out, and write the next dead note as a rest if it is not struck",
            ),
            M::TieToRest { .. } => Explanation::new(
                "tie-to-rest",
                "a rest follows",
                "leave `~` out, or write the same pitch instead of the rest",
            ),
            M::TieToDeadNote { .. } => Explanation::new(
                "tie-to-dead-note",
                "a dead note follows",
                "leave `~` out: a dead note is struck",
            ),
            M::TieToAnotherPitch { from, to } => Explanation::new(
                "tie-to-another-pitch",
                format!("{to} follows"),
                format!("leave `~` out, or write {from} again"),
            ),
            M::TieToAnotherString { from, to } => Explanation::new(
                "tie-to-another-string",
                format!("{to} follows"),
                format!("a tied note stays where it is: write {from} again"),
            ),
            M::TieAtEnd { .. } => Explanation::new(
                "tie-at-end",
                "nothing follows in this section",
                "leave `~` out: a tie cannot reach into another section or pass",
            ),
        }
    }
}
