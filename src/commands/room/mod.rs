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

use super::shared;
use super::{Failure, Outcome, fitting};
use crate::cli::ClickArgs;
use crate::line::Line;
use crate::practice::{Method, Part, Repeat, Setup, Start};
use crate::report::page::Printed;
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
        if let [first, .., last] = self.kept.as_slice() {
            let entry = self.last.as_ref().and_then(|take| take.kept.entry.as_ref());
            let which = match entry {
                Some((_, number)) if number != last => {
                    format!("take {number}, the last one heard,")
                }
                _ => "the last".into(),
            };
            writeln!(
                io::stdout(),
                "\nThat was {which} of {} takes; in the logbook they are takes {first} to {last}.",
                self.kept.len()
            )?;
        }
        self.failure.map_or(Ok(()), Err)
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
