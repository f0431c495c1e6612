//! What can be wrong in the settings: one named variant a mistake, each with what would be right.

use crate::line::mistake::{Explanation, either};
use crate::line::mistakes::{Place, on_characters, shown};
use annotate_snippets::Renderer;
use std::ops::Range;

/// One mistake in the settings.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Mistake {
    /// The text is not TOML.
    #[error("{message}")]
    Syntax {
        /// What the reader says.
        message: String,
    },
    /// No command has this name.
    #[error("there is no `[{name}]` in the settings")]
    UnknownTable {
        /// The table.
        name: String,
        /// What was probably meant.
        nearest: Option<String>,
        /// Those there are.
        tables: Vec<String>,
    },
    /// A command that has nothing to set.
    #[error("`[{name}]` has no keys")]
    NoKeys {
        /// The table.
        name: String,
    },
    /// A key above the first table.
    #[error("`{key}` stands above the first table")]
    OutsideTable {
        /// The key.
        key: String,
        /// Where it may stand.
        tables: Vec<String>,
    },
    /// A key that its table does not have.
    #[error("there is no key `{key}` in `[{table}]`")]
    UnknownKey {
        /// The key.
        key: String,
        /// Its table.
        table: String,
        /// What was probably meant.
        nearest: Option<String>,
        /// Tables that do have it.
        elsewhere: Vec<String>,
        /// The keys of the table.
        keys: Vec<String>,
    },
    /// An option that is no key.
    #[error("`{key}` cannot be set in the settings")]
    NoKey {
        /// The option.
        key: String,
        /// Why not.
        reason: &'static str,
    },
    /// A value where a table is needed.
    #[error("`{name}` is a table")]
    NotATable {
        /// The table.
        name: String,
    },
    /// A value of the wrong type.
    #[error("`{key}` is {wanted}")]
    WrongType {
        /// The key.
        key: String,
        /// What is written.
        found: &'static str,
        /// What is wanted.
        wanted: &'static str,
        /// What could stand there.
        example: String,
    },
    /// A value that the option does not take.
    #[error("`{key}` cannot be {value}")]
    WrongValue {
        /// The key.
        key: String,
        /// As it is written.
        value: String,
        /// What is wrong with it.
        why: String,
        /// What could stand there.
        example: String,
    },
    /// Two keys of a table that exclude each other.
    #[error("`{key}` and `{other}` exclude each other")]
    Excluded {
        /// The key that stands later.
        key: String,
        /// The other one.
        other: String,
    },
    /// What the owner of a reserved table has against it.
    #[error("{message}")]
    Reserved {
        /// What is wrong.
        message: String,
        /// What stands at its place.
        label: String,
        /// What would be right.
        help: String,
    },
}

impl Mistake {
    /// Its id, label and help.
    pub fn explanation(&self) -> Explanation {
        match self {
            Mistake::Syntax { .. } => Explanation::new(
                "toml-syntax",
                "the reader stopped here",
                "a table begins with `[play]`, below it stands `key = value`, texts stand in \"quotes\"",
            ),
            Mistake::UnknownTable {
                nearest, tables, ..
            } => Explanation::new(
                "unknown-table",
                "no command has this name",
                match nearest {
                    Some(nearest) => format!("did you mean `[{nearest}]`?"),
                    None => format!("the tables are {}", tables.join(", ")),
                },
            ),
            Mistake::NoKeys { .. } => Explanation::new(
                "no-keys",
                "nothing to set here",
                "`leadsman settings` lists what can be set",
            ),
            Mistake::OutsideTable { key, tables } => Explanation::new(
                "outside-table",
                "in no table",
                if tables.is_empty() {
                    "`leadsman settings` lists what can be set, and in which table".to_owned()
                } else {
                    format!("write `{key}` below {}", in_brackets(tables))
                },
            ),
            Mistake::UnknownKey {
                key,
                nearest,
                elsewhere,
                keys,
                ..
            } => Explanation::new(
                "unknown-key",
                "not a key of this table",
                match nearest {
                    _ if !elsewhere.is_empty() => {
                        format!("`{key}` is a key of {}", in_brackets(elsewhere))
                    }
                    Some(nearest) => format!("did you mean `{nearest}`?"),
                    None => format!("the keys here are {}", keys.join(", ")),
                },
            ),
            Mistake::NoKey { key, reason } => Explanation::new(
                "no-key",
                "this is typed as an option",
                format!("type --{key} where you need it: {reason}"),
            ),
            Mistake::NotATable { name } => Explanation::new(
                "not-a-table",
                "this is a value",
                format!("write `[{name}]`, and its keys below it"),
            ),
            Mistake::WrongType { found, example, .. } => Explanation::new(
                "wrong-type",
                format!("this is {found}"),
                format!("write `{example}`"),
            ),
            Mistake::WrongValue { why, example, .. } => Explanation::new(
                "wrong-value",
                why.clone(),
                format!("something like `{example}`"),
            ),
            Mistake::Excluded { other, .. } => Explanation::new(
                "excluded",
                format!("not together with `{other}`"),
                "keep the one that is meant",
            ),
            Mistake::Reserved { label, help, .. } => {
                Explanation::new("wrong-entry", label.clone(), help.clone())
            }
        }
    }
}

fn in_brackets(tables: &[String]) -> String {
    let named: Vec<String> = tables.iter().map(|table| format!("`[{table}]`")).collect();
    either(&named)
}

/// A mistake and the bytes of the file that it is about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MistakeAt {
    /// What is wrong.
    pub mistake: Mistake,
    /// Byte offsets into the file.
    pub span: Range<usize>,
}

/// All mistakes of the settings, to be shown in their text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mistakes {
    file: String,
    text: String,
    list: Vec<MistakeAt>,
}

impl Mistakes {
    pub(super) fn new(file: &str, text: &str, mut list: Vec<MistakeAt>) -> Mistakes {
        for at in &mut list {
            at.span = on_characters(text, at.span.clone());
        }
        list.sort_by_key(|at| (at.span.start, at.span.end));
        Mistakes {
            file: file.to_owned(),
            text: text.to_owned(),
            list,
        }
    }

    /// In the order of the text.
    pub fn iter(&self) -> std::slice::Iter<'_, MistakeAt> {
        self.list.iter()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// Every mistake with its file, line, column, marked text and help. `colour` is for a terminal that wants it.
    pub fn render(&self, colour: bool) -> String {
        let renderer = if colour {
            Renderer::styled()
        } else {
            Renderer::plain()
        };
        let each = self.list.iter().map(|at| {
            let place = Place {
                file: &self.file,
                text: &self.text,
                line: line_of(&self.text, at.span.start),
                span: &at.span,
            };
            let explanation = at.mistake.explanation();
            shown(&renderer, &place, &at.mistake.to_string(), explanation)
        });
        each.collect::<Vec<_>>().join("\n\n")
    }
}

impl std::fmt::Display for Mistakes {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.render(false))
    }
}

impl std::error::Error for Mistakes {}

/// The line of a byte of the text, from 1.
pub(super) fn line_of(text: &str, byte: usize) -> usize {
    let before = &text.as_bytes()[..byte.min(text.len())];
    before.iter().filter(|byte| **byte == b'\n').count() + 1
}
