//! The logbook: every take kept, in one SQLite file.
//!
//! A take is written while it is played ([`entry`]), judged when it is over ([`judgements`]) and kept together with the
//! line that it was played to ([`lines`]), so that it can be judged again whatever becomes of the line's file. Raw events
//! never change; a take judged again keeps what was said before.
//!
//! Several programs may have the same logbook open: SQLite's write-ahead log lets one write while others read, and a
//! writer waits for another. Every transaction is on the disk when it is done (`synchronous = FULL`).

pub mod entry;
pub mod history;
pub mod judgements;
pub mod lines;
pub mod merge;
mod schema;
pub mod sessions;
pub mod sums;
pub mod takes;

pub use schema::VERSION;

use etcetera::BaseStrategy;
use rusqlite::{Connection, OpenFlags};
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// How long a writer waits for another.
const WAIT: Duration = Duration::from_secs(5);

/// A logbook that is open.
#[derive(Debug)]
pub struct Logbook {
    db: Connection,
    path: PathBuf,
}

/// Why the logbook cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum LogbookError {
    /// It was written by a later leadsman.
    #[error(
        "it is of version {version}, and this leadsman knows versions up to {VERSION}: use a newer leadsman; nothing was changed"
    )]
    Newer {
        /// The file's version.
        version: usize,
    },
    /// The file is something else.
    #[error("it is no logbook of leadsman; nothing was changed")]
    NotALogbook,
    /// There is none at the place.
    #[error("there is none yet: it begins with the first take that is played")]
    Missing,
    /// No take has the number.
    #[error("there is no take {0}")]
    NoSuchTake(i64),
    /// No session has the number.
    #[error("there is no session {0}")]
    NoSuchSession(i64),
    /// A file that leadsman did not write: it does not say what it was played to.
    #[error("it was not recorded by leadsman, and does not say where bar 1 is")]
    NotATake,
    /// What is kept of a take cannot be read.
    #[error("take {take}: {why}")]
    Damaged {
        /// The take's number.
        take: i64,
        /// What is wrong with it.
        why: String,
    },
    /// Something about another logbook than the one that is open; it names its file.
    #[error("{0}")]
    Other(String),
    /// The file cannot be read or written.
    #[error(transparent)]
    File(#[from] io::Error),
    /// The database says no.
    #[error("{}", in_words(.0))]
    Sqlite(#[from] rusqlite::Error),
}

/// A result of the logbook.
pub type Result<T> = std::result::Result<T, LogbookError>;

fn in_words(error: &rusqlite::Error) -> String {
    use rusqlite::ErrorCode::{DatabaseBusy, DatabaseCorrupt, DiskFull, NotADatabase, ReadOnly};
    match error.sqlite_error_code() {
        Some(DiskFull) => "the disk is full".into(),
        Some(DatabaseBusy) => "another program has been writing to it for too long".into(),
        Some(ReadOnly) => "it must not be written to".into(),
        Some(NotADatabase) => LogbookError::NotALogbook.to_string(),
        Some(DatabaseCorrupt) => format!("it is damaged ({error}); restore a copy of it"),
        _ => error.to_string(),
    }
}

impl LogbookError {
    /// The error with the logbook's file named.
    pub fn of(self, path: &Path) -> String {
        match self {
            LogbookError::Other(named) => named,
            error => format!("logbook {}: {error}", path.display()),
        }
    }

    /// The same, of another file than the one that is open.
    fn in_file(self, path: &Path) -> LogbookError {
        LogbookError::Other(self.of(path))
    }
}

/// The logbook in the user's data folder.
pub fn place() -> io::Result<PathBuf> {
    let folders = etcetera::choose_base_strategy().map_err(io::Error::other)?;
    Ok(folders.data_dir().join("leadsman").join("logbook.sqlite"))
}

impl Logbook {
    /// Opens the logbook at `path` to read and write. Without one there, it begins; one of an earlier version is brought
    /// to the present one.
    pub fn open(path: &Path) -> Result<Logbook> {
        if let Some(folder) = path.parent().filter(|folder| *folder != Path::new("")) {
            std::fs::create_dir_all(folder)?;
        }
        Logbook::with(path, OpenFlags::SQLITE_OPEN_CREATE)
    }

    /// Opens the logbook that is at `path`.
    ///
    /// # Errors
    /// [`LogbookError::Missing`] where there is none.
    pub fn open_existing(path: &Path) -> Result<Logbook> {
        if !path.exists() {
            return Err(LogbookError::Missing);
        }
        Logbook::with(path, OpenFlags::empty())
    }

    fn with(path: &Path, more: OpenFlags) -> Result<Logbook> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX | more;
        let mut db = Connection::open_with_flags(path, flags)?;
        db.busy_timeout(WAIT)?;
        // First of all, and before anything is written: what is no logbook stays as it is.
        schema::bring_up_to_date(&mut db)?;
        // Where a file system has no shared memory, SQLite keeps to its older journal, which is as safe and slower.
        db.pragma_update(None, "journal_mode", "wal")?;
        db.pragma_update(None, "synchronous", "full")?;
        db.pragma_update(None, "foreign_keys", true)?;
        Ok(Logbook {
            db,
            path: path.to_path_buf(),
        })
    }

    /// Its file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The database, for questions of one's own.
    pub fn db(&self) -> &Connection {
        &self.db
    }
}

/// A name that no other session, take or judgement has, in whatever logbook: 128 random bits, hexadecimal.
fn new_uid() -> String {
    format!("{:032x}", rand::random::<u128>())
}

/// The present, in milliseconds since 1970.
fn now_ms() -> i64 {
    jiff::Timestamp::now().as_millisecond()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// With these, "all changes within a transaction are durable" also when the power goes (SQLite's documentation of
    /// `PRAGMA synchronous`: FULL syncs the write-ahead log after each transaction).
    #[test]
    fn what_is_written_is_on_the_disk() {
        let folder = tempfile::tempdir().expect("a folder");
        let logbook = Logbook::open(&folder.path().join("deep/down/a.sqlite")).expect("a logbook");
        let pragma = |name: &str| {
            logbook
                .db
                .pragma_query_value(None, name, |row| row.get::<_, rusqlite::types::Value>(0))
        };
        assert_eq!(pragma("synchronous").expect("a value"), 2.into());
        assert_eq!(
            pragma("journal_mode").expect("a value"),
            "wal".to_string().into()
        );
        assert_eq!(pragma("foreign_keys").expect("a value"), 1.into());
    }

    #[test]
    fn a_logbook_that_is_not_there_is_not_made_by_looking_for_it() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join("a.sqlite");
        assert!(matches!(
            Logbook::open_existing(&path),
            Err(LogbookError::Missing)
        ));
        assert!(!path.exists());
    }
}
