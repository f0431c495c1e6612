//! A room: one session that stays open while take after take is played in it.
//!
//! The session is opened with a [`Switch`](super::Switch), the room with the other end of it:
//!
//! ```text
//! let (switch, sound) = live::switch(Level::default());
//! let session = backend.open(&config, Box::new(switch))?;
//! let mut room = Room::open(session, sound, Pace::RealTime, stop)?;
//! room.begin(TakeSetup { .. })?;
//! for said in room.said() { .. }
//! ```

use super::judging::Command;
use super::switch::{At, Coming, Sound};
use super::taking::Taking;
use super::threads::{COMMANDS, Threads};
use super::{Fader, LEAST_LEAD, Pace, Position, Said, Stop};
use crate::backend::Session;
use crate::click::{ClickTrack, Render, Stereo};
use crate::expected::Expected;
use crate::judge::Settings;
use crate::midi::conductor::Conductor;
use crate::played::TimedMessage;
use crate::take::StartedBy;
use crate::take::keeper::Keeper;
use crate::take::recording::Recording;
use crate::tone::{LineAndClick, Mix};
use crate::units::Nanos;
use crossbeam_channel::{Receiver, Sender, bounded};
use std::io;
use std::sync::Arc;

/// What a take needs.
pub struct TakeSetup {
    /// What is to be played, silent bars included.
    pub expected: Arc<Expected>,
    /// How it is judged.
    pub settings: Settings,
    /// The take's file, laid out: see [`conduct`](crate::take::recording::conduct).
    pub conductor: Conductor,
    /// Bar 1 beat 1 in file time: what the take's head says.
    pub start: Nanos,
    /// Where it is kept.
    pub keepers: Vec<Box<dyn Keeper>>,
    /// Where the click sounds, count-in included.
    pub clicks: ClickTrack,
    /// How the click sounds, and whether the line does. The click's level is [`Level::CAP`](crate::click::Level::CAP) where
    /// the [`Fader`] is to say how loud it is.
    pub mix: Mix,
    /// The silence before the first click, [`LEAST_LEAD`] at the least.
    pub lead: Nanos,
    /// What tells when bar 1 is. By the first note, no click sounds before it, and the first one after it is on its beat.
    pub started_by: StartedBy,
    /// What the stand-in plays, in line time; absent: somebody else plays.
    pub stand_in: Option<Vec<TimedMessage>>,
}

/// See the module's head. Closed when it is dropped.
pub struct Room {
    commands: Sender<Command>,
    threads: Threads,
    fader: Arc<Fader>,
    takes: u64,
}

/// The sound of a take as the switch plays it, which limits it when the fader has had its say.
struct Sum(LineAndClick);

impl Render for Sum {
    fn prepare(&mut self, sample_rate: u32) {
        self.0.prepare(sample_rate);
    }

    fn render(&mut self, first_frame: u64, out: Stereo<'_>) {
        self.0.sum(first_frame, out);
    }
}

/// The session is lost or closed, so that no take can be begun.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the session has ended")]
pub struct RoomClosed;

impl Room {
    /// Starts the threads. `stop` ends the take and closes the room.
    pub fn open(
        session: Box<dyn Session>,
        sound: Sound,
        pace: Pace,
        stop: Stop,
    ) -> io::Result<Room> {
        let (commands, told) = bounded(COMMANDS);
        Ok(Room {
            commands,
            fader: Arc::clone(sound.fader()),
            threads: Threads::start(session, Some(sound), told, pace, stop)?,
            takes: 0,
        })
    }

    /// Begins a take; one that goes on is stopped first. [`Said::Begun`] follows when bar 1 has its place, and in the end
    /// [`Said::Over`].
    pub fn begin(&mut self, setup: TakeSetup) -> Result<(), RoomClosed> {
        self.takes += 1;
        let silence = setup.lead.max(LEAST_LEAD);
        let expected = Arc::clone(&setup.expected);
        let mut sound = LineAndClick::new(expected, setup.clicks, silence, setup.mix);
        sound.prepare(self.threads.sample_rate);
        let origin = sound.origin_frame(self.threads.sample_rate);
        let recording = Recording::new(
            setup.expected,
            &setup.settings,
            setup.conductor,
            Nanos::ZERO,
            setup.start,
        );
        let coming = Coming {
            render: Box::new(Sum(sound)),
            at: At::NextBlock,
            number: self.takes,
        };
        let rate = self.threads.sample_rate;
        let mut taking = match setup.started_by {
            StartedBy::Click => Taking::counted_in(recording, coming, origin, rate),
            StartedBy::FirstNote => Taking::by_first_note(recording, coming, origin, rate),
        };
        taking.hand = setup.stand_in;
        self.tell(Command::Begin(Box::new(taking), setup.keepers))
    }

    /// Stops the take, if one goes on; it is kept up to there.
    pub fn stop_take(&self) -> Result<(), RoomClosed> {
        self.tell(Command::StopTake)
    }

    fn tell(&self, command: Command) -> Result<(), RoomClosed> {
        self.commands.send(command).map_err(|_| RoomClosed)
    }

    /// What is said while the room is open. It ends when the room does.
    pub fn said(&self) -> &Receiver<Said> {
        &self.threads.said
    }

    /// Where in the line the sound is now.
    pub fn position(&self) -> &Arc<Position> {
        &self.threads.position
    }

    /// How loud the session is. What is set is heard at once, in a take and between takes.
    pub fn fader(&self) -> &Arc<Fader> {
        &self.fader
    }

    /// How long a sound takes from the audio callback to the ear, as [`Session::output_delay`] says; written about every
    /// millisecond.
    pub fn output_delay(&self) -> Option<Nanos> {
        self.threads.output.delay()
    }

    /// Frames a block that are really in use, as [`Session::period`] says; written about every millisecond.
    pub fn period(&self) -> Option<u32> {
        self.threads.output.period()
    }

    /// Frames a second.
    pub fn sample_rate(&self) -> u32 {
        self.threads.sample_rate
    }

    /// Stops the take, closes the session and waits until all is kept. What is still to be heard of it is returned.
    pub fn close(mut self) -> Vec<Said> {
        self.end();
        self.threads.said.try_iter().collect()
    }

    fn end(&mut self) {
        // It may have ended by itself.
        let _ = self.tell(Command::Close);
        self.threads.join();
    }
}

impl Drop for Room {
    fn drop(&mut self) {
        self.end();
    }
}
