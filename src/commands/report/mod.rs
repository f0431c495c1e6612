//! `leadsman report`: what was heard in a take or in a session, or what became of a line, as a page.

mod in_logbook;

use super::judging::{Judged, Silence, TakeOptions, judge_take};
use super::line_file::{self, Existing};
use super::{Failure, Outcome};
use crate::cli::ReportArgs;
use crate::report::html::{Head, TakePage, take_page};
use crate::take::{Take, TakeHead};
use std::ffi::OsString;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A page, and what its file is called where nothing else is said.
struct Written {
    page: String,
    name: PathBuf,
}

/// Runs the command.
pub fn run(args: &ReportArgs) -> Outcome {
    let Written { page, name } = match (&args.take, args.session, &args.line) {
        (Some(take), _, _) => match number(take) {
            Some(number) => in_logbook::take(args, number)?,
            None => of_file(args, take)?,
        },
        (None, Some(session), _) => in_logbook::session(args, session)?,
        (None, None, Some(line)) => in_logbook::line(args, line)?,
        (None, None, None) => in_logbook::latest(args)?,
    };
    let output = args.output.clone().unwrap_or(name);
    line_file::write(&output, page, Existing::forced(args.force))?;
    writeln!(
        io::stdout(),
        "The report is written to {}",
        output.display()
    )?;
    Ok(())
}

/// A number, where there is no file of that name.
fn number(take: &Path) -> Option<i64> {
    let number = take.to_str()?.parse().ok()?;
    (!take.exists()).then_some(number)
}

fn of_file(args: &ReportArgs, take: &Path) -> Result<Written, Failure> {
    let line = match &args.line {
        Some(line) => PathBuf::from(line),
        None => line_of(take)?,
    };
    let options = TakeOptions::asked(&args.how, Silence::Judged);
    let judged = judge_take(&line, take, &options)?;
    Ok(Written {
        page: page(judged, &line, take),
        name: named(take),
    })
}

/// The page of a judged take.
fn page(mut judged: Judged, line: &Path, take: &Path) -> String {
    let whole = Arc::clone(&judged.expected);
    let played = Arc::clone(&judged.played);
    let head = judged.head().map(head).unwrap_or_default();
    let checked = judged.checked(line, take);
    take_page(&TakePage {
        line: &played.line,
        whole: &whole,
        checked: &checked,
        head,
        more: Vec::new(),
    })
}

/// What a take says about when and by whom it was played.
fn head(take: &TakeHead) -> Head {
    let begun = take.begun.parse::<jiff::ZonedDateTime>();
    let played = begun.map_or_else(
        |_| take.begun.clone(),
        |begun| begun.strftime("%-d %B %Y, %H:%M").to_string(),
    );
    Head {
        played: (!played.is_empty()).then_some(played),
        player: (!take.player.is_empty()).then(|| match take.has_port {
            true => take.player.clone(),
            false => format!("{} (invented data)", take.player),
        }),
        ..Head::default()
    }
}

/// The line that a take names: as it is named, from here or from where the take is.
fn line_of(take: &Path) -> Result<PathBuf, Failure> {
    let shown = take.display();
    let head = Take::read(take).map_err(Failure::input)?.head;
    let head = head.ok_or_else(|| {
        Failure::input(format!(
            "{shown} was not made by leadsman, so it does not say which line it is of: --line names it"
        ))
    })?;
    let line = PathBuf::from(&head.line_file);
    let beside = take.parent().map(|folder| folder.join(&line));
    let places = [Some(line.clone()), beside];
    if let Some(found) = places.into_iter().flatten().find(|place| place.is_file()) {
        return Ok(found);
    }
    Err(Failure::input(format!(
        "the take is of {}, and {} is not there: --line names the file",
        head.line,
        line.display()
    )))
}

/// `monday.report.html` for `takes/monday.mid`, in the current folder.
fn named(take: &Path) -> PathBuf {
    let mut name = take
        .file_stem()
        .map_or_else(|| OsString::from("take"), OsString::from);
    name.push(".report.html");
    PathBuf::from(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_report_is_named_after_its_take_and_stands_in_the_current_folder() {
        let name = named(Path::new("takes/monday.second.mid"));
        assert_eq!(name, Path::new("monday.second.report.html"));
    }
}
