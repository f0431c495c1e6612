//! Progress as JSON, schema `leadsman.progress/1`. Values as [`crate::progress::outcome`] has them; missing numbers are
//! null.

use super::{OnLine, Today};
use crate::progress::Progress;
use crate::progress::today::Suggestion;
use serde::Serialize;
use std::io;

/// The name of the schema.
pub const SCHEMA: &str = "leadsman.progress/1";

#[derive(Serialize)]
struct Document<'a> {
    schema: &'static str,
    player: &'a str,
    lines: Vec<Line<'a>>,
    today: &'a [Suggestion],
}

#[derive(Serialize)]
struct Line<'a> {
    title: &'a str,
    file: &'a str,
    of_other_notes: usize,
    #[serde(flatten)]
    progress: &'a Progress,
}

/// Writes what is said of these lines as one JSON document.
pub fn write(
    player: &str,
    lines: &[OnLine<'_>],
    today: &Today<'_>,
    out: &mut impl io::Write,
) -> io::Result<()> {
    let document = Document {
        schema: SCHEMA,
        player,
        lines: lines
            .iter()
            .map(|line| Line {
                title: line.title,
                file: line.file,
                of_other_notes: line.of_other_notes,
                progress: line.progress,
            })
            .collect(),
        today: today.suggestions,
    };
    serde_json::to_writer(&mut *out, &document)?;
    writeln!(out)
}
