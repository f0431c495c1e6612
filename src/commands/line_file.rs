//! Writing a file that was asked for, mostly a line: whole or not at all, and never over another one unasked.

use super::{Failure, Outcome};
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;

/// What becomes of a file that is there already.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Existing {
    /// It stays, and the command fails.
    Kept,
    /// It is replaced.
    Replaced,
}

/// Writes the text beside the file and then puts it in its place.
pub fn write(path: &Path, text: &str, existing: Existing) -> Outcome {
    let failed =
        |error: io::Error| Failure::input(format!("cannot write {}: {error}", path.display()));
    if existing == Existing::Kept && fs::symlink_metadata(path).is_ok() {
        let why = format!("{} is there already: --force replaces it", path.display());
        return Err(Failure::input(why));
    }
    // A link stays a link: what it points to is replaced.
    let target = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    let folder = target
        .parent()
        .filter(|folder| !folder.as_os_str().is_empty());
    let folder = folder.unwrap_or(Path::new("."));
    let name = target.file_name().unwrap_or_default().to_string_lossy();
    let fresh = folder.join(format!(".{name}.{}", std::process::id()));
    let written = write_to_disk(&fresh, text).and_then(|()| match existing {
        Existing::Replaced => fs::rename(&fresh, &target),
        // A link fails where a file has come to be in the meantime; where links do not exist, renaming must do.
        Existing::Kept => match fs::hard_link(&fresh, &target) {
            Ok(()) => fs::remove_file(&fresh),
            Err(error) if error.kind() == io::ErrorKind::AlreadyExists => Err(error),
            Err(_) => fs::rename(&fresh, &target),
        },
    });
    if written.is_err() {
        // It may not have come to be.
        let _ = fs::remove_file(&fresh);
    }
    written.map_err(failed)
}

fn write_to_disk(path: &Path, text: &str) -> io::Result<()> {
    let mut file = File::create(path)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()
}

#[cfg(test)]
mod tests {
    use super::*;

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
