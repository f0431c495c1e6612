//! What takes were judged to be. A take judged again keeps what was said before; the latest judgement holds.

use super::{Logbook, Result, new_uid, now_ms};
use crate::judge::{Judgement, Partner, Settings};
use crate::progress::figures::TakeFigures;
use crate::report::Checked;
use crate::units::Nanos;
use rusqlite::types::Value;
use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params, params_from_iter};
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

    /// The same, where nothing is kept of it yet: whoever plays a take and whoever finds it not judged may come to it at
    /// once, and both come to the same.
    pub fn judged_first(&mut self, take: i64, checked: &Checked<'_>) -> Result<()> {
        let adding = self
            .db
            .transaction_with_behavior(TransactionBehavior::Immediate)?;
        let known = "SELECT count(*) FROM judgement WHERE take = ?";
        let known: i64 = adding.query_row(known, [take], |row| row.get(0))?;
        if known == 0 {
            insert(&adding, take, checked)?;
        }
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

    /// Whether a judgement said just the same: all readings, to the nanosecond, and all findings.
    pub fn is_the_same(&self, judgement: i64, checked: &Checked<'_>) -> Result<bool> {
        let readings = "SELECT * FROM reading WHERE judgement = ? ORDER BY note";
        let findings = "SELECT * FROM finding WHERE judgement = ? ORDER BY rank";
        Ok(
            self.is_kept_so(readings, judgement, reading_rows(judgement, checked))?
                && self.is_kept_so(findings, judgement, finding_rows(judgement, checked))?,
        )
    }

    fn is_kept_so<const N: usize>(
        &self,
        kept: &str,
        judgement: i64,
        rows: impl Iterator<Item = [Value; N]>,
    ) -> Result<bool> {
        let mut query = self.db.prepare_cached(kept)?;
        let mut kept = query.query([judgement])?;
        for expected in rows {
            let Some(row) = kept.next()? else {
                return Ok(false);
            };
            for (column, expected) in expected.iter().enumerate() {
                if row.get_ref(column)? != expected.into() {
                    return Ok(false);
                }
            }
        }
        Ok(kept.next()?.is_none())
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
    insert_findings(db, judgement, checked)?;
    Ok(())
}

fn json(of: &impl Serialize) -> String {
    serde_json::to_string(of).unwrap_or_default()
}

fn insert_readings(db: &Connection, judgement: i64, checked: &Checked<'_>) -> rusqlite::Result<()> {
    let mut insert = db.prepare_cached(
        "INSERT INTO reading VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
    )?;
    for row in reading_rows(judgement, checked) {
        insert.execute(params_from_iter(row))?;
    }
    Ok(())
}

/// The rows of table `reading`.
fn reading_rows(judgement: i64, checked: &Checked<'_>) -> impl Iterator<Item = [Value; 15]> {
    let readings = checked.judgement.readings.iter();
    let notes = checked.expected.notes.iter().zip(readings);
    notes.map(move |(note, reading)| {
        let partner = reading.partner.as_ref();
        let played = partner.map(|partner| checked.judgement.played[partner.played as usize]);
        let timing = partner.map(|partner| partner.timing);
        let timing = timing.or(reading.is_unheard.then_some(crate::judge::Timing::Unjudged));
        [
            judgement.into(),
            reading.note.into(),
            note.key.map(|key| key.0).into(),
            note.onset.0.into(),
            note.sounding.0.into(),
            played.map(|played| played.key.0).into(),
            played.map(|played| played.onset.0).into(),
            played
                .and_then(|played| played.length)
                .map(|length| length.0)
                .into(),
            played.map(|played| played.velocity).into(),
            partner.map(|partner| partner.offset.0).into(),
            partner.map(|partner| partner.displaced.0).into(),
            partner.and_then(ring_ns).into(),
            partner.map(|partner| word(&partner.pitch)).into(),
            timing.map(|timing| word(&timing)).into(),
            partner
                .and_then(|partner| partner.length)
                .map(|length| word(&length))
                .into(),
        ]
    })
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

fn insert_findings(db: &Connection, judgement: i64, checked: &Checked<'_>) -> rusqlite::Result<()> {
    let mut insert = db.prepare_cached("INSERT INTO finding VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)")?;
    for row in finding_rows(judgement, checked) {
        insert.execute(params_from_iter(row))?;
    }
    Ok(())
}

/// The rows of table `finding`.
fn finding_rows(judgement: i64, checked: &Checked<'_>) -> impl Iterator<Item = [Value; 9]> {
    let findings = checked.findings.iter().enumerate();
    findings.map(move |(rank, finding)| {
        [
            judgement.into(),
            (rank as i64).into(),
            finding.id.to_string().into(),
            (finding.count as i64).into(),
            (finding.of as i64).into(),
            finding.mean_ms.into(),
            finding.interval_ms.map(|[low, _]| low).into(),
            finding.interval_ms.map(|[_, high]| high).into(),
            finding.text.clone().into(),
        ]
    })
}
