//! What progress is told from: the figures of all takes of a player, line by line.

use super::takes::{Filter, State, TakeRow};
use super::{Logbook, Result};
use crate::progress::figures::{TakeFigures, VERSION};
use crate::progress::history::{Entry, History};
use crate::report::when;
use rayon::prelude::*;
use std::cmp::Reverse;
use std::collections::BTreeMap;

/// The takes of one player on one line.
#[derive(Clone, Debug)]
pub struct LineHistory {
    /// The line's title.
    pub title: String,
    /// Its file, as it was given last.
    pub file: String,
    /// What it asks for, in short.
    pub notes_hash: String,
    /// When it was played last, ms since 1970.
    pub last_ms: i64,
    /// Its takes.
    pub history: History,
    /// Takes of the same title that were played to other notes.
    pub of_other_notes: usize,
}

/// Figures that are not to be had from the logbook as it is.
pub type WorkOut<'a> = &'a mut dyn FnMut(&TakeRow) -> Option<TakeFigures>;

impl Logbook {
    /// The lines that these takes are of, the one played last first; of lines with the same title only one, that asks for
    /// `notes_hash` or else was played last. What has no figures of the present version is given to `work_out`.
    pub fn histories(
        &self,
        filter: &Filter,
        notes_hash: Option<&str>,
        work_out: WorkOut<'_>,
    ) -> Result<Vec<LineHistory>> {
        let takes = self.takes(filter)?;
        let sessions = self.sessions_begun()?;
        let figures: Vec<Option<TakeFigures>> = takes.par_iter().map(present_figures).collect();
        let mut lines: BTreeMap<String, (TakeRow, Vec<Entry>)> = BTreeMap::new();
        for (take, figures) in takes.into_iter().zip(figures) {
            let is_over = matches!(take.state, State::Over | State::BrokenOff);
            let Some(figures) = figures.or_else(|| is_over.then(|| work_out(&take)).flatten())
            else {
                continue;
            };
            let session_begun_ms = sessions
                .get(&take.session)
                .copied()
                .unwrap_or(take.begun_ms);
            let entry = entry(&take, session_begun_ms, figures);
            let line = lines
                .entry(take.notes_hash.clone())
                .or_insert_with(|| (take.clone(), Vec::new()));
            line.1.push(entry);
            line.0 = take;
        }
        Ok(one_of_each_title(lines, notes_hash))
    }

    /// When each session began.
    fn sessions_begun(&self) -> Result<BTreeMap<i64, i64>> {
        let mut query = self.db.prepare_cached("SELECT id, begun_ms FROM session")?;
        let rows = query.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
        Ok(rows.collect::<rusqlite::Result<_>>()?)
    }
}

fn present_figures(take: &TakeRow) -> Option<TakeFigures> {
    let figures: TakeFigures = serde_json::from_str(take.figures.as_deref()?).ok()?;
    (figures.v == VERSION).then_some(figures)
}

fn entry(take: &TakeRow, session_begun_ms: i64, figures: TakeFigures) -> Entry {
    let begun = when::begun(&take.begun, take.begun_ms);
    Entry {
        take: take.number,
        session: take.session,
        session_begun_ms,
        begun_ms: take.begun_ms,
        utc_offset_s: begun.offset().seconds(),
        speed: f64::from(take.speed.0) / 1000.0,
        bars: take.bars,
        figures,
    }
}

fn one_of_each_title(
    lines: BTreeMap<String, (TakeRow, Vec<Entry>)>,
    notes_hash: Option<&str>,
) -> Vec<LineHistory> {
    let mut lines: Vec<(TakeRow, Vec<Entry>)> = lines.into_values().collect();
    lines.sort_by_key(|(last, _)| {
        let is_wanted = Some(last.notes_hash.as_str()) == notes_hash;
        Reverse((is_wanted, last.begun_ms, last.number))
    });
    let mut histories: Vec<LineHistory> = Vec::new();
    for (last, entries) in lines {
        if let Some(newer) = histories.iter_mut().find(|line| line.title == last.line) {
            newer.of_other_notes += entries.len();
            continue;
        }
        histories.push(LineHistory {
            title: last.line,
            file: last.file,
            notes_hash: last.notes_hash,
            last_ms: last.begun_ms,
            history: History::new(entries),
            of_other_notes: 0,
        });
    }
    histories
}
