//! The threads of a session: the one that judges, the clerk, and the scribe, who belongs to the clerk.

use super::clerk::{self, Desk};
use super::judging::{self, Bench, Command};
use super::output::Output;
use super::scribe::Scribe;
use super::switch::Sound;
use super::{Pace, Position, Said, Stop};
use crate::backend::Session;
use crate::backend::ring::ring;
use crossbeam_channel::{Receiver, bounded, unbounded};
use std::io;
use std::sync::Arc;
use std::thread::{self, JoinHandle};

/// Commands, and what is handed over, on their way.
pub const COMMANDS: usize = 4;

/// The threads, and what they tell.
pub struct Threads {
    /// What the clerk and the scribe say; ends with the threads.
    pub said: Receiver<Said>,
    /// Where in the line the sound is.
    pub position: Arc<Position>,
    /// The way to the ear.
    pub output: Arc<Output>,
    /// Frames a second of the session.
    pub sample_rate: u32,
    judging: Option<JoinHandle<()>>,
    clerk: Option<JoinHandle<()>>,
}

impl Threads {
    /// Starts them. Without `sound`, the session has one of its own. When nobody can give commands any more, they end
    /// with the take.
    pub fn start(
        session: Box<dyn Session>,
        sound: Option<Sound>,
        commands: Receiver<Command>,
        pace: Pace,
        stop: Stop,
    ) -> io::Result<Threads> {
        let (to_clerk, items) = ring(clerk::RING);
        let (say, said) = unbounded();
        let (handover, handed_over) = bounded(COMMANDS);
        let (sound, used) = match sound {
            Some(sound) => (Some((sound.coming, sound.begun)), Some(sound.used)),
            None => (None, None),
        };
        let desk = Desk {
            items,
            handover: handed_over,
            used,
            scribe: Scribe::start(say.clone())?,
            say,
        };
        let position = Arc::new(Position::default());
        let output = Arc::new(Output::default());
        output.look(&*session);
        let bench = Bench {
            commands,
            to_clerk,
            handover,
            sound,
            position: Arc::clone(&position),
            output: Arc::clone(&output),
            pace,
        };
        let sample_rate = session.sample_rate();
        let named = |name: &str| thread::Builder::new().name(name.into());
        let clerk = named("clerk").spawn(move || clerk::run(desk))?;
        let judging = named("judging").spawn(move || judging::run(session, bench, &stop))?;
        Ok(Threads {
            said,
            position,
            output,
            sample_rate,
            judging: Some(judging),
            clerk: Some(clerk),
        })
    }

    /// Waits for their end. A thread that panicked takes the program down, with its own message already printed.
    pub fn join(&mut self) {
        for ended in [self.judging.take(), self.clerk.take()]
            .into_iter()
            .flatten()
        {
            if let Err(panic) = ended.join()
                && !thread::panicking()
            {
                std::panic::resume_unwind(panic);
            }
        }
    }
}
