//! A practice room: take after take in one session that stays open, on the screen or in plain lines.
//!
//! ```text
//! MIDI, sound ─ door ─► Room ─ Said ─┐
//! keys, switches, two notes ─────────┼─► practising ─► Plan ─► sheet: the next take
//!                                    └─► a face: what the player sees and asks for
//! ```

mod door;
mod face;
mod hands;
mod on_screen;
mod over;
mod plain;
mod practising;
mod sheet;

pub use door::Door;
pub use face::{Face, Mute};
pub use hands::Hands;
pub use on_screen::OnScreen;
pub use plain::Plain;
pub use practising::{Furnished, KeepTake, Left, Practising};
pub use sheet::{About, LEAD, Sheet};

use super::keeping::Kept;
use super::shared;
use super::{Failure, Outcome, fitting};
use crate::cli::ClickArgs;
use crate::line::Line;
use crate::practice::{Method, Part, Repeat, Setup, Start};
use crate::report::page::Printed;
use crate::report::words;
use std::io::{self, Write};

impl Left {
    /// Prints the report of the last take, says where all of them are kept, and how it ended.
    pub fn print(self, printed: Printed) -> Outcome {
        if let Some(take) = &self.last {
            if printed != Printed::Json {
                writeln!(io::stdout())?;
            }
            shared::print(&take.checked(), printed)?;
            let (expected, judgement, settings) = take.judged();
            fitting::say_octave(expected, judgement, settings);
        }
        if let Some(places) = self.places() {
            writeln!(
                io::stdout(),
                "\n{}",
                words::wrap(&places, shared::width(), "", "")
            )?;
        }
        self.failure.map_or(Ok(()), Err)
    }

    /// Where the takes are kept, where that was not said of each.
    fn places(&self) -> Option<String> {
        let (first, last) = (self.kept.first()?, self.kept.last()?);
        if self.kept.len() == 1 {
            return (!self.is_said).then(|| last.lines().collect::<Vec<_>>().join(" "));
        }
        let number = |kept: &Kept| kept.entry.as_ref().map(|(_, number)| *number);
        let of_report = self.last.as_ref().and_then(|take| number(&take.kept));
        let which = match of_report {
            Some(take) if of_report != number(last) => format!("take {take}, the last one heard,"),
            _ => "the last".into(),
        };
        let mut said = format!("That was {which} of {} takes", self.kept.len());
        if let (Some(first), Some(last)) = (number(first), number(last)) {
            said += &format!("; in the logbook they are takes {first} to {last}");
        }
        if let (Some(first), Some(last)) = (&first.file, &last.file) {
            said += &format!(
                "; their files are {} to {}",
                first.display(),
                last.display()
            );
        }
        Some(said + ".")
    }
}

/// One take of what is asked for, at one speed.
pub fn once(to: &ClickArgs, line: &Line) -> Result<Setup, Failure> {
    let excerpt = &to.excerpt;
    let part = match (&excerpt.section, excerpt.bars_of(line, None)?) {
        (Some(name), _) if excerpt.bars.is_none() => {
            Part::section(line, name).map_err(Failure::input)?
        }
        (_, Some(bars)) => Part::Bars(bars),
        (_, None) => Part::Whole,
    };
    Ok(Setup {
        part,
        method: Method::Steady(to.speed),
        click: to.click.into(),
        silent: to.silent,
        start: Start::CountedIn(to.count_in),
        repeat: Repeat::Once,
        ..Setup::default()
    })
}
