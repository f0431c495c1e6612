//! A take while it is played: the threads between the callbacks and the page.
//!
//! ```text
//! MIDI callback ─ring─┐
//!                     ├─► judging thread ─ring─► clerk thread ─channel─► the caller's thread
//! audio callback ─────┘   judges               writes the take          prints
//! ```
//!
//! The judging thread never allocates per event, waits for the disk or prints; the clerk may.

mod clerk;
mod judging;
pub mod priority;

use crate::backend::{Counters, Input, Session};
use crate::expected::Expected;
use crate::judge::Judgement;
use crate::take::keeper::Keeper;
use crate::take::recording::Recording;
use crate::units::Nanos;
use crossbeam_channel::{Receiver, unbounded};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;

/// How the session's time passes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pace {
    /// By a clock: the judging thread looks about every millisecond, and a full ring loses.
    RealTime,
    /// By being looked at: as fast as the machine goes, and a full ring waits.
    Virtual,
}

/// What the clerk has to say while the take goes on.
#[derive(Clone, Debug, PartialEq)]
pub enum Said {
    /// A bar is over: index into [`Expected::bars`], and the readings of its notes as they stand.
    Bar(usize, Vec<crate::judge::Reading>),
    /// The take's file cannot be written; playing goes on.
    CannotWrite(String),
    /// The MIDI input has gone or is back, at this line time.
    Input(Input, Nanos),
    /// The system did not give the judging thread real-time priority.
    OrdinaryPriority,
}

/// Asks a take to end.
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

/// A take being played.
pub struct Live {
    judging: thread::JoinHandle<Played>,
    clerk: thread::JoinHandle<Result<(), String>>,
    said: Receiver<Said>,
}

/// Starts the threads. Without keepers the take is not kept.
pub fn start(
    session: Box<dyn Session>,
    recording: Recording,
    keepers: Vec<Box<dyn Keeper>>,
    pace: Pace,
    stop: Stop,
) -> std::io::Result<Live> {
    let expected: Arc<Expected> = Arc::clone(recording.judge().expected());
    let (to_clerk, from_judging) = crate::backend::ring::ring(clerk::RING);
    let (say, said) = unbounded();
    let clerk = thread::Builder::new()
        .name("clerk".into())
        .spawn(move || clerk::run(from_judging, keepers, &say))?;
    let judging = thread::Builder::new()
        .name("judging".into())
        .spawn(move || judging::run(session, recording, expected.end, to_clerk, pace, &stop))?;
    Ok(Live {
        judging,
        clerk,
        said,
    })
}

impl Live {
    /// What is said while the take goes on; ends with it.
    pub fn said(&self) -> impl Iterator<Item = Said> + '_ {
        self.said.iter()
    }

    /// Waits for the end. The second part is what became of the file.
    pub fn finish(self) -> (Played, Result<(), String>) {
        // A thread that panicked takes the program down, with its own message already printed.
        let played = self
            .judging
            .join()
            .unwrap_or_else(|panic| std::panic::resume_unwind(panic));
        let kept = self
            .clerk
            .join()
            .unwrap_or_else(|panic| std::panic::resume_unwind(panic));
        (played, kept)
    }
}
