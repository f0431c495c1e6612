//! A judged take as a table (CSV, RFC 4180): a row for each expected note, in the order in which they are written; what was
//! played and belongs to none has no row. Numbers have a decimal point; what is not known is empty.
//!
//! | column | what |
//! | --- | --- |
//! | `note` | number of the expected note, from 0 |
//! | `section`, `pass`, `bar`, `beat` | where it is written; passes, bars and beats from 1 |
//! | `string`, `fret` | where it is on the instrument, as far as the line says |
//! | `degree` | in the key, with the pass's shift |
//! | `entry`, `upbeat`, `skip` | `true` or `false` |
//! | `expected_key` | MIDI key; empty for a dead note |
//! | `expected_onset_s`, `expected_length_s` | seconds since bar 1 beat 1; seconds |
//! | `played_key`, `played_onset_s`, `played_length_s`, `velocity` | what was played for it |
//! | `offset_ms` | played minus expected onset; negative is early |
//! | `displaced_beats` | how far its phrase is from its place |
//! | `length_ratio` | played ÷ expected length |
//! | `ring_over_ms` | how long it sounded into the next note or a rest |
//! | `pitch`, `timing`, `length` | the verdicts, as in `leadsman.check/1` |

use super::Checked;
use super::json::{self, Note};
use csv::{Terminator, WriterBuilder};
use serde::Serialize;
use std::io;

/// The names of the columns.
const COLUMNS: [&str; 25] = [
    "note",
    "section",
    "pass",
    "bar",
    "beat",
    "string",
    "fret",
    "degree",
    "entry",
    "upbeat",
    "skip",
    "expected_key",
    "expected_onset_s",
    "expected_length_s",
    "played_key",
    "played_onset_s",
    "played_length_s",
    "velocity",
    "offset_ms",
    "displaced_beats",
    "length_ratio",
    "ring_over_ms",
    "pitch",
    "timing",
    "length",
];

/// A row, its fields in the order of [`COLUMNS`].
#[derive(Serialize)]
struct Row<'a> {
    note: u32,
    section: &'a str,
    pass: u32,
    bar: u32,
    beat: f64,
    string: Option<&'a str>,
    fret: Option<u8>,
    degree: Option<String>,
    entry: bool,
    upbeat: bool,
    skip: bool,
    expected_key: Option<u8>,
    expected_onset_s: f64,
    expected_length_s: f64,
    played_key: Option<u8>,
    played_onset_s: Option<f64>,
    played_length_s: Option<f64>,
    velocity: Option<u8>,
    offset_ms: Option<f64>,
    displaced_beats: f64,
    length_ratio: Option<f64>,
    ring_over_ms: Option<f64>,
    pitch: Option<crate::judge::cost::Pitch>,
    timing: Option<crate::judge::Timing>,
    length: Option<crate::judge::Length>,
}

/// Writes the table.
pub fn write(checked: &Checked<'_>, out: impl io::Write) -> io::Result<()> {
    // The names are written by hand: a take without notes has them as well.
    let mut table = WriterBuilder::new()
        .has_headers(false)
        .terminator(Terminator::CRLF)
        .from_writer(out);
    table.write_record(COLUMNS).map_err(io::Error::other)?;
    for reading in &checked.judgement.readings {
        table
            .serialize(row(json::note(checked, reading)))
            .map_err(io::Error::other)?;
    }
    table.flush()
}

fn row(of: Note<'_>) -> Row<'_> {
    let played = of.played.as_ref();
    Row {
        note: of.index,
        section: of.section,
        pass: of.pass,
        bar: of.bar,
        beat: of.beat,
        string: of.string,
        fret: of.fret,
        degree: of.degree,
        entry: of.entry,
        upbeat: of.upbeat,
        skip: of.skip,
        expected_key: of.expected.key,
        expected_onset_s: of.expected.onset_s,
        expected_length_s: of.expected.length_s,
        played_key: played.map(|played| played.key),
        played_onset_s: played.map(|played| played.onset_s),
        played_length_s: played.and_then(|played| played.length_s),
        velocity: played.map(|played| played.velocity),
        offset_ms: of.offset_ms,
        displaced_beats: of.displaced_beats,
        length_ratio: of.length_ratio,
        ring_over_ms: of.ring_over_ms,
        pitch: of.pitch,
        timing: of.timing,
        length: of.length,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::sample::Sample;

    #[test]
    fn columns_are_named_as_the_fields_are_in_this_order() {
        let sample = Sample::new(
            "[[section]]\nname = \"A\"\nnotes = \"A1/4 x/4 D2/2\"",
            "steady",
        );
        let checked = sample.checked();
        let mut named = csv::Writer::from_writer(Vec::new());
        for reading in &checked.judgement.readings {
            named
                .serialize(row(json::note(&checked, reading)))
                .expect("a row");
        }
        let named = String::from_utf8(named.into_inner().expect("bytes")).expect("text");
        let mut written = Vec::new();
        write(&checked, &mut written).expect("a table");
        let written = String::from_utf8(written).expect("text");
        assert_eq!(written.lines().count(), 4);
        assert_eq!(written, named.replace('\n', "\r\n"));
    }
}
