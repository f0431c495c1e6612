//! A take in one row of CSV (RFC 4180, with a head), for a spreadsheet or a statistics program.
//!
//! | column | what |
//! | --- | --- |
//! | `file` | the take's file |
//! | `line` | the line's title |
//! | `speed_pct` | speed in percent of the written tempo |
//! | `first_bar`, `last_bar` | the bars that were played; empty: all of the line |
//! | `expected` | notes that had to be played |
//! | `matched`, `missed`, `extra` | notes played for them, notes nothing was played for, played notes that belong nowhere |
//! | `pitch_right`, `pitch_judged` | matched notes of the right pitch, of those that have one |
//! | `timing_in`, `timing_judged` | notes inside the timing window, of those whose time is to be believed |
//! | `length_in` | matched notes inside the length window |
//! | `offset_mean_ms`, `offset_sd_ms` | mean and standard deviation of the offsets; negative is early |
//! | `lean_ms`, `lean_low_ms`, `lean_high_ms` | the steady lean with its 95 % interval, where there is one |
//! | `swing_ratio` | long half over short half as played, from 15 pairs on |
//! | `tempo_drift_pct` | how much faster (positive) or slower than the line the player went |
//! | `f_measure` | the transcription field's measure, 0 to 1 |
//! | `findings` | ids of the findings, the one that hurts most first, with spaces between |
//! | `first_finding` | the first of them in a sentence |
//! | `remarks` | what is odd about the take |
//! | `error` | why it could not be judged; then all columns but `file` and `remarks` are empty |
//!
//! What is not known is empty. Numbers have a decimal point, whatever the system's language.

use super::Checked;
use crate::judge::cost::Pitch;
use csv::{Terminator, Writer, WriterBuilder};
use serde::Serialize;

/// The columns, in order.
#[derive(Default, Serialize)]
struct Row<'a> {
    file: &'a str,
    line: Option<&'a str>,
    speed_pct: Option<f64>,
    first_bar: Option<u32>,
    last_bar: Option<u32>,
    expected: Option<usize>,
    matched: Option<usize>,
    missed: Option<usize>,
    extra: Option<usize>,
    pitch_right: Option<usize>,
    pitch_judged: Option<usize>,
    timing_in: Option<usize>,
    timing_judged: Option<usize>,
    length_in: Option<usize>,
    offset_mean_ms: Option<f64>,
    offset_sd_ms: Option<f64>,
    lean_ms: Option<f64>,
    lean_low_ms: Option<f64>,
    lean_high_ms: Option<f64>,
    swing_ratio: Option<f64>,
    tempo_drift_pct: Option<f64>,
    f_measure: Option<f64>,
    findings: Option<String>,
    first_finding: Option<&'a str>,
    remarks: String,
    error: Option<&'a str>,
}

/// The names of the columns.
pub fn head() -> Vec<u8> {
    // A row is written with its head; the head alone is the first line of that, since no name has a line break in it.
    let mut all = written(&Row::default(), Head::Written);
    let end = all
        .iter()
        .position(|byte| *byte == b'\n')
        .map_or(0, |at| at + 1);
    all.truncate(end);
    all
}

/// The row of a take.
pub fn row(checked: &Checked, remarks: &[String]) -> Vec<u8> {
    let sum = &checked.summary;
    let partners = checked.judgement.readings.iter().filter_map(|r| r.partner);
    let pitched = partners.filter(|partner| partner.pitch != Pitch::Unjudged);
    let lean = checked.lean;
    let ids: Vec<&str> = checked.findings.iter().map(|finding| finding.id).collect();
    let row = Row {
        file: checked.take.file.as_deref().unwrap_or_default(),
        line: Some(&checked.line.title),
        speed_pct: Some(checked.line.speed),
        first_bar: checked.line.bars.map(|bars| bars.first),
        last_bar: checked.line.bars.map(|bars| bars.last),
        expected: Some(sum.expected),
        matched: Some(sum.matched),
        missed: Some(sum.missed),
        extra: Some(sum.extra),
        pitch_right: Some(sum.pitch_right),
        pitch_judged: Some(pitched.count()),
        timing_in: Some(sum.timing_in),
        timing_judged: Some(sum.matched - sum.timing_unjudged),
        length_in: Some(sum.length_in),
        offset_mean_ms: sum.offset_mean_ms.map(thousandths),
        offset_sd_ms: sum.offset_sd_ms.map(thousandths),
        lean_ms: lean.map(|lean| thousandths(lean.mean_ms)),
        lean_low_ms: lean.map(|lean| thousandths(lean.interval_ms[0])),
        lean_high_ms: lean.map(|lean| thousandths(lean.interval_ms[1])),
        swing_ratio: sum.swing_ratio.map(thousandths),
        tempo_drift_pct: sum.tempo_drift_pct.map(thousandths),
        f_measure: Some(thousandths(checked.convention.f_measure)),
        findings: Some(ids.join(" ")),
        first_finding: checked.findings.first().map(|first| first.text.as_str()),
        remarks: remarks.join("; "),
        error: None,
    };
    written(&row, Head::LeftOut)
}

/// The row of a take that could not be judged.
pub fn failure(take: &str, why: &str, remarks: &[String]) -> Vec<u8> {
    let row = Row {
        file: take,
        remarks: remarks.join("; "),
        error: Some(why),
        ..Row::default()
    };
    written(&row, Head::LeftOut)
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Head {
    Written,
    LeftOut,
}

/// To a thousandth: a thousandth of a ms is below what any clock here knows.
fn thousandths(number: f64) -> f64 {
    (1000.0 * number).round() / 1000.0
}

fn written(row: &Row<'_>, head: Head) -> Vec<u8> {
    let mut writer: Writer<Vec<u8>> = WriterBuilder::new()
        .has_headers(head == Head::Written)
        .terminator(Terminator::CRLF)
        .from_writer(Vec::new());
    let bytes = writer
        .serialize(row)
        .map_err(|error| error.to_string())
        .and_then(|()| writer.into_inner().map_err(|error| error.to_string()));
    bytes.unwrap_or_else(|error| unreachable!("plain cells, and room in memory: {error}"))
}
