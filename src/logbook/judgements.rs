//! What takes were judged to be. A take judged again keeps what was said before; the latest judgement holds.

use super::{Logbook, Result, new_uid, now_ms};
use crate::findings::Finding;
use crate::judge::{Judgement, Partner, Settings};
use crate::progress::figures::TakeFigures;
use crate::report::Checked;
use crate::units::Nanos;
use rusqlite::{Connection, OptionalExtension, params};
use serde::Serialize;

/// One judgement of a take.
#[derive(Clone, Debug, PartialEq)]
pub struct JudgementRow {
    /// Its number.
    pub id: i64,
    /// When it was made, ms since 1970.
    pub at_ms: i64,
    /// The version of the program that made it.
    pub program: String,
    /// What it was made with.
    pub settings: Settings,
    /// What progress is told from, as JSON.
    pub figures: String,
}

impl Logbook {
    /// Keeps what a take was judged to be: readings, findings, and what progress is told from.
    pub fn judged(&mut self, take: i64, checked: &Checked<'_>) -> Result<()> {
        let adding = self.db.transaction()?;
        insert(&adding, take, checked)?;
        adding.commit()?;
        Ok(())
    }

    /// The same for many takes, all or none.
    pub fn judged_all<'a>(
        &mut self,
        takes: impl IntoIterator<Item = (i64, Checked<'a>)>,
    ) -> Result<()> {
        let adding = self.db.transaction()?;
        for (take, checked) in takes {
            insert(&adding, take, &checked)?;
        }
        adding.commit()?;
        Ok(())
    }

    /// Of a take's latest judgement: notes in time, notes played, and their mean offset in ms.
    pub fn verdicts(&self, take: i64) -> Result<Option<(i64, i64, Option<f64>)>> {
        let mut query = self.db.prepare_cached(
            "SELECT count(*) FILTER (WHERE timing = 'in'), count(key),
                    avg(offset_ns) FILTER (WHERE timing <> 'unjudged') / 1e6
             FROM reading
             WHERE judgement = (SELECT id FROM judgement WHERE take = ? ORDER BY id DESC LIMIT 1) HAVING count(*) > 0",
        )?;
        let row = query.query_row([take], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)));
        Ok(row.optional()?)
    }

    /// All judgements of a take, the latest last.
    pub fn judgements(&self, take: i64) -> Result<Vec<JudgementRow>> {
        let mut query = self.db.prepare_cached(
            "SELECT id, at_ms, program, settings, figures FROM judgement WHERE take = ? ORDER BY id",
        )?;
        let rows = query.query_map([take], |row| {
            let settings: String = row.get(3)?;
            Ok(JudgementRow {
                id: row.get(0)?,
                at_ms: row.get(1)?,
                program: row.get(2)?,
                settings: serde_json::from_str(&settings).unwrap_or_default(),
                figures: row.get(4)?,
            })
        })?;
        Ok(rows.collect::<rusqlite::Result<_>>()?)
    }
}

fn insert(db: &Connection, take: i64, checked: &Checked<'_>) -> Result<()> {
    db.prepare_cached(
        "INSERT INTO judgement (uid, take, at_ms, program, settings, trust, figures) VALUES (?, ?, ?, ?, ?, ?, ?)",
    )?
    .execute(params![
        new_uid(),
        take,
        now_ms(),
        env!("CARGO_PKG_VERSION"),
        json(checked.settings),
        checked.take.trust.as_ref().map(json),
        json(&TakeFigures::of(checked)),
    ])?;
    let judgement = db.last_insert_rowid();
    insert_readings(db, judgement, checked)?;
    insert_extra(db, judgement, checked.judgement)?;
    insert_findings(db, judgement, &checked.findings)?;
    Ok(())
}

fn json(of: &impl Serialize) -> String {
    serde_json::to_string(of).unwrap_or_default()
}

fn insert_readings(db: &Connection, judgement: i64, checked: &Checked<'_>) -> rusqlite::Result<()> {
    let mut insert = db.prepare_cached(
        "INSERT INTO reading VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
    )?;
    for (note, reading) in checked
        .expected
        .notes
        .iter()
        .zip(&checked.judgement.readings)
    {
        let partner = reading.partner.as_ref();
        let played = partner.map(|partner| checked.judgement.played[partner.played as usize]);
        let timing = partner.map(|partner| partner.timing);
        insert.execute(params![
            judgement,
            reading.note,
            note.key.map(|key| key.0),
            note.onset.0,
            note.sounding.0,
            played.map(|played| played.key.0),
            played.map(|played| played.onset.0),
            played
                .and_then(|played| played.length)
                .map(|length| length.0),
            played.map(|played| played.velocity),
            partner.map(|partner| partner.offset.0),
            partner.map(|partner| partner.displaced.0),
            partner.and_then(ring_ns),
            partner.map(|partner| word(&partner.pitch)),
            timing
                .or(reading.is_unheard.then_some(crate::judge::Timing::Unjudged))
                .map(|timing| word(&timing)),
            partner
                .and_then(|partner| partner.length)
                .map(|length| word(&length)),
        ])?;
    }
    Ok(())
}

fn ring_ns(partner: &Partner) -> Option<i64> {
    partner.ring_over.map(|Nanos(over)| over)
}

/// A verdict as its JSON has it.
fn word(verdict: &impl Serialize) -> String {
    json(verdict).trim_matches('"').to_string()
}

fn insert_extra(db: &Connection, judgement: i64, of: &Judgement) -> rusqlite::Result<()> {
    let mut insert = db.prepare_cached("INSERT INTO extra VALUES (?, ?, ?, ?, ?, ?)")?;
    for (number, extra) in of.extra.iter().enumerate() {
        let played = &of.played[*extra as usize];
        insert.execute(params![
            judgement,
            number as i64,
            played.key.0,
            played.onset.0,
            played.length.map(|length| length.0),
            played.velocity,
        ])?;
    }
    Ok(())
}

fn insert_findings(db: &Connection, judgement: i64, findings: &[Finding]) -> rusqlite::Result<()> {
    let mut insert = db.prepare_cached("INSERT INTO finding VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)")?;
    for (rank, finding) in findings.iter().enumerate() {
        insert.execute(params![
            judgement,
            rank as i64,
            finding.id,
            finding.count as i64,
            finding.of as i64,
            finding.mean_ms,
            finding.interval_ms.map(|[low, _]| low),
            finding.interval_ms.map(|[_, high]| high),
            finding.text,
        ])?;
    }
    Ok(())
}
