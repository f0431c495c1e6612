//! The clerk: writes the take as it happens and tells what is to be printed.

use super::Said;
use crate::backend::Input;
use crate::backend::ring::RingReceiver;
use crate::clock::glitch::Glitch;
use crate::judge::Reading;
use crate::played::TimedMessage;
use crate::take::keeper::Keeper;
use crate::take::{END_TAG, GLITCH_TAG, TakeEnd};
use crate::units::Nanos;
use crossbeam_channel::Sender;
use std::io;
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
    kept: Vec<Kept>,
    readings: Vec<Reading>,
    say: &'a Sender<Said>,
    flushed: Instant,
    /// The time of the last event: a keeper cannot go back behind it.
    last: Nanos,
}

/// One place where the take is kept.
struct Kept {
    keeper: Box<dyn Keeper>,
    /// Whether the last attempt to write failed.
    is_in_trouble: bool,
}

/// Works until the take is over; says whether it was kept whole everywhere.
pub fn run(
    mut items: RingReceiver<Item>,
    keepers: Vec<Box<dyn Keeper>>,
    say: &Sender<Said>,
) -> Result<(), String> {
    let kept = keepers.into_iter().map(|keeper| Kept {
        keeper,
        is_in_trouble: false,
    });
    let mut clerk = Clerk {
        kept: kept.collect(),
        readings: Vec::new(),
        say,
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
        for kept in &mut self.kept {
            // Only a text of 268 MB is refused.
            let _ = kept.keeper.push_text(self.last, GLITCH_TAG, &json);
        }
    }

    fn write(&mut self, event: TimedMessage) {
        self.last = event.at;
        for kept in &mut self.kept {
            kept.keeper.push(event);
        }
    }

    fn flush_in_time(&mut self) {
        if self.flushed.elapsed() < FLUSH_EVERY {
            return;
        }
        self.flushed = Instant::now();
        let new_trouble: Vec<io::Error> = self.kept.iter_mut().filter_map(Kept::flush).collect();
        for error in new_trouble {
            self.tell(Said::CannotWrite(error.to_string()));
        }
    }

    fn finish(self, at: Nanos, end: &TakeEnd) -> Result<(), String> {
        let json = serde_json::to_string(end).unwrap_or_default();
        let finish = |mut keeper: Box<dyn Keeper>| {
            keeper.push_text(at, END_TAG, &json)?;
            keeper.finish()
        };
        // Each is brought to its end, whatever becomes of the others.
        let failed: Vec<String> = self
            .kept
            .into_iter()
            .filter_map(|kept| finish(kept.keeper).err())
            .map(|error| error.to_string())
            .collect();
        if failed.is_empty() {
            Ok(())
        } else {
            Err(failed.join("; "))
        }
    }
}

impl Kept {
    /// Brings it to the disk; what is new in going wrong is told.
    fn flush(&mut self) -> Option<io::Error> {
        let error = self.keeper.flush().err();
        let was_in_trouble = std::mem::replace(&mut self.is_in_trouble, error.is_some());
        error.filter(|_| !was_in_trouble)
    }
}
