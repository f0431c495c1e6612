//! Writing a file that was asked for, mostly a line: whole or not at all, and never over another one unasked.

use super::{Failure, Outcome};
use crate::draft;
pub use crate::draft::Existing;
use std::io;
use std::path::Path;

/// Writes a text, or other bytes; the error names the file.
pub fn write(path: &Path, content: impl AsRef<[u8]>, existing: Existing) -> Outcome {
    draft::write(path, content, existing).map_err(|error| {
        let path = path.display();
        Failure::input(match error.kind() {
            io::ErrorKind::AlreadyExists => format!("{path} is there already: --force replaces it"),
            _ => format!("cannot write {path}: {error}"),
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn a_file_that_is_there_stays_unless_it_is_to_be_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("line.toml");
        write(&path, "one", Existing::Kept).unwrap();
        let refused = write(&path, "two", Existing::Kept);
        assert!(matches!(refused, Err(Failure::WrongInput(why)) if why.contains("--force")));
        assert_eq!(fs::read_to_string(&path).unwrap(), "one");
        write(&path, "two", Existing::Replaced).unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "two");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_folder_that_is_not_there_is_named() {
        let folder = tempfile::tempdir().unwrap();
        let refused = write(&folder.path().join("no/line.toml"), "", Existing::Kept);
        assert!(matches!(refused, Err(Failure::WrongInput(why)) if why.contains("no/line.toml")));
    }
}
