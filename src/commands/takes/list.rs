//! `leadsman takes list`.

use super::super::kept_take::{complete, of_line};
use super::super::{Failure, Outcome, shared};
use super::failed;
use crate::cli::logbook::LogbookArgs;
use crate::cli::takes::ListArgs;
use crate::line::mistake::counted;
use crate::logbook::sums::Adder;
use crate::logbook::takes::{Filter, TakeRow};
use crate::logbook::{Logbook, LogbookError};
use crate::report::takes_json::write_takes;
use crate::report::takes_list::{Listed, list};
use crate::report::words::wrap;
use jiff::Timestamp;
use std::io::{self, Write};
use std::path::Path;

/// What is said where there is no take at all.
pub const NOTHING_YET: &str =
    "No take is kept yet: `leadsman play LINE` plays one and enters it in the logbook.";

/// Runs the command.
pub fn run(args: &ListArgs, which: &LogbookArgs) -> Outcome {
    let Some(mut logbook) = open_for_list(which)? else {
        return print(args, &which.path()?, &[], 0);
    };
    complete_or_say(&mut logbook);
    let filter = filter(args, &logbook)?;
    let total = logbook
        .count_takes(&filter)
        .map_err(|error| failed(&logbook, error))?;
    let takes = logbook
        .takes(&filter)
        .map_err(|error| failed(&logbook, error))?;
    let takes = added_up(&logbook, takes)?;
    if takes.is_empty() && !args.json {
        return say_none(args, &logbook);
    }
    print(args, logbook.path(), &takes, total)
}

/// The logbook; none where the user's own has not begun. One that is named has to be there.
pub fn open_for_list(which: &LogbookArgs) -> Result<Option<Logbook>, Failure> {
    if which.logbook.is_none() && !which.path()?.exists() {
        return Ok(None);
    }
    which.open_existing().map(Some)
}

/// Judges what was never judged. A logbook that cannot be written to can still be read.
pub fn complete_or_say(logbook: &mut Logbook) {
    if let Err(why) = complete(logbook) {
        shared::note(format!(
            "takes that were not judged are left so: {}",
            why.into_text()
        ));
    }
}

/// The takes with what they came to.
pub fn added_up(logbook: &Logbook, takes: Vec<TakeRow>) -> Result<Vec<Listed>, Failure> {
    let mut adder = Adder::new(logbook);
    let listed = takes.into_iter().map(|take| {
        let sums = adder.of(&take)?;
        Ok(Listed { take, sums })
    });
    let listed: Result<_, LogbookError> = listed.collect();
    listed.map_err(|error| failed(logbook, error))
}

fn filter(args: &ListArgs, logbook: &Logbook) -> Result<Filter, Failure> {
    let of_line = match &args.line {
        Some(line) => of_line(logbook, line)?,
        None => Filter::default(),
    };
    if let Some(player) = &args.player {
        is_known(player, logbook)?;
    }
    if let (Some(session), false) = (args.session, args.removed) {
        logbook
            .session(session)
            .map_err(|error| failed(logbook, error))?;
    }
    Ok(Filter {
        player: args.player.clone(),
        session: args.session,
        only_removed: args.removed,
        latest: args.limit(),
        ..of_line
    })
}

/// Whether there is such a player.
pub fn is_known(player: &str, logbook: &Logbook) -> Outcome {
    let players = logbook.players().map_err(|error| failed(logbook, error))?;
    if players.is_empty() || players.iter().any(|name| name == player) {
        return Ok(());
    }
    Err(Failure::input(format!(
        "logbook {}: there is no player \"{player}\"; there are takes of {}",
        logbook.path().display(),
        players.join(", ")
    )))
}

fn print(args: &ListArgs, logbook: &Path, takes: &[Listed], total: usize) -> Outcome {
    let mut out = io::BufWriter::new(io::stdout().lock());
    if args.json {
        write_takes(logbook, takes, total, &mut out)?;
    } else if takes.is_empty() {
        writeln!(out, "{NOTHING_YET}")?;
    } else {
        out.write_all(list(takes, total, Timestamp::now(), shared::width()).as_bytes())?;
    }
    Ok(out.flush()?)
}

fn say_none(args: &ListArgs, logbook: &Logbook) -> Outcome {
    let all = logbook.count_takes(&Filter::default());
    let all = all.map_err(|error| failed(logbook, error))?;
    let said = match (args.removed, all) {
        (true, _) => "No such take was removed.".to_string(),
        (false, 0) => NOTHING_YET.to_string(),
        (false, all) => {
            let none = format!("None of {} is so.", counted(all, "take"));
            none + &of_older_line(args, logbook)?
        }
    };
    let said = wrap(&said, shared::width(), "", "");
    Ok(writeln!(io::stdout(), "{said}")?)
}

/// A line's file may have changed since it was played: its takes are then found by its title.
fn of_older_line(args: &ListArgs, logbook: &Logbook) -> Result<String, Failure> {
    let file = args.line.as_deref().map(Path::new);
    let Some(file) = file.filter(|file| file.exists()) else {
        return Ok(String::new());
    };
    let title = shared::read_line(file)?.title;
    let of_title = Filter {
        title: Some(title.clone()),
        ..Filter::default()
    };
    let older = logbook.count_takes(&of_title);
    let older = older.map_err(|error| failed(logbook, error))?;
    if older == 0 {
        return Ok(String::new());
    }
    Ok(format!(
        " {} has changed since it was played last: --line \"{title}\" lists the takes of this title.",
        file.display()
    ))
}
