//! Writing a small file whole: whoever reads it sees the old text or the new one, also after a power cut.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;

/// Writes the file, or leaves the old one. A link stays a link, permissions stay; a file that may not be written is
/// refused.
pub fn replace(path: &Path, text: &str) -> io::Result<()> {
    let path = &fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf());
    let folder = match path.parent() {
        Some(folder) if folder != Path::new("") => folder,
        _ => Path::new("."),
    };
    let permissions = fs::metadata(path).ok().map(|of| of.permissions());
    if permissions.as_ref().is_some_and(fs::Permissions::readonly) {
        return Err(io::ErrorKind::PermissionDenied.into());
    }
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let fresh = folder.join(format!(".{name}.{}", std::process::id()));
    let replaced = write_to_disk(&fresh, text, permissions)
        .and_then(|()| fs::rename(&fresh, path))
        .and_then(|()| sync_folder(folder));
    if replaced.is_err() {
        // It may not have come to be.
        let _ = fs::remove_file(&fresh);
    }
    replaced
}

fn write_to_disk(path: &Path, text: &str, permissions: Option<fs::Permissions>) -> io::Result<()> {
    let mut file = File::create(path)?;
    file.write_all(text.as_bytes())?;
    if let Some(permissions) = permissions {
        file.set_permissions(permissions)?;
    }
    file.sync_all()
}

/// The new name is on the disk when its folder is.
#[cfg(unix)]
fn sync_folder(folder: &Path) -> io::Result<()> {
    File::open(folder)?.sync_all()
}

/// Elsewhere a folder cannot be opened; the system sees to it.
#[cfg(not(unix))]
fn sync_folder(_folder: &Path) -> io::Result<()> {
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
        replace(&link, "new").unwrap();
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
        assert!(replace(&file, "new").is_err());
        assert_eq!(fs::read_to_string(&file).unwrap(), "old");
        assert!(replace(&folder.path().join("no/such/a.toml"), "new").is_err());
    }
}
