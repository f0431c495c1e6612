//! A take while it is played: the threads between the callbacks and the page.
//!
//! ```text
//! MIDI callback ─ring─┐
//!                     ├─► judging thread ─ring─► clerk thread ─channel─► the caller's thread
//! audio callback ─────┘   judges                 tells │                 shows
//!                                                   channel─► scribe thread
//!                                                             brings the take to the disk
//! ```
//!
//! The judging thread never allocates per event, waits for the disk or prints; the clerk may allocate, and waits for the
//! disk at the end of a take alone, so that a note is told whatever the disk does. A [`Room`] keeps one session
//! open over many takes, whose sounds follow each other in the audio callback; [`start`] plays one take in a session
//! that is opened for it. Both are the same threads.

mod clerk;
mod fader;
mod judging;
mod output;
mod position;
pub mod priority;
pub mod room;
mod scribe;
mod switch;
mod taking;
mod threads;
mod told;

pub use fader::Fader;
pub use position::Position;
pub use room::{Room, RoomClosed, TakeSetup};
pub use switch::{Sound, Switch, switch};

use crate::backend::{Counters, Input, Session};
use crate::judge::{Judgement, Reading};
use crate::played::{PlayedNote, TimedMessage};
use crate::take::keeper::Keeper;
use crate::take::recording::Recording;
use crate::units::Nanos;
use crossbeam_channel::bounded;
use judging::Command;
use std::cell::OnceCell;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use taking::{Ended, Taking};
use threads::{COMMANDS, Threads};

/// The least silence before the first click of a take in a room: a player who is early is heard.
pub const LEAST_LEAD: Nanos = Nanos::from_ms(100);

/// How the session's time passes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pace {
    /// By a clock: the judging thread looks about every millisecond, and a full ring loses.
    RealTime,
    /// By being looked at: as fast as the machine goes, and a full ring waits.
    Virtual,
}

/// What there is to say.
#[derive(Clone, Debug, PartialEq)]
pub enum Said {
    /// A take's bar 1 beat 1 has its place: here in stream time. What was said before belongs to no take.
    Begun(Nanos),
    /// A note was struck just now, and what it is taken for as things stand; none, if it has no place in the line.
    Note(PlayedNote, Option<Reading>),
    /// A note's reading is another than was said, or it has one now. Without a partner: it was taken for that in error.
    Corrected(Reading),
    /// A bar is over: index into [`Expected::bars`](crate::expected::Expected::bars), and the readings of its notes as they
    /// stand.
    Bar(usize, Vec<Reading>),
    /// What came from the player and is kept nowhere, in stream time: everything between takes and before the first note
    /// of one that waits for it; in a take (which has it too) control changes and program changes.
    Event(TimedMessage),
    /// The take's file cannot be written; playing goes on.
    CannotWrite(String),
    /// The MIDI input has gone or is back, at this line time; between takes, stream time.
    Input(Input, Nanos),
    /// The system did not give the judging thread real-time priority.
    OrdinaryPriority,
    /// The take is over.
    Over(Box<Over>),
    /// The session is lost, in words: the room is closed.
    Lost(String),
}

/// A take that is over, and what became of it where it is kept.
#[derive(Clone, Debug, PartialEq)]
pub struct Over {
    /// The take.
    pub played: Played,
    /// Whether it was kept whole everywhere.
    pub kept: Result<(), String>,
}

/// Asks a take to end, and its session.
#[derive(Clone, Debug, Default)]
pub struct Stop(Arc<AtomicBool>);

impl Stop {
    /// Ends the take; may be called from a signal handler's thread.
    pub fn now(&self) {
        self.0.store(true, Ordering::Release);
    }

    /// Whether it was asked.
    pub fn is_asked(&self) -> bool {
        self.0.load(Ordering::Acquire)
    }
}

/// A take that is over.
#[derive(Clone, Debug, PartialEq)]
pub struct Played {
    /// All readings.
    pub judgement: Judgement,
    /// How it ended.
    pub end: End,
}

/// How a take ended and how far its times can be trusted.
#[derive(Clone, Debug, PartialEq)]
pub struct End {
    /// When it was stopped before the line was over, in line time.
    pub stopped: Option<Nanos>,
    /// What was lost in the middle, in words.
    pub lost: Option<String>,
    /// What went wrong.
    pub counters: Counters,
    /// How well the clocks knew the times of events, root mean square of one standard deviation each.
    pub residual: Nanos,
}

/// A take being played in a session of its own.
pub struct Live {
    threads: Threads,
    over: OnceCell<Over>,
}

/// Starts the threads. Without keepers the take is not kept.
pub fn start(
    session: Box<dyn Session>,
    recording: Recording,
    keepers: Vec<Box<dyn Keeper>>,
    pace: Pace,
    stop: Stop,
) -> std::io::Result<Live> {
    let (commands, told) = bounded(COMMANDS);
    let taking = Box::new(Taking::placed(recording));
    // The only command, given before anybody listens: then the take is all there is.
    let _ = commands.send(Command::Begin(taking, keepers));
    drop(commands);
    Ok(Live {
        threads: Threads::start(session, None, told, pace, stop)?,
        over: OnceCell::new(),
    })
}

impl Live {
    /// What is said while the take goes on; ends with it.
    pub fn said(&self) -> impl Iterator<Item = Said> + '_ {
        self.threads.said.iter().filter_map(|said| self.keep(said))
    }

    /// The end is for [`Live::finish`].
    fn keep(&self, said: Said) -> Option<Said> {
        match said {
            Said::Over(over) => {
                let _ = self.over.set(*over);
                None
            }
            said => Some(said),
        }
    }

    /// Waits for the end. The second part is what became of the file.
    pub fn finish(mut self) -> (Played, Result<(), String>) {
        self.said().for_each(drop);
        self.threads.join();
        let over = self.over.take();
        let Over { played, kept } = over.expect("a take that was begun comes to its end");
        (played, kept)
    }
}
