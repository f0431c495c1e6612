//! Reading a line file from disk.

use super::Line;
use super::mistakes::Mistakes;
use super::parse::parse;
use std::path::{Path, PathBuf};

/// Why a line could not be read.
#[derive(Debug, thiserror::Error)]
pub enum ReadError {
    /// The file could not be opened or read.
    #[error("cannot read {}: {cause}", path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// What the system says.
        cause: std::io::Error,
    },
    /// The file is not text in UTF-8.
    #[error("{}: line {line} is not UTF-8 text (byte {byte} of the file): save the file as UTF-8", path.display())]
    NotUtf8 {
        /// The file.
        path: PathBuf,
        /// The line of the first such byte, from 1.
        line: usize,
        /// Its offset in the file, from 0.
        byte: usize,
    },
    /// The file is not a valid line.
    #[error(transparent)]
    Mistakes(#[from] Mistakes),
}

/// Reads a line from a file.
pub fn read(path: &Path) -> Result<Line, ReadError> {
    Ok(parse(&read_text(path)?, &path.display().to_string())?)
}

/// Reads the text of a line's file.
pub fn read_text(path: &Path) -> Result<String, ReadError> {
    let bytes = std::fs::read(path).map_err(|cause| ReadError::Io {
        path: path.to_owned(),
        cause,
    })?;
    String::from_utf8(bytes).map_err(|error| {
        let byte = error.utf8_error().valid_up_to();
        let newlines = error.as_bytes()[..byte]
            .iter()
            .filter(|byte| **byte == b'\n')
            .count();
        ReadError::NotUtf8 {
            path: path.to_owned(),
            line: newlines + 1,
            byte,
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_file_is_named() {
        let error = read(Path::new("no/such/line.toml")).unwrap_err();
        assert!(error.to_string().contains("no/such/line.toml"), "{error}");
    }

    #[test]
    fn bytes_that_are_no_text_are_located() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("latin.toml");
        std::fs::write(&path, b"# a\ntitle = \"Caf\xe9\"\n").unwrap();
        let error = read(&path).unwrap_err();
        assert!(
            matches!(
                error,
                ReadError::NotUtf8 {
                    line: 2,
                    byte: 16,
                    ..
                }
            ),
            "{error}"
        );
    }
}
