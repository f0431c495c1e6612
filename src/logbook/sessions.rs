//! Sessions: takes of one player without a long rest between them.

use super::{Logbook, LogbookError, Result, new_uid, now_ms};
use rusqlite::{Connection, OptionalExtension, Row, params};

/// A take that begins later than this after the one before it begins a new session. Common practice: a meal, not a cup
/// of coffee.
pub const REST_MS: i64 = 45 * 60 * 1000;

/// The player whose takes a stand-in's are.
pub const STAND_IN: &str = "stand-in";

/// A session as it is listed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Session {
    /// Its number.
    pub number: i64,
    /// Who played.
    pub player: String,
    /// When it began, ms since 1970.
    pub begun_ms: i64,
    /// When its first take was begun, RFC 9557, in the player's time zone.
    pub begun: String,
    /// When its last take ended, or is to end, ms since 1970.
    pub ended_ms: i64,
    /// Its takes, without those that were removed.
    pub takes: i64,
    /// How long was played, at the most: what its takes were to last.
    pub played_ms: i64,
    /// Titles of the lines, in the order in which they were played first.
    pub lines: Vec<String>,
    /// What the player wrote about it.
    pub note: String,
}

/// The player's session at this time: that of the take next to it in time, or a new one where that is far.
pub(super) fn at(db: &Connection, player: &str, begun_ms: i64) -> Result<i64> {
    let player = player_id(db, player)?;
    // Takes may be entered in another order than they were played in: two programs begin at once, old files are added.
    let near = db
        .prepare_cached(
            "SELECT session.id FROM take JOIN session ON take.session = session.id
             WHERE session.player = ?1 AND take.begun_ms <= ?2 + ?3 AND take.begun_ms + take.length_ms >= ?2 - ?3
             ORDER BY abs(take.begun_ms - ?2), take.id DESC LIMIT 1",
        )?
        .query_row(params![player, begun_ms, REST_MS], |row| row.get(0))
        .optional()?;
    if let Some(session) = near {
        return Ok(session);
    }
    db.prepare_cached("INSERT INTO session (uid, player, begun_ms) VALUES (?, ?, ?)")?
        .execute(params![new_uid(), player, begun_ms])?;
    Ok(db.last_insert_rowid())
}

/// The player of this name.
pub(super) fn player_id(db: &Connection, name: &str) -> Result<i64> {
    db.prepare_cached("INSERT INTO player (name) VALUES (?) ON CONFLICT DO NOTHING")?
        .execute([name])?;
    let id = db
        .prepare_cached("SELECT id FROM player WHERE name = ?")?
        .query_row([name], |row| row.get(0))?;
    Ok(id)
}

const LISTED: &str = "
    SELECT session.id, player.name, session.begun_ms, max(take.begun_ms + take.length_ms), count(*),
           sum(take.length_ms), session.note,
           (SELECT first.begun FROM take first WHERE first.session = session.id AND first.removed_ms IS NULL
            ORDER BY first.begun_ms, first.id LIMIT 1)
    FROM session JOIN player ON session.player = player.id JOIN take ON take.session = session.id
    WHERE take.removed_ms IS NULL";

fn listed(row: &Row<'_>) -> rusqlite::Result<Session> {
    Ok(Session {
        number: row.get(0)?,
        player: row.get(1)?,
        begun_ms: row.get(2)?,
        ended_ms: row.get(3)?,
        takes: row.get(4)?,
        played_ms: row.get(5)?,
        note: row.get(6)?,
        begun: row.get(7)?,
        lines: Vec::new(),
    })
}

impl Logbook {
    /// The player whose takes these are when nobody is named: whoever played last, stand-ins aside, or the user of the
    /// machine.
    pub fn usual_player(&self) -> Result<String> {
        let last = self
            .db
            .query_row(
                "SELECT player.name FROM session JOIN player ON session.player = player.id
                 WHERE player.name <> ? ORDER BY session.begun_ms DESC LIMIT 1",
                [STAND_IN],
                |row| row.get(0),
            )
            .optional()?;
        let user = || {
            ["USER", "LOGNAME", "USERNAME"]
                .into_iter()
                .find_map(|name| std::env::var(name).ok())
        };
        let user = last.or_else(user).filter(|name| !name.trim().is_empty());
        Ok(user.unwrap_or_else(|| "player".into()))
    }

    /// The names of all players, in the order in which they first played.
    pub fn players(&self) -> Result<Vec<String>> {
        let mut query = self.db.prepare("SELECT name FROM player ORDER BY id")?;
        let names = query.query_map([], |row| row.get(0))?;
        Ok(names.collect::<rusqlite::Result<_>>()?)
    }

    /// All sessions that have takes, in order.
    pub fn sessions(&self) -> Result<Vec<Session>> {
        let mut query = self.db.prepare(&format!(
            "{LISTED} GROUP BY session.id ORDER BY session.begun_ms, session.id"
        ))?;
        let sessions = query.query_map([], listed)?;
        let mut sessions = sessions.collect::<rusqlite::Result<Vec<_>>>()?;
        for session in &mut sessions {
            session.lines = self.titles(session.number)?;
        }
        Ok(sessions)
    }

    /// One session.
    pub fn session(&self, number: i64) -> Result<Session> {
        let mut query = self
            .db
            .prepare_cached(&format!("{LISTED} AND session.id = ? GROUP BY session.id"))?;
        let session = query.query_row([number], listed).optional()?;
        let mut session = session.ok_or(LogbookError::NoSuchSession(number))?;
        session.lines = self.titles(number)?;
        Ok(session)
    }

    /// Writes a note about a session; an empty one takes it away.
    pub fn note_session(&self, number: i64, note: &str) -> Result<()> {
        let changed = self.db.execute(
            "UPDATE session SET note = ?, note_ms = ? WHERE id = ?",
            params![note, now_ms(), number],
        )?;
        if changed == 0 {
            return Err(LogbookError::NoSuchSession(number));
        }
        Ok(())
    }

    fn titles(&self, session: i64) -> Result<Vec<String>> {
        let mut query = self.db.prepare_cached(
            "SELECT line.title FROM take JOIN line ON take.line = line.id
             WHERE take.session = ? AND take.removed_ms IS NULL GROUP BY line.title ORDER BY min(take.begun_ms)",
        )?;
        let titles = query.query_map([session], |row| row.get(0))?;
        Ok(titles.collect::<rusqlite::Result<_>>()?)
    }
}
