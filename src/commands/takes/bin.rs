//! `leadsman takes remove`, `restore` and `tidy`.

use super::super::{Failure, Outcome, shared};
use super::list::added_up;
use super::{each_once, failed, named};
use crate::cli::takes::{RemoveArgs, RestoreArgs, TidyArgs};
use crate::line::mistake::counted;
use crate::logbook::Logbook;
use crate::logbook::takes::{Filter, State, TakeRow};
use crate::report::takes_list::rows;
use crate::report::when;
use jiff::Timestamp;
use std::io::{self, IsTerminal, Write};

/// Removes takes; they can be brought back.
pub fn remove(args: &RemoveArgs, mut logbook: Logbook) -> Outcome {
    let numbers = each_once(&args.takes);
    let takes = numbers
        .iter()
        .map(|number| super::finished(&logbook, *number));
    let takes = takes.collect::<Result<Vec<_>, _>>()?;
    let question = format!("Remove {}?", named(&numbers));
    if !args.yes && !is_agreed(&logbook, takes, &question)? {
        return Ok(writeln!(io::stdout(), "Nothing was removed.")?);
    }
    logbook
        .remove(&numbers)
        .map_err(|error| failed(&logbook, error))?;
    let list: Vec<String> = numbers.iter().map(i64::to_string).collect();
    Ok(writeln!(
        io::stdout(),
        "Removed: {}. `leadsman takes restore {}` brings back what was removed.",
        named(&numbers),
        list.join(" ")
    )?)
}

/// Brings takes back.
pub fn restore(args: &RestoreArgs, mut logbook: Logbook) -> Outcome {
    let numbers = each_once(&args.takes);
    for number in &numbers {
        let take = logbook.take_row(*number);
        let take = take.map_err(|error| failed(&logbook, error))?;
        if take.state != State::Removed {
            return Err(Failure::input(format!(
                "logbook {}: take {number} was not removed; `leadsman takes --removed` lists those that were",
                logbook.path().display()
            )));
        }
    }
    logbook
        .restore(&numbers)
        .map_err(|error| failed(&logbook, error))?;
    Ok(writeln!(io::stdout(), "Back again: {}.", named(&numbers))?)
}

/// Throws removed takes away.
pub fn tidy(args: &TidyArgs, mut logbook: Logbook) -> Outcome {
    let removed = Filter {
        only_removed: true,
        ..Filter::default()
    };
    let takes = logbook.takes(&removed);
    let takes = takes.map_err(|error| failed(&logbook, error))?;
    if takes.is_empty() {
        return Ok(writeln!(
            io::stdout(),
            "No take was removed: there is nothing to tidy."
        )?);
    }
    let question = format!(
        "Throw {} away for good?",
        counted(takes.len(), "removed take")
    );
    if !args.yes && !is_agreed(&logbook, takes, &question)? {
        return Ok(writeln!(io::stdout(), "Nothing was thrown away.")?);
    }
    let before = size(&logbook)?;
    let gone = logbook.tidy().map_err(|error| failed(&logbook, error))?;
    let room = before.saturating_sub(size(&logbook)?);
    Ok(writeln!(
        io::stdout(),
        "{} thrown away, {} came back.",
        counted(gone, "take"),
        bytes(room)
    )?)
}

fn size(logbook: &Logbook) -> Result<u64, Failure> {
    logbook.size().map_err(|error| failed(logbook, error))
}

/// `512 kB`, `1.2 MB`.
fn bytes(bytes: u64) -> String {
    match bytes {
        0..1_000_000 => format!("{} kB", bytes / 1000),
        more => format!("{:.1} MB", more as f64 / 1e6),
    }
}

/// Shows what would go, and asks. Anything but yes is no.
fn is_agreed(logbook: &Logbook, takes: Vec<TakeRow>, question: &str) -> Result<bool, Failure> {
    if !io::stdin().is_terminal() {
        return Err(Failure::input(
            "there is no terminal to ask on: --yes does it without asking",
        ));
    }
    let takes = added_up(logbook, takes)?;
    let shown = rows(&takes, (when::short, Timestamp::now()), shared::width());
    let mut err = io::stderr();
    write!(err, "{shown}{question} [y/N] ")?;
    err.flush()?;
    let mut answer = String::new();
    io::stdin().read_line(&mut answer)?;
    Ok(matches!(answer.trim().to_lowercase().as_str(), "y" | "yes"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn room_is_said_in_the_unit_that_it_is_large_in() {
        assert_eq!(bytes(0), "0 kB");
        assert_eq!(bytes(512_900), "512 kB");
        assert_eq!(bytes(1_234_567), "1.2 MB");
    }
}
