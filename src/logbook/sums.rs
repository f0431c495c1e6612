//! What takes were judged to be, in a few numbers: the same as [`summarise`](crate::judge::summary::summarise) gives, added
//! up by the database. The line is asked only where readings alone do not say enough: for ghost notes that were left out,
//! and for phrases away from their place.

use super::lines::KeptLine;
use super::takes::TakeRow;
use super::{Logbook, Result};
use crate::expected::{Expected, unroll};
use crate::judge::Settings;
use crate::line::bar_range::BarRange;
use crate::units::{Nanos, Ticks};
use rusqlite::{OptionalExtension, Row};
use std::collections::HashMap;
use std::rc::Rc;

/// The sums of a take's latest judgement; names as in [`Summary`](crate::judge::summary::Summary).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sums {
    /// All notes of the line up to where the take ended, ghost notes and unheard ones included.
    pub notes: usize,
    /// Notes that had to be played.
    pub expected: usize,
    /// Those that something was played for.
    pub matched: usize,
    /// Those that nothing was played for.
    pub missed: usize,
    /// Played notes that belong nowhere.
    pub extra: usize,
    /// Matched notes of the right key.
    pub pitch_right: usize,
    /// Matched notes whose pitch is neither right nor wrong: dead notes.
    pub pitch_unjudged: usize,
    /// Matched notes inside the timing window.
    pub timing_in: usize,
    /// That window, to each side.
    pub timing_window: Nanos,
    /// Mean offset in ms; negative is early.
    pub offset_mean_ms: Option<f64>,
    /// Standard deviation of the same (n − 1), from two notes on.
    pub offset_sd_ms: Option<f64>,
    /// Ids of what was found, that which hurts most first.
    pub findings: Vec<String>,
}

/// Adds takes up, several after each other.
pub struct Adder<'a> {
    logbook: &'a Logbook,
    /// Lines unrolled, by what they ask for, bars and speed; none where a line cannot be read.
    unrolled: HashMap<Played, Option<Rc<Expected>>>,
}

type Played = (String, Option<[u32; 2]>, u32);

/// What the database adds up of a judgement's readings.
struct Added {
    notes: usize,
    matched: usize,
    unheard: usize,
    missed: usize,
    displaced: usize,
    pitch_right: usize,
    pitch_unjudged: usize,
    timing_in: usize,
    offsets: Offsets,
}

/// Sums of offsets in ms.
#[derive(Clone, Copy, Default)]
struct Offsets {
    count: usize,
    sum: f64,
    squares: f64,
}

const ADD: &str = "
    SELECT count(*), count(key),
           count(*) FILTER (WHERE key IS NULL AND timing IS 'unjudged'),
           count(*) FILTER (WHERE key IS NULL AND timing IS NULL),
           count(*) FILTER (WHERE key IS NOT NULL AND timing <> 'unjudged' AND displaced <> 0),
           count(*) FILTER (WHERE pitch IS 'right'),
           count(*) FILTER (WHERE pitch IS 'unjudged'),
           count(*) FILTER (WHERE timing IS 'in'),
           count(*) FILTER (WHERE key IS NOT NULL AND timing <> 'unjudged' AND displaced = 0),
           total(offset_ns / 1e6) FILTER (WHERE timing <> 'unjudged' AND displaced = 0),
           total((offset_ns / 1e6) * (offset_ns / 1e6)) FILTER (WHERE timing <> 'unjudged' AND displaced = 0)
    FROM reading WHERE judgement = ?";

impl<'a> Adder<'a> {
    /// For takes of this logbook.
    pub fn new(logbook: &'a Logbook) -> Adder<'a> {
        Adder {
            logbook,
            unrolled: HashMap::new(),
        }
    }

    /// What a take comes to by its latest judgement; `None` while it has not been judged.
    pub fn of(&mut self, take: &TakeRow) -> Result<Option<Sums>> {
        let Some(judgement) = self.logbook.latest_judgement(take.number)? else {
            return Ok(None);
        };
        let added = self.logbook.add_up(judgement)?;
        let left_out = match added.missed {
            0 => 0,
            _ => self.ghosts_left_out(take, judgement)?,
        };
        let mut offsets = added.offsets;
        if added.displaced > 0 {
            self.add_displaced(take, judgement, &mut offsets)?;
        }
        Ok(Some(Sums {
            notes: added.notes,
            timing_window: self.logbook.settings(judgement)?.windows.timing,
            expected: added.notes - added.unheard - left_out,
            matched: added.matched,
            missed: added.missed - left_out,
            extra: self.logbook.extra(judgement)?,
            pitch_right: added.pitch_right,
            pitch_unjudged: added.pitch_unjudged,
            timing_in: added.timing_in,
            offset_mean_ms: offsets.mean(),
            offset_sd_ms: offsets.sd(),
            findings: self.logbook.finding_ids(judgement)?,
        }))
    }

    fn ghosts_left_out(&mut self, take: &TakeRow, judgement: i64) -> Result<usize> {
        let Some(line) = self.unrolled(take)? else {
            return Ok(0);
        };
        if !line.notes.iter().any(|note| note.is.optional) {
            return Ok(0);
        }
        let missed = self.logbook.missed(judgement)?;
        let is_ghost = |note: &&usize| line.notes.get(**note).is_some_and(|note| note.is.optional);
        Ok(missed.iter().filter(is_ghost).count())
    }

    /// Adds the offsets of notes that are away from their place, from the grid that their phrase is on.
    fn add_displaced(
        &mut self,
        take: &TakeRow,
        judgement: i64,
        offsets: &mut Offsets,
    ) -> Result<()> {
        let Some(line) = self.unrolled(take)? else {
            return Ok(());
        };
        for (note, displaced, offset) in self.logbook.displaced(judgement)? {
            if let Some(note) = line.notes.get(note) {
                let place = line.tempo_map.displaced(note.onset, displaced);
                offsets.add((offset + note.onset - place).ms());
            }
        }
        Ok(())
    }

    fn unrolled(&mut self, take: &TakeRow) -> Result<Option<Rc<Expected>>> {
        let played = (
            take.notes_hash.clone(),
            take.bars.map(<[u32; 2]>::from),
            take.speed.0,
        );
        if let Some(known) = self.unrolled.get(&played) {
            return Ok(known.clone());
        }
        let line = part(&self.logbook.line_of(take.number)?, take.bars);
        let unrolled = line.map(|line| Rc::new(unroll(&line, take.speed)));
        self.unrolled.insert(played, unrolled.clone());
        Ok(unrolled)
    }
}

/// The bars of a line that were played.
fn part(kept: &KeptLine, bars: Option<BarRange>) -> Option<crate::line::Line> {
    let line = kept.line().ok()?;
    match bars {
        Some(bars) => line.excerpt(bars).ok(),
        None => Some(line),
    }
}

impl Offsets {
    fn add(&mut self, offset_ms: f64) {
        self.count += 1;
        self.sum += offset_ms;
        self.squares += offset_ms * offset_ms;
    }

    fn mean(&self) -> Option<f64> {
        (self.count > 0).then(|| self.sum / self.count as f64)
    }

    /// Offsets are within a few seconds: of sixteen digits of the squares' sum, ten are left at least.
    fn sd(&self) -> Option<f64> {
        let n = self.count as f64;
        let squares = (self.squares - self.sum * self.sum / n).max(0.0);
        (self.count > 1).then(|| (squares / (n - 1.0)).sqrt())
    }
}

/// SQLite counts with a sign.
fn count(row: &Row<'_>, column: usize) -> rusqlite::Result<usize> {
    Ok(row.get::<_, i64>(column)?.unsigned_abs() as usize)
}

impl Logbook {
    /// The number of a take's latest judgement.
    pub fn latest_judgement(&self, take: i64) -> Result<Option<i64>> {
        let mut query = self
            .db
            .prepare_cached("SELECT max(id) FROM judgement WHERE take = ?")?;
        Ok(query
            .query_row([take], |row| row.get(0))
            .optional()?
            .flatten())
    }

    fn add_up(&self, judgement: i64) -> Result<Added> {
        let mut query = self.db.prepare_cached(ADD)?;
        let added = query.query_row([judgement], |row| {
            Ok(Added {
                notes: count(row, 0)?,
                matched: count(row, 1)?,
                unheard: count(row, 2)?,
                missed: count(row, 3)?,
                displaced: count(row, 4)?,
                pitch_right: count(row, 5)?,
                pitch_unjudged: count(row, 6)?,
                timing_in: count(row, 7)?,
                offsets: Offsets {
                    count: count(row, 8)?,
                    sum: row.get(9)?,
                    squares: row.get(10)?,
                },
            })
        })?;
        Ok(added)
    }

    fn settings(&self, judgement: i64) -> Result<Settings> {
        let mut query = self
            .db
            .prepare_cached("SELECT settings FROM judgement WHERE id = ?")?;
        let settings: String = query.query_row([judgement], |row| row.get(0))?;
        Ok(serde_json::from_str(&settings).unwrap_or_default())
    }

    fn missed(&self, judgement: i64) -> Result<Vec<usize>> {
        let mut query = self.db.prepare_cached(
            "SELECT note FROM reading WHERE judgement = ? AND key IS NULL AND timing IS NULL",
        )?;
        let notes = query.query_map([judgement], |row| count(row, 0))?;
        Ok(notes.collect::<rusqlite::Result<_>>()?)
    }

    fn displaced(&self, judgement: i64) -> Result<Vec<(usize, Ticks, Nanos)>> {
        let mut query = self.db.prepare_cached(
            "SELECT note, displaced, offset_ns FROM reading
             WHERE judgement = ? AND key IS NOT NULL AND timing <> 'unjudged' AND displaced <> 0",
        )?;
        let notes = query.query_map([judgement], |row| {
            Ok((count(row, 0)?, Ticks(row.get(1)?), Nanos(row.get(2)?)))
        })?;
        Ok(notes.collect::<rusqlite::Result<_>>()?)
    }

    fn extra(&self, judgement: i64) -> Result<usize> {
        let mut query = self
            .db
            .prepare_cached("SELECT count(*) FROM extra WHERE judgement = ?")?;
        Ok(query.query_row([judgement], |row| count(row, 0))?)
    }

    fn finding_ids(&self, judgement: i64) -> Result<Vec<String>> {
        let mut query = self
            .db
            .prepare_cached("SELECT id FROM finding WHERE judgement = ? ORDER BY rank")?;
        let ids = query.query_map([judgement], |row| row.get(0))?;
        Ok(ids.collect::<rusqlite::Result<_>>()?)
    }
}
