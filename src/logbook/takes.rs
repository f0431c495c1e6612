//! Takes in the logbook: what is listed of them, and what becomes of them.

use super::{Logbook, LogbookError, Result, entry, now_ms};
use crate::expected::tempo_map::Speed;
use crate::line::bar_range::BarRange;
use crate::midi::smf;
use crate::midi::take_track::TakeHeadBytes;
use crate::take::Take;
use rusqlite::types::Value;
use rusqlite::{OptionalExtension, Row, params, params_from_iter};

/// A take as it is listed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TakeRow {
    /// Its number.
    pub number: i64,
    /// The number of its session.
    pub session: i64,
    /// Who played.
    pub player: String,
    /// The line's title.
    pub line: String,
    /// The line's file, as it was given.
    pub file: String,
    /// What the line asks for, in short: see [`lines::notes_hash`](super::lines::notes_hash).
    pub notes_hash: String,
    /// When it began, ms since 1970.
    pub begun_ms: i64,
    /// The same, RFC 9557, in the player's time zone.
    pub begun: String,
    /// The speed it was played at.
    pub speed: Speed,
    /// The bars that were played, where it was not all of the line.
    pub bars: Option<BarRange>,
    /// How it stands.
    pub state: State,
    /// What the player wrote about it.
    pub note: String,
    /// What progress is told from, as JSON; none while it has not been judged.
    pub figures: Option<String>,
}

/// How a take stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum State {
    /// It is over.
    Over,
    /// It is being played.
    Playing,
    /// The program that played it ended before it was over.
    BrokenOff,
    /// It was removed, and can be brought back.
    Removed,
}

/// Which takes are meant. `None` is no condition.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Filter {
    /// Of this player.
    pub player: Option<String>,
    /// Of lines that ask for this.
    pub notes_hash: Option<String>,
    /// Of lines with this title.
    pub title: Option<String>,
    /// Of this session.
    pub session: Option<i64>,
    /// This take alone.
    pub number: Option<i64>,
    /// Only such as have not been judged.
    pub is_unjudged: bool,
    /// Also such as were removed.
    pub with_removed: bool,
    /// Such as were removed alone.
    pub only_removed: bool,
    /// No more than the latest so many.
    pub latest: Option<usize>,
}

/// A take that has been over for so long by its line is being played no more.
const PATIENCE_MS: i64 = 10_000;

/// The columns of a [`TakeRow`]. The latest judgement holds.
const LISTED: &str = "
    SELECT take.id, take.session, player.name, line.title, line.file, line.notes_hash, take.begun_ms, take.begun,
           take.speed, take.first_bar, take.last_bar, take.track IS NULL, take.begun_ms + take.length_ms,
           take.removed_ms, take.note,
           (SELECT figures FROM judgement WHERE judgement.take = take.id ORDER BY judgement.id DESC LIMIT 1)";

/// Where they come from, and what a [`Filter`] asks about.
const FROM: &str = "
    FROM take JOIN session ON take.session = session.id JOIN player ON session.player = player.id
              JOIN line ON take.line = line.id";

fn listed(row: &Row<'_>) -> rusqlite::Result<TakeRow> {
    let bars: (Option<u32>, Option<u32>) = (row.get(9)?, row.get(10)?);
    let (is_open, ends_ms): (bool, i64) = (row.get(11)?, row.get(12)?);
    let removed: Option<i64> = row.get(13)?;
    Ok(TakeRow {
        number: row.get(0)?,
        session: row.get(1)?,
        player: row.get(2)?,
        line: row.get(3)?,
        file: row.get(4)?,
        notes_hash: row.get(5)?,
        begun_ms: row.get(6)?,
        begun: row.get(7)?,
        speed: Speed(row.get(8)?),
        bars: bars
            .0
            .zip(bars.1)
            .map(|(first, last)| BarRange { first, last }),
        state: match () {
            () if removed.is_some() => State::Removed,
            () if !is_open => State::Over,
            () if now_ms() < ends_ms + PATIENCE_MS => State::Playing,
            () => State::BrokenOff,
        },
        note: row.get(14)?,
        figures: row.get(15)?,
    })
}

impl Filter {
    /// Its conditions as SQL, and what goes into them.
    fn conditions(&self) -> (String, Vec<Value>) {
        let mut conditions = vec!["1"];
        let mut values = Vec::new();
        let mut with = |condition: &'static str, value: Option<Value>| {
            if let Some(value) = value {
                conditions.push(condition);
                values.push(value);
            }
        };
        with("player.name = ?", self.player.clone().map(Value::from));
        with(
            "line.notes_hash = ?",
            self.notes_hash.clone().map(Value::from),
        );
        with("line.title = ?", self.title.clone().map(Value::from));
        with("take.session = ?", self.session.map(Value::from));
        with("take.id = ?", self.number.map(Value::from));
        if self.is_unjudged {
            conditions.push("NOT EXISTS (SELECT 1 FROM judgement WHERE judgement.take = take.id)");
        }
        if self.only_removed {
            conditions.push("take.removed_ms IS NOT NULL");
        } else if !self.with_removed {
            conditions.push("take.removed_ms IS NULL");
        }
        (conditions.join(" AND "), values)
    }
}

impl Logbook {
    /// The takes that are meant, in the order in which they were played.
    pub fn takes(&self, filter: &Filter) -> Result<Vec<TakeRow>> {
        let (conditions, values) = filter.conditions();
        let limit = filter.latest.map_or(-1, |latest| latest as i64);
        let sql = format!(
            "{LISTED} {FROM} WHERE {conditions} ORDER BY take.begun_ms DESC, take.id DESC LIMIT {limit}"
        );
        let mut query = self.db.prepare_cached(&sql)?;
        let takes = query.query_map(params_from_iter(values), listed)?;
        let mut takes = takes.collect::<rusqlite::Result<Vec<_>>>()?;
        takes.reverse();
        Ok(takes)
    }

    /// How many takes are meant, whatever [`Filter::latest`] says.
    pub fn count_takes(&self, filter: &Filter) -> Result<usize> {
        let (conditions, values) = filter.conditions();
        let sql = format!("SELECT count(*) {FROM} WHERE {conditions}");
        let mut query = self.db.prepare_cached(&sql)?;
        let count: i64 = query.query_row(params_from_iter(values), |row| row.get(0))?;
        Ok(count.unsigned_abs() as usize)
    }

    /// One take, removed or not.
    pub fn take_row(&self, number: i64) -> Result<TakeRow> {
        let filter = Filter {
            number: Some(number),
            with_removed: true,
            ..Filter::default()
        };
        self.takes(&filter)?
            .pop()
            .ok_or(LogbookError::NoSuchTake(number))
    }

    /// The take as a Standard MIDI File; of one that is not over, as far as it goes.
    pub fn take_file(&self, number: i64) -> Result<Vec<u8>> {
        let mut query = self
            .db
            .prepare_cached("SELECT head, track FROM take WHERE id = ?")?;
        let parts = query.query_row([number], |row| {
            Ok((row.get::<_, Vec<u8>>(0)?, row.get::<_, Option<Vec<u8>>>(1)?))
        });
        let (head, track) = parts.optional()?.ok_or(LogbookError::NoSuchTake(number))?;
        let track = match track {
            Some(track) => track,
            None => entry::chunks(&self.db, number)?,
        };
        let head =
            TakeHeadBytes::kept(head).ok_or_else(|| damaged(number, "its head cannot be read"))?;
        Ok(head.with(&track)?)
    }

    /// The take, read.
    pub fn take(&self, number: i64) -> Result<Take> {
        let file = smf::read(&self.take_file(number)?).map_err(|error| damaged(number, error))?;
        Ok(Take::of(&file))
    }

    /// Writes a note about a take; an empty one takes it away.
    pub fn note_take(&self, number: i64, note: &str) -> Result<()> {
        let changed = self.db.execute(
            "UPDATE take SET note = ?, note_ms = ? WHERE id = ?",
            params![note, now_ms(), number],
        )?;
        one(changed, number)
    }

    /// Removes takes: they are listed no more and count for nothing, and [`Logbook::restore`] brings them back. All of
    /// them, or none where there is no take of one of the numbers.
    pub fn remove(&mut self, numbers: &[i64]) -> Result<()> {
        self.set_removed(numbers, Some(now_ms()))
    }

    /// Brings back takes that were removed.
    pub fn restore(&mut self, numbers: &[i64]) -> Result<()> {
        self.set_removed(numbers, None)
    }

    fn set_removed(&mut self, numbers: &[i64], at: Option<i64>) -> Result<()> {
        let setting = self.db.transaction()?;
        for number in numbers {
            let changed = setting.execute(
                "UPDATE take SET removed_ms = ? WHERE id = ?",
                params![at, number],
            )?;
            one(changed, *number)?;
        }
        setting.commit()?;
        Ok(())
    }

    /// The room that the logbook takes, in bytes.
    pub fn size(&self) -> Result<u64> {
        let pragma = |name| {
            self.db
                .pragma_query_value(None, name, |row| row.get::<_, i64>(0))
        };
        Ok((pragma("page_count")? * pragma("page_size")?).unsigned_abs())
    }

    /// Throws away for good what was removed, and gives its room back. Returns how many takes that were.
    pub fn tidy(&mut self) -> Result<usize> {
        let tidying = self.db.transaction()?;
        tidying.execute(
            "INSERT OR IGNORE INTO thrown_away SELECT uid FROM take WHERE removed_ms IS NOT NULL",
            [],
        )?;
        let takes = tidying.execute("DELETE FROM take WHERE removed_ms IS NOT NULL", [])?;
        tidying.execute(
            "DELETE FROM session WHERE id NOT IN (SELECT session FROM take)",
            [],
        )?;
        tidying.execute(
            "DELETE FROM line WHERE id NOT IN (SELECT line FROM take)",
            [],
        )?;
        tidying.commit()?;
        self.db.execute_batch("VACUUM")?;
        Ok(takes)
    }
}

fn one(changed: usize, number: i64) -> Result<()> {
    if changed == 1 {
        Ok(())
    } else {
        Err(LogbookError::NoSuchTake(number))
    }
}

fn damaged(take: i64, why: impl std::fmt::Display) -> LogbookError {
    LogbookError::Damaged {
        take,
        why: why.to_string(),
    }
}
