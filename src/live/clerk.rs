//! The clerk: writes each take as it happens, tells what is to be shown, and does what is slow.

use super::{Ended, Over, Played, Said};
use crate::backend::Input;
use crate::backend::ring::RingReceiver;
use crate::click::Render;
use crate::clock::glitch::Glitch;
use crate::judge::Reading;
use crate::played::{PlayedNote, TimedMessage};
use crate::take::keeper::Keeper;
use crate::take::{END_TAG, GLITCH_TAG, START_TAG, StartedBy, TakeEnd, TakeStart};
use crate::units::Nanos;
use crossbeam_channel::{Receiver, Sender};
use std::io;
use std::thread;
use std::time::{Duration, Instant};

/// Items on their way to the clerk; at 20 notes a second this is minutes of a stalled disk.
pub const RING: usize = 16_384;
/// At most this much of a take is lost when the program is killed.
const FLUSH_EVERY: Duration = Duration::from_millis(100);
/// From so many things on that nobody has listened to, events that are kept nowhere are not said.
const MOST_WAITING: usize = 4096;
/// A note's mark is to be seen at once.
const LOOK_EVERY: Duration = Duration::from_millis(2);

/// What the judging thread passes on.
#[derive(Clone, Copy, Debug)]
pub enum Item {
    /// A take is begun; what keeps it comes by [`Handover::Begin`].
    Begin,
    /// Bar 1 beat 1 has its place in stream time, by this.
    Placed(Nanos, StartedBy),
    /// An event, in file time.
    Event(TimedMessage),
    /// Times were in doubt, in file time.
    Glitch(Glitch),
    /// A reading of the bar that is over next.
    Reading(Reading),
    /// The readings before this are those of this bar.
    BarOver(usize),
    /// A note was struck just now, and what it is taken for.
    Note(PlayedNote, Option<Reading>),
    /// A reading that was told is another by now.
    Corrected(Reading),
    /// An event that is to be heard but belongs to no take, or is no note; in stream time.
    Aside(TimedMessage),
    /// The MIDI input has gone or is back, at this line time; between takes, stream time.
    Input(Input, Nanos),
    /// Whether the judging thread has real-time priority.
    Priority(bool),
    /// The take is over, at this file time; its judge comes by [`Handover::Over`].
    End(Nanos, TakeEnd),
    /// The session is lost; why comes by [`Handover::Lost`].
    Lost,
}

/// What the judging thread hands over whole, once for each item that says so.
pub enum Handover {
    /// Where the take is to be kept.
    Begin(Vec<Box<dyn Keeper>>),
    /// What is to be finished.
    Over(Box<Ended>),
    /// Why the session is lost.
    Lost(String),
}

/// What the clerk works with.
pub struct Desk {
    /// From the judging thread.
    pub items: RingReceiver<Item>,
    /// From the judging thread too.
    pub handover: Receiver<Handover>,
    /// What the audio callback does not need any more.
    pub used: Option<RingReceiver<Box<dyn Render>>>,
    /// To whoever shows it.
    pub say: Sender<Said>,
}

struct Clerk {
    desk: Desk,
    kept: Vec<Kept>,
    readings: Vec<Reading>,
    flushed: Instant,
    /// The time of the take's last event: a keeper cannot go back behind it.
    last: Nanos,
}

/// One place where the take is kept.
struct Kept {
    keeper: Box<dyn Keeper>,
    /// Whether the last attempt to write failed.
    is_in_trouble: bool,
}

/// Works until the judging thread has ended.
pub fn run(desk: Desk) {
    let mut clerk = Clerk {
        desk,
        kept: Vec::new(),
        readings: Vec::new(),
        flushed: Instant::now(),
        last: Nanos::ZERO,
    };
    loop {
        // Asked first: what was sent before the end is in the ring by then.
        let is_last_look = clerk.desk.items.is_abandoned();
        match clerk.desk.items.receive() {
            Some(item) => clerk.take(item),
            None if is_last_look => return,
            None => {
                clerk.drop_used();
                thread::sleep(LOOK_EVERY);
            }
        }
        clerk.flush_in_time();
    }
}

impl Clerk {
    fn take(&mut self, item: Item) {
        match item {
            Item::Begin => self.begin(),
            Item::Placed(origin, by) => self.place(origin, by),
            Item::Event(event) => self.write(event),
            Item::Glitch(glitch) => self.note(GLITCH_TAG, &glitch),
            Item::Reading(reading) => self.readings.push(reading),
            Item::BarOver(bar) => self.call(bar),
            Item::Note(played, reading) => self.tell(Said::Note(played, reading)),
            Item::Corrected(reading) => self.tell(Said::Corrected(reading)),
            Item::Aside(event) => self.tell_aside(event),
            Item::Input(input, at) => self.tell(Said::Input(input, at)),
            Item::Priority(raised) if !raised => self.tell(Said::OrdinaryPriority),
            Item::Priority(_) => {}
            Item::End(at, end) => self.finish(at, &end),
            Item::Lost => {
                if let Ok(Handover::Lost(why)) = self.desk.handover.recv() {
                    self.tell(Said::Lost(why));
                }
            }
        }
    }

    fn begin(&mut self) {
        if let Ok(Handover::Begin(keepers)) = self.desk.handover.recv() {
            let kept = |keeper| Kept {
                keeper,
                is_in_trouble: false,
            };
            self.kept = keepers.into_iter().map(kept).collect();
            self.last = Nanos::ZERO;
        }
    }

    fn place(&mut self, origin: Nanos, by: StartedBy) {
        if by != StartedBy::Click {
            self.note(START_TAG, &TakeStart { by });
        }
        self.tell(Said::Begun(origin));
    }

    fn call(&mut self, bar: usize) {
        let readings = std::mem::take(&mut self.readings);
        self.tell(Said::Bar(bar, readings));
    }

    fn tell(&self, said: Said) {
        // Nobody listens any more when the program is being ended; the file is still to be finished.
        let _ = self.desk.say.send(said);
    }

    /// A control that sends without end must not fill the memory when nobody listens.
    fn tell_aside(&self, event: TimedMessage) {
        if self.desk.say.len() < MOST_WAITING {
            self.tell(Said::Event(event));
        }
    }

    /// Written at once, so that a take that is killed has it too.
    fn note(&mut self, tag: &str, what: &impl serde::Serialize) {
        let json = serde_json::to_string(what).unwrap_or_default();
        for kept in &mut self.kept {
            // Only a text of 268 MB is refused.
            let _ = kept.keeper.push_text(self.last, tag, &json);
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

    /// Sounds end here, on an ordinary thread.
    fn drop_used(&mut self) {
        if let Some(used) = &mut self.desk.used {
            while used.receive().is_some() {}
        }
    }

    fn finish(&mut self, at: Nanos, end: &TakeEnd) {
        let Ok(Handover::Over(ended)) = self.desk.handover.recv() else {
            return;
        };
        self.readings.clear();
        let kept = self.close(at, end);
        let played = Played {
            judgement: ended.recording.finish(),
            end: ended.end,
        };
        self.tell(Said::Over(Box::new(Over { played, kept })));
    }

    fn close(&mut self, at: Nanos, end: &TakeEnd) -> Result<(), String> {
        let json = serde_json::to_string(end).unwrap_or_default();
        let finish = |mut keeper: Box<dyn Keeper>| {
            keeper.push_text(at, END_TAG, &json)?;
            keeper.finish()
        };
        // Each is brought to its end, whatever becomes of the others.
        let failed: Vec<String> = self
            .kept
            .drain(..)
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
