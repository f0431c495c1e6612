//! The clerk: tells what is to be shown at once, hands on what is to be kept, and does what is slow between takes.
//!
//! The clerk never waits for the disk while a take goes on: that is the scribe's. A take's end is told when the scribe has
//! brought all of it to the disk, and nothing of what comes after it before.

use super::scribe::Scribe;
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
use std::thread;
use std::time::Duration;

/// Items on their way to the clerk; at 20 notes a second these are minutes in which the clerk may wait.
pub const RING: usize = 16_384;
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
    /// To the disk.
    pub scribe: Scribe,
    /// To whoever shows it.
    pub say: Sender<Said>,
}

struct Clerk {
    desk: Desk,
    readings: Vec<Reading>,
    /// The time of the take's last event: a keeper cannot go back behind it.
    last: Nanos,
}

/// Works until the judging thread has ended.
pub fn run(desk: Desk) {
    let mut clerk = Clerk {
        desk,
        readings: Vec::new(),
        last: Nanos::ZERO,
    };
    loop {
        // Asked first: what was sent before the end is in the ring by then.
        let is_last_look = clerk.desk.items.is_abandoned();
        match clerk.desk.items.receive() {
            Some(item) => clerk.take(item),
            None if is_last_look => return clerk.desk.scribe.end(),
            None => {
                clerk.drop_used();
                thread::sleep(LOOK_EVERY);
            }
        }
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
            self.desk.scribe.begin(keepers);
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
        // Nobody listens any more when the program is being ended; the take is still to be finished.
        let _ = self.desk.say.send(said);
    }

    /// A control that sends without end must not fill the memory when nobody listens.
    fn tell_aside(&self, event: TimedMessage) {
        if self.desk.say.len() < MOST_WAITING {
            self.tell(Said::Event(event));
        }
    }

    fn note(&mut self, tag: &'static str, what: &impl serde::Serialize) {
        self.desk.scribe.note(self.last, tag, what);
    }

    fn write(&mut self, event: TimedMessage) {
        self.last = event.at;
        self.desk.scribe.write(event);
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
        let kept = self.desk.scribe.finish(at, END_TAG, end);
        let played = Played {
            judgement: ended.recording.finish(),
            end: ended.end,
        };
        self.tell(Said::Over(Box::new(Over { played, kept })));
    }
}
