//! Mistakes of the file as a document: its syntax, its keys and the types of their values.

use super::Explanation;

/// Which table of the file a key stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Table {
    /// The head of the file.
    Line,
    /// A `[[section]]`.
    Section,
}

/// A mistake of the document.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DocumentMistake {
    /// The file is not TOML.
    #[error("this is not valid TOML: {message}")]
    TomlSyntax {
        /// What the TOML reader says.
        message: String,
    },
    /// A key that a line file does not have.
    #[error("{} no key `{key}`", match table { Table::Line => "the head of a line has", Table::Section => "a section has" })]
    UnknownKey {
        /// The key as written.
        key: String,
        /// Where it stands.
        table: Table,
        /// The known key that looks most like it.
        nearest: Option<&'static str>,
        /// Whether the other table has this very key.
        elsewhere: bool,
    },
    /// A key that has to be there is not.
    #[error("{} `{key}`", match table { Table::Line => "the line has no", Table::Section => "this section has no" })]
    MissingKey {
        /// The key.
        key: &'static str,
        /// Where it should stand.
        table: Table,
        /// How it may look.
        example: &'static str,
    },
    /// A value of another type than its key wants.
    #[error("`{key}` wants {wanted}, not {found}")]
    WrongType {
        /// The key.
        key: String,
        /// The type that was found, with its article.
        found: &'static str,
        /// The type that is wanted, with its article.
        wanted: &'static str,
        /// How it may look.
        example: String,
    },
    /// A key that its table already has.
    #[error("`{key}` stands twice in this table")]
    DuplicateKey {
        /// The key.
        key: String,
    },
    /// The line has no section.
    #[error("the line has no section, and so no notes")]
    NoSection,
    /// A title or name without a letter in it.
    #[error("`{key}` is blank")]
    BlankText {
        /// The key.
        key: &'static str,
    },
    /// The head says one thing about a pickup and the first section another.
    #[error("the head of the line and its first section disagree about `pickup`")]
    PickupDisagrees,
}

impl DocumentMistake {
    pub(super) fn explanation(&self) -> Explanation {
        use DocumentMistake as M;
        match self {
            M::TomlSyntax { .. } => Explanation::new(
                "toml-syntax",
                "the reader stopped here",
                "a line of the file is `key = value`, texts stand in \"quotes\", a section begins with `[[section]]`",
            ),
            M::UnknownKey {
                key,
                table,
                nearest,
                elsewhere,
            } => Explanation::new(
                "unknown-key",
                "not a key of this table",
                unknown_key_help(key, *table, *nearest, *elsewhere),
            ),
            M::MissingKey { key, example, .. } => Explanation::new(
                "missing-key",
                format!("`{key}` is missing here"),
                format!("add `{example}`"),
            ),
            M::WrongType { found, example, .. } => Explanation::new(
                "wrong-type",
                format!("this is {found}"),
                format!("write `{example}`"),
            ),
            M::DuplicateKey { .. } => Explanation::new(
                "duplicate-key",
                "for the second time",
                "keep the one that is meant; each further section begins with its own `[[section]]`",
            ),
            M::NoSection => Explanation::new(
                "no-section",
                "no `[[section]]` in this file",
                "add `[[section]]` with a `name` and its `notes`",
            ),
            M::BlankText { key } => Explanation::new(
                "blank-text",
                "nothing to read here",
                format!("give `{key}` a word that a player can call it by"),
            ),
            M::PickupDisagrees => Explanation::new(
                "pickup-disagrees",
                "the head of the line says otherwise",
                "say `pickup` once, in the head of the line",
            ),
        }
    }
}

fn unknown_key_help(key: &str, table: Table, nearest: Option<&str>, elsewhere: bool) -> String {
    match (nearest, elsewhere, table) {
        (_, true, Table::Line) => format!("`{key}` belongs under a `[[section]]`"),
        (_, true, Table::Section) => {
            format!("`{key}` belongs in the head of the file, above the first `[[section]]`")
        }
        (Some(nearest), ..) => format!("did you mean `{nearest}`?"),
        (None, false, table) => format!("the keys here are {}", table.keys().join(", ")),
    }
}

impl Table {
    /// The keys that the table may have.
    pub fn keys(self) -> &'static [&'static str] {
        match self {
            Table::Line => &[
                "title", "meter", "tempo", "swing", "swung", "tuning", "gate", "key", "pickup",
                "section",
            ],
            Table::Section => &[
                "name", "tempo", "meter", "swing", "swung", "key", "gate", "pickup", "passes",
                "chords", "notes", "strokes", "fingers",
            ],
        }
    }
}
