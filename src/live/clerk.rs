//! The clerk: writes the take as it happens and tells what is to be printed.

use super::Said;
use crate::backend::Input;
use crate::backend::ring::RingReceiver;
use crate::clock::glitch::Glitch;
use crate::judge::Reading;
use crate::midi::take_writer::TakeWriter;
use crate::played::TimedMessage;
use crate::take::{END_TAG, GLITCH_TAG, TakeEnd};
use crate::units::Nanos;
use crossbeam_channel::Sender;
use std::thread;
use std::time::{Duration, Instant};

/// Items on their way to the clerk; at 20 notes a second this is minutes of a stalled disk.
pub const RING: usize = 16_384;
/// At most this much of a take is lost when the program is killed.
const FLUSH_EVERY: Duration = Duration::from_millis(100);
const LOOK_EVERY: Duration = Duration::from_millis(5);

/// What the judging thread passes on.
#[derive(Clone, Copy, Debug)]
pub enum Item {
    /// An event, in file time.
    Event(TimedMessage),
    /// Times were in doubt, in file time.
    Glitch(Glitch),
    /// A reading of the bar that is over next.
    Reading(Reading),
    /// The readings before this are those of this bar.
    BarOver(usize),
    /// The MIDI input has gone or is back, at this line time.
    Input(Input, Nanos),
    /// Whether the judging thread has real-time priority.
    Priority(bool),
    /// The take is over, at this file time.
    End(Nanos, TakeEnd),
}

struct Clerk<'a> {
    writer: Option<TakeWriter>,
    readings: Vec<Reading>,
    say: &'a Sender<Said>,
    trouble: Option<String>,
    flushed: Instant,
    /// The time of the last event: the file cannot go back behind it.
    last: Nanos,
}

/// Works until the take is over; says whether the file was kept whole.
pub fn run(
    mut items: RingReceiver<Item>,
    writer: Option<TakeWriter>,
    say: &Sender<Said>,
) -> Result<(), String> {
    let mut clerk = Clerk {
        writer,
        readings: Vec::new(),
        say,
        trouble: None,
        flushed: Instant::now(),
        last: Nanos::ZERO,
    };
    loop {
        match items.receive() {
            Some(Item::Event(event)) => clerk.write(event),
            Some(Item::Glitch(glitch)) => clerk.note(&glitch),
            Some(Item::Reading(reading)) => clerk.readings.push(reading),
            Some(Item::BarOver(bar)) => clerk.call(bar),
            Some(Item::Input(input, at)) => clerk.tell(Said::Input(input, at)),
            Some(Item::Priority(raised)) if !raised => clerk.tell(Said::OrdinaryPriority),
            Some(Item::Priority(_)) => {}
            Some(Item::End(at, end)) => return clerk.finish(at, &end),
            None => thread::sleep(LOOK_EVERY),
        }
        clerk.flush_in_time();
    }
}

impl Clerk<'_> {
    fn call(&mut self, bar: usize) {
        let readings = std::mem::take(&mut self.readings);
        self.tell(Said::Bar(bar, readings));
    }

    fn tell(&self, said: Said) {
        // Nobody listens any more when the take is being ended; the file is still to be finished.
        let _ = self.say.send(said);
    }

    /// Written at once, so that a take that is killed has it too.
    fn note(&mut self, glitch: &Glitch) {
        let json = serde_json::to_string(glitch).unwrap_or_default();
        if let Some(writer) = &mut self.writer {
            // Only a text of 268 MB is refused.
            let _ = writer.push_text(self.last, GLITCH_TAG, &json);
        }
    }

    fn write(&mut self, event: TimedMessage) {
        self.last = event.at;
        if let Some(writer) = &mut self.writer {
            writer.push(event);
        }
    }

    fn flush_in_time(&mut self) {
        if self.flushed.elapsed() < FLUSH_EVERY {
            return;
        }
        self.flushed = Instant::now();
        let flushed = self.writer.as_mut().map_or(Ok(()), TakeWriter::flush);
        match flushed {
            Ok(()) => self.trouble = None,
            Err(error) if self.trouble.is_none() => {
                self.trouble = Some(error.to_string());
                self.tell(Said::CannotWrite(error.to_string()));
            }
            Err(_) => {}
        }
    }

    fn finish(self, at: Nanos, end: &TakeEnd) -> Result<(), String> {
        let Some(mut writer) = self.writer else {
            return Ok(());
        };
        let json = serde_json::to_string(end).unwrap_or_default();
        writer
            .push_text(at, END_TAG, &json)
            .map_err(|error| error.to_string())?;
        writer.finish().map_err(|error| error.to_string())
    }
}
