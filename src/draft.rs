//! Files that appear whole or not at all, also after a power cut: written beside their place, then moved into it.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// What becomes of a file that is there already.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Existing {
    /// It stays, and nothing is written.
    Kept,
    /// It is replaced.
    Replaced,
}

impl Existing {
    /// What `--force` asks for.
    pub fn forced(force: bool) -> Existing {
        if force {
            Existing::Replaced
        } else {
            Existing::Kept
        }
    }
}

/// A file that is not whole yet. Dropped, it is gone.
pub struct Draft {
    fresh: PathBuf,
    /// Its place. A link stays a link: what it points to is replaced.
    place: PathBuf,
    file: File,
}

impl Draft {
    /// Begins a file for this place, in the same folder.
    pub fn of(path: &Path) -> io::Result<Draft> {
        let place = fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
        let permissions = fs::metadata(&place).ok().map(|of| of.permissions());
        if permissions.as_ref().is_some_and(fs::Permissions::readonly) {
            return Err(io::ErrorKind::PermissionDenied.into());
        }
        let name = place.file_name().ok_or(io::ErrorKind::InvalidFilename)?;
        let name = format!(".{}.{}.part", name.to_string_lossy(), std::process::id());
        let fresh = place.with_file_name(name);
        let file = File::create(&fresh)?;
        let draft = Draft { fresh, place, file };
        if let Some(permissions) = permissions {
            draft.file.set_permissions(permissions)?;
        }
        Ok(draft)
    }

    /// What is written to.
    pub fn file(&self) -> &File {
        &self.file
    }

    /// Puts the file in its place.
    ///
    /// # Errors
    /// `AlreadyExists` where there is one that is to be kept, also one that has come to be in the meantime.
    pub fn publish(self, existing: Existing) -> io::Result<()> {
        self.file.sync_all()?;
        match existing {
            Existing::Replaced => fs::rename(&self.fresh, &self.place)?,
            // A link fails where a file has come to be; where links do not exist (FAT), renaming must do.
            Existing::Kept => match fs::hard_link(&self.fresh, &self.place) {
                Err(error)
                    if error.kind() != io::ErrorKind::AlreadyExists && !self.place.exists() =>
                {
                    fs::rename(&self.fresh, &self.place)?;
                }
                linked => linked?,
            },
        }
        sync_folder(
            self.place
                .parent()
                .filter(|folder| *folder != Path::new("")),
        )
    }
}

impl Drop for Draft {
    fn drop(&mut self) {
        // After a rename there is none left to remove.
        let _ = fs::remove_file(&self.fresh);
    }
}

/// Writes a whole file, or leaves what is there: see [`Draft::publish`].
pub fn write(path: &Path, content: impl AsRef<[u8]>, existing: Existing) -> io::Result<()> {
    if existing == Existing::Kept && fs::symlink_metadata(path).is_ok() {
        return Err(io::ErrorKind::AlreadyExists.into());
    }
    let draft = Draft::of(path)?;
    draft.file().write_all(content.as_ref())?;
    draft.publish(existing)
}

/// The new name is on the disk when its folder is.
#[cfg(unix)]
fn sync_folder(folder: Option<&Path>) -> io::Result<()> {
    File::open(folder.unwrap_or(Path::new(".")))?.sync_all()
}

/// Elsewhere a folder cannot be opened; the system sees to it.
#[cfg(not(unix))]
fn sync_folder(_folder: Option<&Path>) -> io::Result<()> {
    Ok(())
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::os::unix::fs::{PermissionsExt, symlink};

    #[test]
    fn a_link_stays_a_link_and_permissions_stay() {
        let folder = tempfile::tempdir().unwrap();
        let (file, link) = (folder.path().join("a.toml"), folder.path().join("b.toml"));
        fs::write(&file, "old").unwrap();
        fs::set_permissions(&file, fs::Permissions::from_mode(0o600)).unwrap();
        symlink(&file, &link).unwrap();
        write(&link, "new", Existing::Replaced).unwrap();
        assert!(link.is_symlink());
        assert_eq!(fs::read_to_string(&file).unwrap(), "new");
        let mode = fs::metadata(&file).unwrap().permissions().mode();
        assert_eq!(mode & 0o777, 0o600);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);
    }

    #[test]
    fn what_cannot_be_written_is_left_as_it_was() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.toml");
        fs::write(&file, "old").unwrap();
        fs::set_permissions(&file, fs::Permissions::from_mode(0o400)).unwrap();
        assert!(write(&file, "new", Existing::Replaced).is_err());
        assert_eq!(fs::read_to_string(&file).unwrap(), "old");
        let nowhere = folder.path().join("no/such/a.toml");
        assert!(write(&nowhere, "new", Existing::Replaced).is_err());
    }

    #[test]
    fn a_file_that_is_to_be_kept_is_kept_whenever_it_came() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.toml");
        let draft = Draft::of(&file).unwrap();
        fs::write(&file, "meanwhile").unwrap();
        let error = draft.publish(Existing::Kept).unwrap_err();
        assert_eq!(error.kind(), io::ErrorKind::AlreadyExists);
        assert_eq!(fs::read_to_string(&file).unwrap(), "meanwhile");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
