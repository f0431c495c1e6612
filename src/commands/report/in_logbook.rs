//! Pages of what is in the logbook.

use super::Written;
use crate::cli::ReportArgs;
use crate::commands::kept_take::{JudgedTake, KeptTake};
use crate::commands::progress::{Asked, told};
use crate::commands::takes::list::{complete_or_say, is_known};
use crate::commands::takes::{failed, finished};
use crate::commands::{Failure, Outcome};
use crate::logbook::Logbook;
use crate::logbook::takes::{Filter, State, TakeRow};
use crate::report::html::progress::{progress_page, section};
use crate::report::html::session::{SessionPage, SessionTake, session_page};
use crate::report::html::{Head, TakePage, take_page};
use crate::report::when;
use jiff::Timestamp;
use std::path::{Path, PathBuf};

/// The latest take.
pub fn latest(args: &ReportArgs) -> Result<Written, Failure> {
    refuse(
        args,
        &[Given::Start, Given::Bars, Given::Section, Given::Speed],
    )?;
    let logbook = open(args)?;
    let player = match &args.player {
        Some(player) => {
            is_known(player, &logbook)?;
            Some(player.clone())
        }
        None => None,
    };
    let filter = Filter {
        player,
        latest: Some(1),
        ..Filter::default()
    };
    let rows = logbook.takes(&filter);
    let row = rows.map_err(|error| failed(&logbook, error))?.pop();
    let row = row.ok_or_else(|| {
        Failure::input(format!(
            "logbook {}: there is no take yet",
            logbook.path().display()
        ))
    })?;
    page_of_take(args, &logbook, row)
}

/// A take by its number.
pub fn take(args: &ReportArgs, number: i64) -> Result<Written, Failure> {
    let without = [Given::Start, Given::Bars, Given::Section, Given::Speed];
    refuse(
        args,
        &[&[Given::Line, Given::Player], &without[..]].concat(),
    )?;
    let logbook = open(args)?;
    let row = finished(&logbook, number)?;
    page_of_take(args, &logbook, row)
}

fn open(args: &ReportArgs) -> Result<Logbook, Failure> {
    let mut logbook = args.logbook.open_existing()?;
    complete_or_say(&mut logbook);
    Ok(logbook)
}

fn judged(args: &ReportArgs, logbook: &Logbook, row: TakeRow) -> Result<JudgedTake, Failure> {
    let kept = KeptTake::read(logbook, row).map_err(|error| failed(logbook, error))?;
    let settings = args.how.judging.over(kept.settings);
    Ok(kept.judge(settings))
}

/// An option that does not say anything about every page.
#[derive(Clone, Copy)]
enum Given {
    Line,
    Player,
    Start,
    Speed,
    Bars,
    Section,
}

/// Refuses options that would have no effect on the page that is asked for.
fn refuse(args: &ReportArgs, without: &[Given]) -> Outcome {
    let how = &args.how;
    let given = without.iter().find_map(|option| {
        let (name, is_given) = match option {
            Given::Line => ("--line", args.line.is_some()),
            Given::Player => ("--player", args.player.is_some()),
            Given::Start => ("--start", how.start.is_some()),
            Given::Speed => ("--speed", how.speed.is_some()),
            Given::Bars => ("--bars", how.excerpt.bars.is_some()),
            Given::Section => ("--section", how.excerpt.section.is_some()),
        };
        is_given.then_some(name)
    });
    match given {
        Some(name) => Err(Failure::input(format!(
            "{name} has no effect on this page: leave it out"
        ))),
        None => Ok(()),
    }
}

fn page_of_take(args: &ReportArgs, logbook: &Logbook, row: TakeRow) -> Result<Written, Failure> {
    let number = row.number;
    let judged = judged(args, logbook, row)?;
    let row = &judged.row;
    let head = Head {
        played: Some(long(&row.begun, row.begun_ms)),
        player: Some(row.player.clone()),
        number: Some(format!("take {number}")),
        note: (!row.note.is_empty()).then(|| row.note.clone()),
    };
    let asked = Asked {
        line: Some(&row.line),
        player: Some(&row.player),
        ..Asked::default()
    };
    // A take of a line that is told about nowhere else has no progress yet.
    let progress = told(&asked, logbook).ok();
    let more = progress
        .iter()
        .flat_map(|told| told.on_lines().first().and_then(section));
    let page = take_page(&TakePage {
        line: &judged.played.line,
        whole: &judged.whole,
        checked: &judged.checked(),
        head,
        more: more.collect(),
    });
    Ok(Written {
        page,
        name: PathBuf::from(format!("take-{number}.report.html")),
    })
}

/// A session.
pub fn session(args: &ReportArgs, number: i64) -> Result<Written, Failure> {
    refuse(
        args,
        &[
            Given::Player,
            Given::Start,
            Given::Bars,
            Given::Section,
            Given::Speed,
        ],
    )?;
    let logbook = open(args)?;
    let session = logbook
        .session(number)
        .map_err(|error| failed(&logbook, error))?;
    let filter = Filter {
        session: Some(number),
        ..Filter::default()
    };
    let rows = logbook.takes(&filter);
    let rows = rows.map_err(|error| failed(&logbook, error))?;
    let over = rows.into_iter().filter(|row| row.state != State::Playing);
    let takes = over.map(|row| judged(args, &logbook, row));
    let takes = takes.collect::<Result<Vec<_>, _>>()?;
    let first = takes
        .first()
        .map(|take| (take.row.begun.as_str(), take.row.begun_ms));
    let (begun, begun_ms) = first.unwrap_or(("", session.begun_ms));
    let page = session_page(&SessionPage {
        number,
        played: long(begun, begun_ms),
        player: &session.player,
        note: &session.note,
        takes: takes
            .iter()
            .map(|take| SessionTake {
                number: take.row.number,
                begun: when::begun(&take.row.begun, take.row.begun_ms)
                    .strftime("%H:%M")
                    .to_string(),
                checked: take.checked(),
                note: &take.row.note,
            })
            .collect(),
    });
    Ok(Written {
        page,
        name: PathBuf::from(format!("session-{number}.report.html")),
    })
}

/// The progress of a line.
pub fn line(args: &ReportArgs, named: &str) -> Result<Written, Failure> {
    refuse(args, &[Given::Start, Given::Section])?;
    let logbook = open(args)?;
    let asked = Asked {
        line: Some(named),
        player: args.player.as_deref(),
        speed: args.how.speed,
        bars: args.how.excerpt.bars,
    };
    let told = told(&asked, &logbook)?;
    let page = progress_page(&told.on_lines()[0], &told.today());
    let stem = Path::new(&told.lines()[0].file).file_stem();
    let stem = stem.map_or_else(|| "line".into(), |stem| stem.to_string_lossy().into_owned());
    Ok(Written {
        page,
        name: PathBuf::from(format!("{stem}.progress.html")),
    })
}

fn long(begun: &str, begun_ms: i64) -> String {
    let at = when::begun(begun, begun_ms);
    // The day stands on a page that is looked at on another day.
    when::long(&at, Timestamp::UNIX_EPOCH)
}
