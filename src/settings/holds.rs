//! What holds now: every key, its value, and where that is from.

use super::example::{default_in_words, default_typed};
use super::given::{Settings, Typed};
use super::keys::{ALL, Key, Table};
use super::value::written;

/// What holds for one key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Held {
    /// The key.
    pub key: String,
    /// As the file would have it; `None` where nothing is set and the default is no value.
    pub value: Option<String>,
    /// Where it is from, in words.
    pub from: String,
}

/// What holds for the keys of a command where nothing is typed.
pub fn held(settings: &Settings, table: &Table) -> Vec<Held> {
    let holding = settings.holding(table, &Typed::default());
    let of = |key: &Key| holding.iter().find(|(set, _)| set.name == key.name);
    let keys = table.keys.iter();
    keys.map(|key| match of(key) {
        Some((_, entry)) => Held {
            key: key.name.clone(),
            value: Some(written(&key.arg, key.kind, &entry.typed)),
            from: if entry.table == [ALL] {
                format!("the file, [{ALL}], line {}", entry.line)
            } else {
                format!("the file, line {}", entry.line)
            },
        },
        None => unset(key),
    })
    .collect()
}

fn unset(key: &Key) -> Held {
    let typed = default_typed(key).filter(|typed| !typed.is_empty());
    let value = typed.map(|typed| written(&key.arg, key.kind, &typed));
    let from = match (default_in_words(key), &value) {
        (Some(words), _) => format!("default: {words}"),
        (None, Some(_)) => "default".to_owned(),
        (None, None) => "not set".to_owned(),
    };
    Held {
        key: key.name.clone(),
        value,
        from,
    }
}
