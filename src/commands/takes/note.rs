//! `leadsman takes note`, and what `leadsman sessions note` has in common with it.

use super::super::{Failure, Outcome};
use super::failed;
use crate::cli::takes::NoteArgs;
use crate::logbook::Logbook;
use std::io::{self, Write};

/// Runs the command.
pub fn run(args: &NoteArgs, logbook: &Logbook) -> Outcome {
    let take = logbook.take_row(args.number);
    let take = take.map_err(|error| failed(logbook, error))?;
    match asked(args)? {
        Asked::Read => read_out(&format!("take {}", args.number), &take.note),
        Asked::Write(note) => logbook
            .note_take(args.number, &note)
            .map_err(|error| failed(logbook, error)),
    }
}

/// What is to be done with a note.
pub enum Asked {
    /// It is read out.
    Read,
    /// This is written; nothing takes it away.
    Write(String),
}

/// What the arguments ask for.
pub fn asked(args: &NoteArgs) -> Result<Asked, Failure> {
    if args.remove {
        return Ok(Asked::Write(String::new()));
    }
    if args.text.is_empty() {
        return Ok(Asked::Read);
    }
    let text = args.text.join(" ").trim().to_string();
    if text.is_empty() {
        return Err(Failure::input("the note is empty: --remove takes it away"));
    }
    Ok(Asked::Write(text))
}

/// Reads a note out.
pub fn read_out(of: &str, note: &str) -> Outcome {
    let said = match note {
        "" => format!("There is no note about {of}."),
        note => note.to_string(),
    };
    Ok(writeln!(io::stdout(), "{said}")?)
}
