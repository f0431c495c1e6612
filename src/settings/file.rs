//! Where the settings are, and their text.

use super::mistake::{MistakeAt, Mistakes};
use crate::line::document::recovered;
use crate::line::read::{ReadError, read_text};
use etcetera::BaseStrategy;
use std::io;
use std::path::{Path, PathBuf};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// Where the settings are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
    /// In a file that was named: it has to be there.
    Named(PathBuf),
    /// In `leadsman/settings.toml` of the user's config folder; there need be none.
    Usual(PathBuf),
}

impl Place {
    /// The file that was named, or the usual one.
    ///
    /// # Errors
    /// Where the user has no home.
    pub fn of(named: Option<&Path>) -> io::Result<Place> {
        if let Some(path) = named {
            return Ok(Place::Named(path.to_path_buf()));
        }
        let folders = etcetera::choose_base_strategy().map_err(io::Error::other)?;
        let folder = folders.config_dir().join("leadsman");
        Ok(Place::Usual(folder.join("settings.toml")))
    }

    /// The file.
    pub fn path(&self) -> &Path {
        match self {
            Place::Named(path) | Place::Usual(path) => path,
        }
    }

    /// Reads the file. Where there need be none and is none, it says nothing.
    ///
    /// # Errors
    /// What cannot be read, with its name.
    pub fn read(&self) -> Result<SettingsFile, ReadError> {
        let text = match (self, read_text(self.path())) {
            (Place::Usual(_), Err(ReadError::Io { cause, .. })) if nothing_there(&cause) => None,
            (_, read) => Some(read?),
        };
        Ok(SettingsFile {
            path: self.path().to_path_buf(),
            text,
        })
    }
}

fn nothing_there(cause: &io::Error) -> bool {
    matches!(
        cause.kind(),
        io::ErrorKind::NotFound | io::ErrorKind::NotADirectory
    )
}

/// The settings as they are written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SettingsFile {
    path: PathBuf,
    /// `None` where there is no file.
    text: Option<String>,
}

impl SettingsFile {
    /// A text as if it stood in that file.
    pub fn of_text(path: &Path, text: &str) -> SettingsFile {
        SettingsFile {
            path: path.to_path_buf(),
            text: Some(text.to_owned()),
        }
    }

    /// The file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether there is a file.
    pub fn is_there(&self) -> bool {
        self.text.is_some()
    }

    /// What is written in it.
    pub fn text(&self) -> &str {
        self.text.as_deref().unwrap_or_default()
    }

    /// A reserved table (one of [`RESERVED`](super::keys::RESERVED)) as it is written: the spans are bytes of
    /// [`text`](SettingsFile::text). `None` where the file does not have it.
    pub fn reserved(&self, name: &str) -> Option<DeTable<'_>> {
        let (root, _) = recovered(self.text());
        let value = root.into_inner().remove(name).map(Spanned::into_inner)?;
        match value {
            DeValue::Table(table) => Some(table),
            _ => None,
        }
    }

    /// These mistakes, to be shown in the text of the file.
    pub fn mistakes(&self, list: Vec<MistakeAt>) -> Mistakes {
        Mistakes::new(&self.path.display().to_string(), self.text(), list)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_was_named_has_to_be_there_and_the_usual_one_has_not() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("none/settings.toml");
        let usual = Place::Usual(path.clone()).read().unwrap();
        assert!(!usual.is_there());
        assert_eq!(usual.text(), "");
        let named = Place::Named(path).read().unwrap_err();
        assert!(named.to_string().contains("settings.toml"), "{named}");
    }

    #[test]
    fn a_reserved_table_is_handed_on_with_its_places() {
        let text = "[play]\nwindow = 40\n[control]\nagain = { control = 64, channel = 1 }\n";
        let file = SettingsFile::of_text(Path::new("s.toml"), text);
        let table = file.reserved("control").unwrap();
        let (key, value) = table.iter().next().unwrap();
        assert_eq!(&text[key.span()], "again");
        assert_eq!(&text[value.span()], "{ control = 64, channel = 1 }");
        assert!(file.reserved("nothing").is_none());
    }
}
