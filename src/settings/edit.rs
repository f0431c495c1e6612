//! One table of the settings written by the program: the rest of the file, comments included, stays as it is.

use super::file::SettingsFile;
use super::mistake::{Mistake, MistakeAt, Mistakes};
use crate::draft::{self, Existing};
use crate::line::document::recovered;
use std::io;
use std::path::Path;
use toml_edit::{DocumentMut, Item, Table, Value};

/// Why the settings are left as they are.
#[derive(Debug, thiserror::Error)]
pub enum EditError {
    /// They cannot be read or written.
    #[error("{0}")]
    Io(String),
    /// They are not TOML.
    #[error(transparent)]
    NotToml(Mistakes),
}

/// Makes the table `name` of the settings hold just these entries, and writes the file, whole or not at all. Entries that
/// are as they were keep their place and the comments about them; new ones are added below them. Without a file, it begins.
///
/// # Errors
/// A file that cannot be read or written, or that is not TOML.
pub fn write_table(
    file: &SettingsFile,
    name: &str,
    entries: &toml::Table,
) -> Result<(), EditError> {
    let text = edited(file, name, entries)?;
    let path = file.path();
    let io = |error: io::Error| EditError::Io(format!("cannot write {}: {error}", path.display()));
    if let Some(folder) = path.parent().filter(|folder| *folder != Path::new("")) {
        std::fs::create_dir_all(folder).map_err(io)?;
    }
    let existing = if file.is_there() {
        Existing::Replaced
    } else {
        Existing::Kept
    };
    draft::write(path, text, existing).map_err(io)
}

/// The text of the file with that table in it.
fn edited(file: &SettingsFile, name: &str, entries: &toml::Table) -> Result<String, EditError> {
    let not_toml = || {
        let (_, errors) = recovered(file.text());
        let mistakes = errors.into_iter().map(|(message, span)| MistakeAt {
            mistake: Mistake::Syntax { message },
            span,
        });
        EditError::NotToml(file.mistakes(mistakes.collect()))
    };
    let mut document: DocumentMut = file.text().parse().map_err(|_| not_toml())?;
    if let Some((mut key, item)) = document.get_key_value_mut(name)
        && let Some(inline) = item.as_inline_table()
    {
        *item = Item::Table(inline.clone().into_table());
        // The space before the equals sign would stand in the brackets.
        key.fmt();
    }
    let table = document
        .entry(name)
        .or_insert_with(|| Item::Table(Table::new()));
    let Some(table) = table.as_table_mut() else {
        let not_a_table = Mistake::NotATable { name: name.into() };
        let (root, _) = recovered(file.text());
        let span = root.get_ref().get(name).map_or(0..0, |value| value.span());
        let at = MistakeAt {
            mistake: not_a_table,
            span,
        };
        return Err(EditError::NotToml(file.mistakes(vec![at])));
    };
    table.set_implicit(false);
    fill(table, entries);
    Ok(document.to_string())
}

/// Makes a table hold just these entries. An entry that is a table with a header of its own keeps it.
fn fill(table: &mut Table, entries: &toml::Table) {
    table.retain(|key, _| entries.contains_key(key));
    for (key, value) in entries {
        match (table.get_mut(key), value) {
            (Some(Item::Table(below)), toml::Value::Table(entries)) => fill(below, entries),
            _ => put(table, key, value),
        }
    }
}

/// A value that is as it was is not touched; another takes over the comment behind it.
fn put(table: &mut Table, key: &str, value: &toml::Value) {
    let Ok(mut value) = value.to_string().parse::<Value>() else {
        return;
    };
    match table.get_mut(key).and_then(Item::as_value_mut) {
        Some(old) if same(old, &value) => {}
        Some(old) => {
            *value.decor_mut() = old.decor().clone();
            *old = value;
        }
        None => {
            table.insert(key, Item::Value(value));
        }
    }
}

/// Whether two values mean the same, however they are spaced.
fn same(a: &Value, b: &Value) -> bool {
    let read = |value: &Value| {
        let bare = value.clone().decorated("", "");
        bare.to_string().parse::<toml::Value>().ok()
    };
    read(a).is_some_and(|a| Some(a) == read(b))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    const BEFORE: &str = "# mine\n[play]\nwindow = 40 # narrow\n\n[control]\n# the left pedal\nagain = { control = 64,  channel = 1 } # worn\nstop = { control = 65, channel = 1 }\n\n[demo]\nseed = 3\n";

    fn table(text: &str) -> toml::Table {
        text.parse().unwrap()
    }

    fn after(before: &str, entries: &str) -> String {
        let file = SettingsFile::of_text(Path::new("s.toml"), before);
        edited(&file, "control", &table(entries)).unwrap()
    }

    #[test]
    fn what_is_not_changed_stays_to_the_letter() {
        let same = "again = { control = 64, channel = 1 }\nstop = { control = 65, channel = 1 }";
        assert_eq!(after(BEFORE, same), BEFORE);
        let changed = after(
            BEFORE,
            "again = { control = 64, channel = 1 }\nstop = { control = 66, channel = 2 }\nnext = { program = 3 }",
        );
        let expected = BEFORE.replace(
            "stop = { control = 65, channel = 1 }\n",
            "stop = { channel = 2, control = 66 }\nnext = { program = 3 }\n",
        );
        assert_eq!(changed, expected);
    }

    #[test]
    fn an_entry_with_a_header_of_its_own_or_with_dots_keeps_them_and_its_comments() {
        let before = "# mine\n[control.again]\n# the left pedal\ncontrol = 64 # worn\nchannel = 1\n\n[play]\nwindow = 40\n";
        let same = "again = { control = 64, channel = 1 }";
        let with_stop = after(before, &format!("{same}\nstop = {{ control = 65 }}"));
        assert_eq!(
            with_stop,
            format!("[control]\nstop = {{ control = 65 }}\n{before}")
        );
        let changed = after(before, "again = { control = 66 }");
        assert!(
            changed.contains("# mine\n[control.again]\n# the left pedal\ncontrol = 66 # worn\n")
        );
        assert!(!changed.contains("channel"), "{changed}");
        let dotted = "[control]\nagain.control = 64 # worn\nagain.channel = 1\n";
        assert_eq!(after(dotted, same), dotted);
    }

    #[test]
    fn an_entry_can_go_and_a_table_can_come() {
        let fewer = after(BEFORE, "again = { control = 64, channel = 1 }");
        assert!(!fewer.contains("stop"));
        assert!(fewer.contains("# worn"));
        let added = after("[play]\nwindow = 40", "stop = { control = 65 }");
        assert_eq!(
            table(&added)["control"]["stop"]["control"].as_integer(),
            Some(65)
        );
        assert!(added.starts_with("[play]\nwindow = 40"));
        let inline = after(
            "control = { stop = { control = 1 } }\n[play]\n",
            "stop = { control = 2 }",
        );
        assert_eq!(
            table(&inline)["control"]["stop"]["control"].as_integer(),
            Some(2)
        );
        assert!(inline.starts_with("[control]\n"), "{inline}");
    }

    #[test]
    fn a_file_begins_and_one_that_is_not_toml_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let place = crate::settings::file::Place::Usual(folder.path().join("a/settings.toml"));
        let entries = table("stop = { control = 65 }");
        write_table(&place.read().unwrap(), "control", &entries).unwrap();
        let again = place.read().unwrap();
        assert!(again.reserved("control").unwrap().contains_key("stop"));

        fs::write(place.path(), "[play\nwindow = 1").unwrap();
        let refused = write_table(&place.read().unwrap(), "control", &entries).unwrap_err();
        assert!(
            refused.to_string().contains("settings.toml:1:6"),
            "{refused}"
        );
        assert_eq!(
            fs::read_to_string(place.path()).unwrap(),
            "[play\nwindow = 1"
        );

        fs::write(place.path(), "control = 1").unwrap();
        assert!(write_table(&place.read().unwrap(), "control", &entries).is_err());
    }
}
