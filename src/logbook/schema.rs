//! The logbook's tables, and how those of an earlier version become the present ones.
//!
//! SQLite's `application_id` says that a file is a logbook, `user_version` which version. One step a version, each in a
//! transaction of its own: a step that breaks off has not happened. (The crate that does as much is bound to another
//! version of `rusqlite`.)

use super::LogbookError;
use rusqlite::{Connection, TransactionBehavior};

/// "LEAD" in ASCII.
const APPLICATION: i32 = 0x4C45_4144;

/// What brings a logbook from each version to the next; the first makes an empty file a logbook.
const STEPS: &[&str] = &[include_str!("schema/1.sql")];

/// The present version.
pub const VERSION: usize = STEPS.len();

/// Brings a logbook to the present version.
///
/// # Errors
/// [`LogbookError::NotALogbook`] for any other database, [`LogbookError::Newer`] for one of a later version. Neither is
/// touched.
pub fn bring_up_to_date(db: &mut Connection) -> Result<(), LogbookError> {
    // All that is read belongs to one moment.
    let reading = db.transaction()?;
    let is_present = version(&reading)? == VERSION;
    drop(reading);
    if is_present {
        return Ok(());
    }
    // Two programs may find the same old logbook: whoever comes second sees, inside, what the first has done.
    loop {
        let step = db.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let from = version(&step)?;
        let Some(sql) = STEPS.get(from) else {
            return Ok(());
        };
        step.execute_batch(sql)?;
        step.pragma_update(None, "application_id", APPLICATION)?;
        step.pragma_update(None, "user_version", from as i64 + 1)?;
        step.commit()?;
    }
}

/// Which version the file is of; an empty one is of version 0.
fn version(db: &Connection) -> Result<usize, LogbookError> {
    let pragma = |name: &str| db.pragma_query_value(None, name, |row| row.get::<_, i64>(0));
    let (application, version) = (pragma("application_id")?, pragma("user_version")?);
    let tables: i64 = db.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    match (application, usize::try_from(version)) {
        (0, Ok(0)) if tables == 0 => Ok(0),
        (application, Ok(version)) if application == i64::from(APPLICATION) => {
            if version > VERSION {
                return Err(LogbookError::Newer { version });
            }
            Ok(version)
        }
        _ => Err(LogbookError::NotALogbook),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn empty() -> Connection {
        Connection::open_in_memory().expect("memory")
    }

    #[test]
    fn an_empty_file_becomes_a_logbook_once() {
        let mut db = empty();
        for _ in 0..2 {
            bring_up_to_date(&mut db).expect("a logbook");
            assert_eq!(version(&db).expect("a version"), VERSION);
        }
        let check: String = db
            .query_row("PRAGMA integrity_check", [], |row| row.get(0))
            .expect("an answer");
        assert_eq!(check, "ok");
    }

    #[test]
    fn a_logbook_of_a_later_version_is_refused() {
        let mut db = empty();
        bring_up_to_date(&mut db).expect("a logbook");
        db.pragma_update(None, "user_version", VERSION as i64 + 1)
            .expect("a number");
        let refused = bring_up_to_date(&mut db);
        assert!(matches!(refused, Err(LogbookError::Newer { version }) if version == VERSION + 1));
    }

    #[test]
    fn another_programs_database_is_no_logbook() {
        let mut db = empty();
        db.execute_batch("CREATE TABLE tide (at TEXT)")
            .expect("a table");
        let refused = bring_up_to_date(&mut db);
        assert!(matches!(refused, Err(LogbookError::NotALogbook)));
    }
}
