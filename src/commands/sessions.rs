//! `leadsman sessions`.

use super::takes::list::{NOTHING_YET, added_up, complete_or_say, is_known, open_for_list};
use super::takes::note::{Asked, asked, read_out};
use super::takes::{failed, misplaced};
use super::{Failure, Outcome, shared};
use crate::cli::logbook::LogbookArgs;
use crate::cli::takes::{
    NoteArgs, SessionListArgs, SessionShowArgs, SessionsArgs, SessionsCommand,
};
use crate::logbook::Logbook;
use crate::logbook::sessions::Session;
use crate::logbook::takes::Filter;
use crate::report::takes_change::{changes, told};
use crate::report::takes_json::{write_session, write_sessions};
use crate::report::{sessions_list, takes_list, when};
use jiff::Timestamp;
use std::io::{self, Write};
use std::path::Path;

/// Runs the command.
pub fn run(args: &SessionsArgs) -> Outcome {
    let which = &args.logbook;
    let Some(command) = &args.command else {
        return list(&args.list, which);
    };
    if args.list != SessionListArgs::default() {
        return Err(misplaced());
    }
    match command {
        SessionsCommand::List(args) => list(args, which),
        SessionsCommand::Show(args) => show(args, which.open_existing()?),
        SessionsCommand::Note(args) => note(args, &which.open_existing()?),
    }
}

fn list(args: &SessionListArgs, which: &LogbookArgs) -> Outcome {
    let Some(logbook) = open_for_list(which)? else {
        return print(args, &which.path()?, &[], 0);
    };
    if let Some(player) = &args.player {
        is_known(player, &logbook)?;
    }
    let sessions = logbook.sessions();
    let mut sessions = sessions.map_err(|error| failed(&logbook, error))?;
    if let Some(player) = &args.player {
        sessions.retain(|session| session.player == *player);
    }
    let total = sessions.len();
    let limit = args.limit().unwrap_or(total);
    sessions.drain(..total.saturating_sub(limit));
    print(args, logbook.path(), &sessions, total)
}

fn print(args: &SessionListArgs, logbook: &Path, sessions: &[Session], total: usize) -> Outcome {
    let mut out = io::BufWriter::new(io::stdout().lock());
    if args.json {
        write_sessions(logbook, sessions, total, &mut out)?;
    } else if sessions.is_empty() {
        writeln!(out, "{NOTHING_YET}")?;
    } else {
        let list = sessions_list::list(sessions, total, Timestamp::now(), shared::width());
        out.write_all(list.as_bytes())?;
    }
    Ok(out.flush()?)
}

fn show(args: &SessionShowArgs, mut logbook: Logbook) -> Outcome {
    complete_or_say(&mut logbook);
    let session = session(&logbook, args.session)?;
    let filter = Filter {
        session: Some(args.session),
        ..Filter::default()
    };
    let takes = logbook
        .takes(&filter)
        .map_err(|error| failed(&logbook, error))?;
    let takes = added_up(&logbook, takes)?;
    let changes = changes(&takes);
    let mut out = io::BufWriter::new(io::stdout().lock());
    if args.json {
        write_session(logbook.path(), &session, &takes, &changes, &mut out)?;
    } else {
        let (now, width) = (Timestamp::now(), shared::width());
        writeln!(out, "{}", sessions_list::head(&session, now, width))?;
        let rows = takes_list::rows(&takes, (when::time, now), width);
        writeln!(out, "{rows}")?;
        write!(out, "{}", told(&changes, width))?;
    }
    Ok(out.flush()?)
}

fn note(args: &NoteArgs, logbook: &Logbook) -> Outcome {
    let session = session(logbook, args.number)?;
    match asked(args)? {
        Asked::Read => read_out(&format!("session {}", args.number), &session.note),
        Asked::Write(note) => logbook
            .note_session(args.number, &note)
            .map_err(|error| failed(logbook, error)),
    }
}

fn session(logbook: &Logbook, number: i64) -> Result<Session, Failure> {
    let session = logbook.session(number);
    session.map_err(|error| failed(logbook, error))
}
