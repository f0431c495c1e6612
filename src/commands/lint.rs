//! `leadsman lint`: what is wrong with a line, and when nothing is, what a teacher would change.

use super::shared::mistakes_shown;
use super::{Failure, Outcome};
use crate::advice::{Advice, advise};
use crate::cli::LintArgs;
use crate::line::mistakes::Mistakes;
use crate::line::parse::parse;
use crate::line::read::read_text;
use crate::line::source::Source;
use serde::Serialize;
use std::io::{self, Write};
use std::path::Path;

/// Schema name of what `--json` prints.
const SCHEMA: &str = "leadsman.lint/1";

/// Runs the command.
pub fn run(args: &LintArgs) -> Outcome {
    let files: Result<Vec<Linted>, Failure> = args.lines.iter().map(|path| lint(path)).collect();
    let files = files?;
    let wrong: Vec<&Linted> = files
        .iter()
        .filter(|file| file.mistakes.is_some())
        .collect();
    let mut out = io::BufWriter::new(io::stdout().lock());
    if args.json {
        serde_json::to_writer(&mut out, &page(&files)).map_err(io::Error::from)?;
        writeln!(out)?;
    } else {
        write_text(&files, &mut out)?;
    }
    out.flush()?;
    let shown = wrong.iter().filter_map(|file| file.mistakes.as_ref());
    match (wrong.len(), args.json) {
        (0, _) => Ok(()),
        (1, true) => Err(Failure::input("1 file is no valid line")),
        (count, true) => Err(Failure::input(format!("{count} files are no valid lines"))),
        (_, false) => Err(Failure::WrongInput(
            shown.map(mistakes_shown).collect::<Vec<_>>().join("\n\n"),
        )),
    }
}

/// What there is to say about one file.
struct Linted {
    file: String,
    mistakes: Option<Mistakes>,
    advice: Vec<Advice>,
}

fn lint(path: &Path) -> Result<Linted, Failure> {
    let text = read_text(path).map_err(Failure::input)?;
    let file = path.display().to_string();
    Ok(match parse(&text, &file) {
        Ok(line) => Linted {
            file,
            mistakes: None,
            advice: advise(&line, &Source::of(&text)),
        },
        Err(mistakes) => Linted {
            file,
            mistakes: Some(mistakes),
            advice: Vec::new(),
        },
    })
}

fn write_text(files: &[Linted], out: &mut impl Write) -> io::Result<()> {
    for file in files {
        for advice in &file.advice {
            write_advice(&file.file, advice, out)?;
        }
    }
    let read = files.iter().filter(|file| file.mistakes.is_none()).count();
    let count: usize = files.iter().map(|file| file.advice.len()).sum();
    match (read, count) {
        (0, _) => Ok(()),
        (1, 0) => writeln!(out, "Nothing to say: the line is fine."),
        (read, 0) => writeln!(out, "Nothing to say: {read} lines are fine."),
        (_, 1) => writeln!(out, "1 piece of advice, no error."),
        (_, count) => writeln!(out, "{count} pieces of advice, no error."),
    }
}

fn write_advice(file: &str, advice: &Advice, out: &mut impl Write) -> io::Result<()> {
    let mut place = Vec::new();
    place.extend(
        advice
            .section
            .as_ref()
            .map(|name| format!("section {name}")),
    );
    place.extend(advice.bar.map(|bar| format!("bar {bar}")));
    place.extend(
        advice
            .beat
            .map(|beat| format!("beat {}", to_hundredths(beat))),
    );
    let place = match place.is_empty() {
        true => String::new(),
        false => format!("{}: ", place.join(", ")),
    };
    let more = match advice.more {
        0 => String::new(),
        1 => " (and at one more place)".to_owned(),
        more => format!(" (and at {more} more places)"),
    };
    writeln!(
        out,
        "{file}:{}:{}: {place}{}{more} [{}]\n    better: {}",
        advice.line, advice.column, advice.text, advice.id, advice.better
    )
}

/// `1.5`, `2`, `1.33`.
fn to_hundredths(beat: f64) -> f64 {
    (100.0 * beat).round() / 100.0
}

#[derive(Serialize)]
struct Page<'a> {
    schema: &'static str,
    files: Vec<FilePage<'a>>,
    errors: usize,
    advice: usize,
}

#[derive(Serialize)]
struct FilePage<'a> {
    file: &'a str,
    errors: Vec<ErrorPage>,
    advice: &'a [Advice],
}

#[derive(Serialize)]
struct ErrorPage {
    id: &'static str,
    line: usize,
    column: usize,
    text: String,
    better: String,
}

fn page(files: &[Linted]) -> Page<'_> {
    let page = |file: &'_ Linted| -> Vec<ErrorPage> {
        let Some(mistakes) = &file.mistakes else {
            return Vec::new();
        };
        let error = |at: &crate::line::mistake::MistakeAt| {
            let explanation = at.mistake.explanation();
            let position = mistakes.position(at);
            ErrorPage {
                id: explanation.id,
                line: position.line,
                column: position.column,
                text: at.mistake.to_string(),
                better: explanation.help,
            }
        };
        mistakes.iter().map(error).collect()
    };
    let pages: Vec<FilePage<'_>> = files
        .iter()
        .map(|file| FilePage {
            file: &file.file,
            errors: page(file),
            advice: &file.advice,
        })
        .collect();
    Page {
        schema: SCHEMA,
        errors: pages.iter().map(|page| page.errors.len()).sum(),
        advice: pages.iter().map(|page| page.advice.len()).sum(),
        files: pages,
    }
}
