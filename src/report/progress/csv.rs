//! Progress as a table, RFC 4180: one row a line, section, measure and session. Columns:
//!
//! | column | meaning |
//! | --- | --- |
//! | `line` | title of the line |
//! | `player` | who played |
//! | `section` | section; empty: the whole |
//! | `measure` | `spread`, `lean`, `entries`, `upbeats` (ms); `swing`, `lengths` (as played over as written); `pitch` (share); `told:ID` (share of takes in which the finding was told) |
//! | `session` | its number |
//! | `begun` | when it began, RFC 3339, UTC |
//! | `takes` | takes behind the value |
//! | `value`, `low`, `high` | the session's value and the 95 % interval of it |

use super::{OnLine, words};
use crate::progress::outcome::MeasureProgress;
use jiff::Timestamp;
use std::io;

/// The heads of the columns.
const HEADS: [&str; 10] = [
    "line", "player", "section", "measure", "session", "begun", "takes", "value", "low", "high",
];

/// Writes the table of these lines.
pub fn write(lines: &[OnLine<'_>], out: impl io::Write) -> Result<(), csv::Error> {
    let mut table = csv::Writer::from_writer(out);
    table.write_record(HEADS)?;
    for line in lines {
        measures(&mut table, line, "", &line.progress.measures)?;
        for section in &line.progress.sections {
            measures(&mut table, line, &section.name, &section.measures)?;
        }
        findings(&mut table, line)?;
    }
    table.flush()?;
    Ok(())
}

fn measures<W: io::Write>(
    table: &mut csv::Writer<W>,
    line: &OnLine<'_>,
    section: &str,
    measures: &[MeasureProgress],
) -> Result<(), csv::Error> {
    for measure in measures {
        for point in &measure.points {
            let [low, high] = point.interval.map(|end| end.to_string());
            table.write_record([
                line.title,
                line.player,
                section,
                words::measure(measure.measure),
                &point.session.to_string(),
                &begun(point.begun_ms),
                &point.takes.to_string(),
                &point.value.to_string(),
                &low,
                &high,
            ])?;
        }
    }
    Ok(())
}

fn findings<W: io::Write>(table: &mut csv::Writer<W>, line: &OnLine<'_>) -> Result<(), csv::Error> {
    for finding in &line.progress.findings {
        let measure = format!("told:{}", finding.id);
        for point in &finding.points {
            let share = point.told as f64 / point.takes.max(1) as f64;
            table.write_record([
                line.title,
                line.player,
                "",
                &measure,
                &point.session.to_string(),
                &begun(point.begun_ms),
                &point.takes.to_string(),
                &share.to_string(),
                "",
                "",
            ])?;
        }
    }
    Ok(())
}

fn begun(ms: i64) -> String {
    Timestamp::from_millisecond(ms)
        .unwrap_or_default()
        .to_string()
}
