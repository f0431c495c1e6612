//! Which files are takes: those given, and in a folder all MIDI files, folders in it included, by name.

use super::Failure;
use std::fs::{self, DirEntry};
use std::io;
use std::path::{Path, PathBuf};

/// The takes that a path names: itself, or those of a folder, sorted. What begins with a dot is left out (systems keep
/// notes of their own there, some with the name of the file they are about), and links to folders are not followed.
pub fn takes_at(path: &Path) -> Result<Vec<PathBuf>, Failure> {
    if !path.is_dir() {
        return Ok(vec![path.to_path_buf()]);
    }
    let mut found = Vec::new();
    gather(path, &mut found).map_err(|(folder, error)| {
        Failure::input(format!("cannot look into {}: {error}", folder.display()))
    })?;
    if found.is_empty() {
        let path = path.display();
        return Err(Failure::input(format!(
            "{path} has no take in it: no .mid or .midi file"
        )));
    }
    Ok(found)
}

fn gather(folder: &Path, found: &mut Vec<PathBuf>) -> Result<(), (PathBuf, io::Error)> {
    let failed = |error| (folder.to_path_buf(), error);
    let entries = fs::read_dir(folder).map_err(failed)?;
    let mut entries: Vec<DirEntry> = entries.collect::<io::Result<_>>().map_err(failed)?;
    entries.sort_by_key(DirEntry::file_name);
    for entry in entries {
        let is_hidden = entry.file_name().as_encoded_bytes().starts_with(b".");
        let path = entry.path();
        match entry.file_type().map_err(failed)? {
            _ if is_hidden => {}
            kind if kind.is_dir() => gather(&path, found)?,
            _ if is_midi(&path) && path.is_file() => found.push(path),
            _ => {}
        }
    }
    Ok(())
}

fn is_midi(path: &Path) -> bool {
    path.extension().is_some_and(|extension| {
        ["mid", "midi"]
            .iter()
            .any(|known| extension.eq_ignore_ascii_case(known))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_folder_is_its_midi_files_by_name_with_those_of_its_folders() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        fs::create_dir_all(at("march/late")).unwrap();
        fs::create_dir_all(at(".trash")).unwrap();
        for name in [
            "b.MID",
            "a.midi",
            "notes.txt",
            "._b.MID",
            "march/late/c.mid",
            "march/a.mid",
            ".trash/d.mid",
            "mid",
        ] {
            fs::write(at(name), "").unwrap();
        }
        let names = ["a.midi", "b.MID", "march/a.mid", "march/late/c.mid"].map(at);
        assert_eq!(takes_at(folder.path()).unwrap(), names);
        assert_eq!(takes_at(&at("notes.txt")).unwrap(), [at("notes.txt")]);
    }

    #[test]
    fn a_folder_without_takes_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let refused = takes_at(folder.path());
        assert!(matches!(refused, Err(Failure::WrongInput(why)) if why.contains("no take")));
    }
}
