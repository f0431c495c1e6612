//! One logbook's takes brought into another, none of them twice.
//!
//! What is the same take is known by its name (128 random bits), given when it was played. Where both have it,
//! the later note holds, a whole take holds against one that broke off, judgements are joined, and whether it is removed
//! is as it was here. A take that was thrown away here does not come back.

use super::{Logbook, LogbookError, Result, schema, sessions};
use rusqlite::backup::Backup;
use rusqlite::types::{ToSqlOutput, ValueRef};
use rusqlite::{Connection, OpenFlags, ToSql, Transaction, TransactionBehavior, params};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// What a merge came to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Merged {
    /// Takes that are new here.
    pub takes: usize,
    /// Takes that were here already.
    pub known: usize,
    /// Takes that were thrown away here.
    pub thrown_away: usize,
    /// Judgements that are new here, of new takes and of others.
    pub judgements: usize,
}

/// What new takes and judgements are called here (`new`) and there (`old`).
const NUMBERED: &str = "
    CREATE TEMP TABLE IF NOT EXISTS merged_session (old INTEGER PRIMARY KEY, new INTEGER NOT NULL);
    CREATE TEMP TABLE IF NOT EXISTS merged_take (old INTEGER PRIMARY KEY, new INTEGER NOT NULL, is_new INTEGER NOT NULL);
    CREATE TEMP TABLE IF NOT EXISTS merged_judgement (old INTEGER PRIMARY KEY, new INTEGER NOT NULL);
    DELETE FROM merged_session; DELETE FROM merged_take; DELETE FROM merged_judgement;";

const LINES: &str = "
    INSERT INTO line (content_hash, notes_hash, title, file, source)
    SELECT content_hash, notes_hash, title, file, source FROM other.line
    WHERE content_hash NOT IN (SELECT content_hash FROM main.line) ORDER BY id;";

const SESSIONS: &str = "
    INSERT INTO merged_session SELECT there.id, here.id FROM other.session there JOIN main.session here USING (uid);
    UPDATE main.session AS here SET note = there.note, note_ms = there.note_ms
    FROM other.session there WHERE there.uid = here.uid AND there.note_ms > here.note_ms;";

const KNOWN_TAKES: &str = "
    INSERT INTO merged_take SELECT there.id, here.id, 0 FROM other.take there JOIN main.take here USING (uid);
    UPDATE main.take AS here SET note = there.note, note_ms = there.note_ms
    FROM other.take there WHERE there.uid = here.uid AND there.note_ms > here.note_ms;
    DELETE FROM main.chunk WHERE take IN (
        SELECT here.id FROM main.take here JOIN other.take there USING (uid)
        WHERE here.track IS NULL AND there.track IS NOT NULL);
    UPDATE main.take AS here SET track = there.track
    FROM other.take there WHERE there.uid = here.uid AND here.track IS NULL AND there.track IS NOT NULL;";

const NEW_TAKES: &str = "
    INSERT INTO main.take (uid, session, line, begun_ms, begun, length_ms, speed, first_bar, last_bar, head, track,
                           note, note_ms, removed_ms)
    SELECT there.uid, merged_session.new, here_line.id, there.begun_ms, there.begun, there.length_ms, there.speed,
           there.first_bar, there.last_bar, there.head, there.track, there.note, there.note_ms, there.removed_ms
    FROM other.take there
    JOIN merged_session ON merged_session.old = there.session
    JOIN other.line there_line ON there_line.id = there.line
    JOIN main.line here_line ON here_line.content_hash = there_line.content_hash
    WHERE there.uid NOT IN (SELECT uid FROM main.take) AND there.uid NOT IN (SELECT uid FROM main.thrown_away)
    ORDER BY there.begun_ms, there.id;
    INSERT INTO merged_take
    SELECT there.id, here.id, 1 FROM other.take there JOIN main.take here USING (uid)
    WHERE there.id NOT IN (SELECT old FROM merged_take);
    INSERT INTO main.chunk
    SELECT merged_take.new, chunk.number, chunk.track FROM other.chunk JOIN merged_take ON merged_take.old = chunk.take
    WHERE merged_take.is_new;";

const JUDGEMENTS: &str = "
    INSERT INTO main.judgement (uid, take, at_ms, program, settings, trust, figures)
    SELECT there.uid, merged_take.new, at_ms, program, settings, trust, figures
    FROM other.judgement there JOIN merged_take ON merged_take.old = there.take
    WHERE there.uid NOT IN (SELECT uid FROM main.judgement) ORDER BY there.at_ms, there.id;
    INSERT INTO merged_judgement
    SELECT there.id, here.id FROM other.judgement there JOIN main.judgement here USING (uid)
    WHERE here.id NOT IN (SELECT judgement FROM main.reading UNION SELECT judgement FROM main.finding);
    INSERT INTO main.reading
    SELECT merged_judgement.new, note, expected_key, expected_ns, expected_length_ns, key, onset_ns, length_ns, velocity,
           offset_ns, displaced, ring_ns, pitch, timing, length
    FROM other.reading there JOIN merged_judgement ON merged_judgement.old = there.judgement;
    INSERT INTO main.extra
    SELECT merged_judgement.new, number, key, onset_ns, length_ns, velocity
    FROM other.extra there JOIN merged_judgement ON merged_judgement.old = there.judgement;
    INSERT INTO main.finding
    SELECT merged_judgement.new, rank, there.id, count, of, mean_ms, low_ms, high_ms, text
    FROM other.finding there JOIN merged_judgement ON merged_judgement.old = there.judgement;";

impl Logbook {
    /// Brings the takes of the logbook at `other` here, which stays as it is. Its player's takes become those of
    /// `player`, where one is named; a stand-in's stay a stand-in's.
    pub fn merge(&mut self, other: &Path, player: Option<&str>) -> Result<Merged> {
        let copy = Copy::of(other, self.path()).map_err(|error| error.in_file(other))?;
        self.db.execute("ATTACH ? AS other", [&copy])?;
        let merged = self.merge_attached(player);
        self.db.execute_batch("DETACH other")?;
        merged
    }

    fn merge_attached(&mut self, player: Option<&str>) -> Result<Merged> {
        self.db.execute_batch(NUMBERED)?;
        let merging = self
            .db
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        merging.execute_batch(LINES)?;
        merging.execute_batch(SESSIONS)?;
        new_sessions(&merging, player)?;
        merging.execute_batch(KNOWN_TAKES)?;
        merging.execute_batch(NEW_TAKES)?;
        let before = count(&merging, "SELECT count(*) FROM main.judgement")?;
        merging.execute_batch(JUDGEMENTS)?;
        let merged = Merged {
            takes: count(&merging, "SELECT count(*) FROM merged_take WHERE is_new")?,
            known: count(
                &merging,
                "SELECT count(*) FROM merged_take WHERE NOT is_new",
            )?,
            thrown_away: count(
                &merging,
                "SELECT count(*) FROM other.take WHERE uid IN (SELECT uid FROM main.thrown_away)",
            )?,
            judgements: count(&merging, "SELECT count(*) FROM main.judgement")? - before,
        };
        merging.execute(
            "DELETE FROM main.session WHERE id NOT IN (SELECT session FROM main.take)",
            [],
        )?;
        merging.commit()?;
        Ok(merged)
    }
}

/// Sessions that are not here yet, each with its player.
fn new_sessions(merging: &Transaction<'_>, renamed: Option<&str>) -> Result<()> {
    let mut query = merging.prepare(
        "SELECT session.id, player.name FROM other.session JOIN other.player ON session.player = player.id
         WHERE session.id NOT IN (SELECT old FROM merged_session) ORDER BY session.begun_ms, session.id",
    )?;
    let found = query.query_map([], |row| {
        Ok((row.get::<_, i64>(0)?, row.get::<_, String>(1)?))
    })?;
    for (old, name) in found.collect::<rusqlite::Result<Vec<_>>>()? {
        let name = match renamed {
            Some(renamed) if name != sessions::STAND_IN => renamed,
            _ => &name,
        };
        let player = sessions::player_id(merging, name)?;
        merging.execute(
            "INSERT INTO main.session (uid, player, begun_ms, note, note_ms)
             SELECT uid, ?, begun_ms, note, note_ms FROM other.session WHERE id = ?",
            params![player, old],
        )?;
        let new = merging.last_insert_rowid();
        merging.execute("INSERT INTO merged_session VALUES (?, ?)", [old, new])?;
    }
    Ok(())
}

fn count(db: &Connection, sql: &str) -> Result<usize> {
    let count: i64 = db.query_row(sql, [], |row| row.get(0))?;
    Ok(count as usize)
}

/// A copy of a logbook, of the present version, beside another one; gone when it is dropped.
struct Copy(PathBuf);

impl Copy {
    fn of(other: &Path, beside: &Path) -> Result<Copy> {
        if !other.exists() {
            return Err(LogbookError::Missing);
        }
        // A copy by SQLite has what is in the log of writes as well, and is the only thing that an update changes.
        let from = Connection::open_with_flags(other, OpenFlags::SQLITE_OPEN_READ_ONLY)?;
        let name = format!(".merge.{}.sqlite", super::new_uid());
        let copy = Copy(beside.with_file_name(name));
        let mut into = Connection::open(&copy.0)?;
        Backup::new(&from, &mut into)?.run_to_completion(1000, Duration::ZERO, None)?;
        schema::bring_up_to_date(&mut into)?;
        Ok(copy)
    }
}

impl ToSql for Copy {
    /// Its path, which need not be text.
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        let path = self.0.as_os_str().as_encoded_bytes();
        Ok(ToSqlOutput::Borrowed(ValueRef::Text(path)))
    }
}

impl Drop for Copy {
    fn drop(&mut self) {
        for end in ["", "-wal", "-shm", "-journal"] {
            let mut file = self.0.clone().into_os_string();
            file.push(end);
            let _ = std::fs::remove_file(file);
        }
    }
}
