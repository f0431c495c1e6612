//! `leadsman logbook`: what is in it, and takes from elsewhere.

use super::kept_take::complete;
use super::shared::{self, note};
use super::takes::failed;
use super::{Failure, Outcome};
use crate::cli::logbook::{AddArgs, LogbookCommand, LogbookCommandArgs, MergeArgs};
use crate::expected::unroll;
use crate::line::mistake::counted;
use crate::logbook::entry::NewTake;
use crate::logbook::merge::Merged;
use crate::logbook::takes::Filter;
use crate::logbook::{Logbook, VERSION};
use crate::midi::smf;
use crate::take::{Take, TakeHead};
use crate::units::Nanos;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Runs the command.
pub fn run(args: &LogbookCommandArgs) -> Outcome {
    match &args.command {
        None => describe(&args.which.open_existing()?),
        Some(LogbookCommand::Merge(merge_args)) if args.which.logbook.is_some() => {
            Err(Failure::input(format!(
                "name the logbook that takes come into first: leadsman logbook merge {} …, without --logbook",
                merge_args.into.display()
            )))
        }
        Some(LogbookCommand::Merge(merge_args)) => merge(merge_args),
        Some(LogbookCommand::Add(add_args)) => add(add_args, args.which.open()?),
    }
}

fn describe(logbook: &Logbook) -> Outcome {
    let failed = |error| failed(logbook, error);
    let all = Filter {
        with_removed: true,
        ..Filter::default()
    };
    let takes = logbook.count_takes(&Filter::default()).map_err(failed)?;
    let removed = logbook.count_takes(&all).map_err(failed)? - takes;
    let sessions = logbook.sessions().map_err(failed)?.len();
    let players = logbook.players().map_err(failed)?;
    let size = fs::metadata(logbook.path())?.len();
    let mut out = io::stdout().lock();
    writeln!(out, "{}", logbook.path().display())?;
    writeln!(
        out,
        "{} in {}, {:.1} MB, version {VERSION}",
        counted(takes, "take"),
        counted(sessions, "session"),
        size as f64 / 1e6
    )?;
    if !players.is_empty() {
        writeln!(out, "players: {}", players.join(", "))?;
    }
    if removed > 0 {
        writeln!(
            out,
            "{} removed: leadsman takes restore brings them back, leadsman takes tidy throws them away",
            counted(removed, "take")
        )?;
    }
    Ok(())
}

fn merge(args: &MergeArgs) -> Outcome {
    let mut into =
        Logbook::open(&args.into).map_err(|error| Failure::input(error.of(&args.into)))?;
    for from in &args.from {
        if is_same(from, &args.into) {
            return Err(Failure::input(format!(
                "{} is the logbook that takes come into",
                from.display()
            )));
        }
        let merged = into
            .merge(from, args.player.as_deref())
            .map_err(|error| Failure::input(error.of(&args.into)))?;
        writeln!(io::stdout(), "{}: {}", from.display(), merged_line(&merged))?;
    }
    Ok(())
}

fn is_same(one: &Path, other: &Path) -> bool {
    fs::canonicalize(one).is_ok_and(|one| fs::canonicalize(other).is_ok_and(|other| one == other))
}

fn merged_line(merged: &Merged) -> String {
    let mut line = format!("{} added", counted(merged.takes, "take"));
    if merged.known > 0 {
        line += &format!(", {} there already", merged.known);
    }
    if merged.thrown_away > 0 {
        line += &format!(
            ", {} thrown away here before and left out",
            merged.thrown_away
        );
    }
    line
}

/// A file that is to be added, with all that the logbook needs of it.
struct FromFile {
    path: PathBuf,
    bytes: Vec<u8>,
    head: TakeHead,
    line: crate::line::Line,
    source: String,
    length: Nanos,
}

/// All files are read before the first is added: one that is wrong leaves the logbook as it is.
fn add(args: &AddArgs, mut logbook: Logbook) -> Outcome {
    let path = logbook.path().to_path_buf();
    let failed = |error: crate::logbook::LogbookError| Failure::input(error.of(&path));
    let files = args
        .takes
        .iter()
        .map(|take| read(take, args.line.as_deref()));
    let files = files.collect::<Result<Vec<_>, _>>()?;
    let player = match &args.player {
        Some(player) => player.clone(),
        None => logbook.usual_player().map_err(failed)?,
    };
    let mut added = 0;
    for file in &files {
        let new = NewTake {
            player: &player,
            line: &file.line,
            source: &file.source,
            head: &file.head,
            length: file.length,
        };
        match logbook.add(&new, &file.bytes).map_err(failed)? {
            (_, true) => added += 1,
            (number, false) => note(format!("{} is take {number} already", file.path.display())),
        }
    }
    complete(&mut logbook)?;
    writeln!(
        io::stdout(),
        "{} added for {player}",
        counted(added, "take")
    )?;
    Ok(())
}

fn read(path: &Path, line: Option<&Path>) -> Result<FromFile, Failure> {
    let named = |why: &str| Failure::input(format!("{}: {why}", path.display()));
    let bytes = fs::read(path).map_err(|error| named(&error.to_string()))?;
    let take = Take::of(&smf::read(&bytes).map_err(|error| named(&error.to_string()))?);
    let not_ours =
        "it was not recorded by leadsman, and does not say where bar 1 is; leadsman check reads it";
    let head = take.head.ok_or_else(|| named(not_ours))?;
    let line_path = line.unwrap_or(Path::new(&head.line_file));
    let (line, source) = shared::read_line_and_source(line_path).map_err(|error| {
        error.with_hint(&format!(
            "{} was played to it: --line says where it is",
            path.display()
        ))
    })?;
    if line.title != head.line {
        return Err(named(&format!(
            "it is of \"{}\", and {} is \"{}\": --line says where its line is",
            head.line,
            line_path.display(),
            line.title
        )));
    }
    let end = unroll(&line, head.speed()).end;
    let played = take.events.last().map_or(Nanos::ZERO, |event| event.at);
    Ok(FromFile {
        path: path.to_path_buf(),
        length: (head.start() + end).max(played),
        bytes,
        head,
        line,
        source,
    })
}
