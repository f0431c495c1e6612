//! `leadsman takes`: what is in the logbook of single takes.

mod bin;
mod export;
pub(super) mod list;
pub(super) mod note;
mod show;

use super::{Failure, Outcome};
use crate::cli::logbook::LogbookArgs;
use crate::cli::takes::{ListArgs, TakesArgs, TakesCommand};
use crate::logbook::takes::{State, TakeRow};
use crate::logbook::{Logbook, LogbookError};

/// Runs the command.
pub fn run(args: &TakesArgs) -> Outcome {
    let which = &args.logbook;
    let Some(command) = &args.command else {
        return list::run(&args.list, which);
    };
    if args.list != ListArgs::default() {
        return Err(misplaced());
    }
    match command {
        TakesCommand::List(args) => list::run(args, which),
        TakesCommand::Show(args) => show::run(args, open(which)?),
        TakesCommand::Note(args) => note::run(args, &open(which)?),
        TakesCommand::Export(args) => export::run(args, open(which)?),
        TakesCommand::Remove(args) => bin::remove(args, open(which)?),
        TakesCommand::Restore(args) => bin::restore(args, open(which)?),
        TakesCommand::Tidy(args) => bin::tidy(args, open(which)?),
    }
}

/// What is asked of the list stands after its name, or alone.
pub(super) fn misplaced() -> Failure {
    Failure::input("options but --logbook go after the name of what is to be done")
}

fn open(which: &LogbookArgs) -> Result<Logbook, Failure> {
    which.open_existing()
}

/// An error with the logbook's file named, and what would be right.
pub fn failed(logbook: &Logbook, error: LogbookError) -> Failure {
    let hint = match &error {
        LogbookError::NoSuchTake(_) => "; `leadsman takes` lists those that there are",
        LogbookError::NoSuchSession(_) => "; `leadsman sessions` lists those that there are",
        _ => "",
    };
    Failure::input(error.of(logbook.path()) + hint)
}

/// A take that is there and over, whichever way.
pub fn finished(logbook: &Logbook, number: i64) -> Result<TakeRow, Failure> {
    let take = logbook
        .take_row(number)
        .map_err(|error| failed(logbook, error))?;
    let file = logbook.path().display();
    match take.state {
        State::Over | State::BrokenOff => Ok(take),
        State::Playing => Err(Failure::input(format!(
            "logbook {file}: take {number} is still being played"
        ))),
        State::Removed => Err(Failure::input(format!(
            "logbook {file}: take {number} was removed; `leadsman takes restore {number}` brings it back"
        ))),
    }
}

/// `take 3`, `takes 3 and 4`, `takes 3, 4 and 5`.
fn named(takes: &[i64]) -> String {
    let numbers: Vec<String> = takes.iter().map(i64::to_string).collect();
    match numbers.as_slice() {
        [] => "no take".into(),
        [one] => format!("take {one}"),
        [first @ .., last] => format!("takes {} and {last}", first.join(", ")),
    }
}

/// The numbers without those that were given twice, in order.
fn each_once(takes: &[i64]) -> Vec<i64> {
    let mut takes = takes.to_vec();
    takes.sort_unstable();
    takes.dedup();
    takes
}
