//! A take as the judging thread has it: from when on it hears, and where bar 1 is.

use super::switch::{At, Coming};
use super::told::Told;
use super::{End, LEAST_LEAD};
use crate::backend::Counters;
use crate::clock::frames::{frame_at, time_of};
use crate::expected::Expected;
use crate::played::TimedMessage;
use crate::take::recording::Recording;
use crate::units::Nanos;
use std::sync::Arc;

/// After the line is over, the last note is given time to end.
const TAIL: Nanos = Nanos::from_ms(1500);

/// See the module's head.
pub struct Taking {
    /// Where it is judged.
    pub recording: Recording,
    /// What was told of it.
    pub told: Told,
    /// What the session had counted when it was begun.
    pub before: Counters,
    /// Its sound, as long as it is not on its way.
    pub sound: Option<Coming>,
    /// What the stand-in plays, in line time; nobody, when there is none.
    pub hand: Option<Vec<TimedMessage>>,
    stage: Stage,
    /// Bar 1 beat 1 from the sound's frame 0.
    origin: i64,
    sample_rate: u32,
}

/// How far it has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stage {
    /// Its sound is on its way to the audio callback.
    Coming {
        /// The sound's number.
        number: u64,
    },
    /// For the first note.
    Waiting,
    /// Events from this moment of the stream on belong to it.
    Playing {
        /// Which.
        from: Nanos,
    },
}

/// A take that is over, to be finished by the clerk.
pub struct Ended {
    /// What was judged.
    pub recording: Recording,
    /// How it ended.
    pub end: End,
}

/// What an event is to a take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Belongs {
    /// Nothing.
    Not,
    /// It is one of its events.
    Here,
    /// It is the first of its notes, which tells where bar 1 beat 1 is: here in stream time.
    AsFirstNote(Nanos),
}

impl Taking {
    /// A take whose sound the session plays already; the recording knows its place.
    pub fn placed(recording: Recording) -> Taking {
        let stage = Stage::Playing {
            from: Nanos(i64::MIN),
        };
        Taking::new(recording, None, stage, 0, 0)
    }

    /// A take that begins with its sound, whose bar 1 beat 1 is at its frame `origin`.
    pub fn counted_in(
        recording: Recording,
        sound: Coming,
        origin: u64,
        sample_rate: u32,
    ) -> Taking {
        let stage = Stage::Coming {
            number: sound.number,
        };
        Taking::new(recording, Some(sound), stage, origin as i64, sample_rate)
    }

    /// A take whose sound begins when the player has.
    pub fn by_first_note(
        recording: Recording,
        sound: Coming,
        origin: u64,
        sample_rate: u32,
    ) -> Taking {
        let origin = origin as i64;
        Taking::new(recording, Some(sound), Stage::Waiting, origin, sample_rate)
    }

    fn new(
        recording: Recording,
        sound: Option<Coming>,
        stage: Stage,
        origin: i64,
        sample_rate: u32,
    ) -> Taking {
        Taking {
            recording,
            told: Told::default(),
            before: Counters::default(),
            sound,
            hand: None,
            stage,
            origin,
            sample_rate,
        }
    }

    /// What is judged against.
    pub fn expected(&self) -> &Arc<Expected> {
        self.recording.judge().expected()
    }

    /// Whether bar 1 has its place, so that there is a line time.
    pub fn is_playing(&self) -> bool {
        matches!(self.stage, Stage::Playing { .. })
    }

    /// Whether it waits for the first note.
    pub fn is_waiting(&self) -> bool {
        self.stage == Stage::Waiting
    }

    /// Whether the sound can go to the callback now: one that waits has no place yet.
    pub fn take_sound(&mut self) -> Option<Coming> {
        match self.stage {
            Stage::Waiting => None,
            Stage::Coming { .. } | Stage::Playing { .. } => self.sound.take(),
        }
    }

    /// Its sound has begun with this frame of the stream. Says where bar 1 beat 1 is, if that was not known.
    pub fn begun(&mut self, number: u64, frame: i64) -> Option<Nanos> {
        if self.stage != (Stage::Coming { number }) {
            return None;
        }
        let origin = time_of(frame + self.origin, self.sample_rate);
        self.recording.place(origin);
        self.stage = Stage::Playing {
            from: time_of(frame, self.sample_rate),
        };
        Some(origin)
    }

    /// What an event of the stream is to it. The first note takes the place of the line's first one; the sound is set to
    /// begin with it, and what of it has gone by is left out.
    pub fn belongs(&mut self, event: TimedMessage) -> Belongs {
        match self.stage {
            Stage::Coming { .. } => Belongs::Not,
            Stage::Playing { from } if event.at < from => Belongs::Not,
            Stage::Playing { .. } => Belongs::Here,
            Stage::Waiting => match self.recording.judge().struck(event) {
                Some(struck) => Belongs::AsFirstNote(self.start_with(event.at, struck)),
                None => Belongs::Not,
            },
        }
    }

    fn start_with(&mut self, heard: Nanos, struck: Nanos) -> Nanos {
        let first = self.expected().notes.first();
        let into_line = first.map_or(Nanos::ZERO, |note| note.onset);
        // To the frame, as a click's place is.
        let frame = frame_at(struck - into_line, self.sample_rate);
        let origin = time_of(frame, self.sample_rate);
        self.recording.place(origin);
        self.stage = Stage::Playing { from: heard };
        if let Some(sound) = &mut self.sound {
            sound.at = At::Frame(frame - self.origin);
        }
        origin
    }

    /// What the stand-in plays, in stream time; bar 1 beat 1 of what it was given is at `origin`.
    pub fn take_hand(&mut self, origin: Nanos) -> Option<Vec<TimedMessage>> {
        let mut script = self.hand.take()?;
        for event in &mut script {
            event.at += origin;
        }
        Some(script)
    }

    /// When the stand-in, which is not waited for by anybody else, begins a take that waits for it.
    pub fn stand_in_origin(&self, now: Nanos) -> Nanos {
        now + LEAST_LEAD + time_of(self.origin, self.sample_rate)
    }

    /// Whether the line is over when the stream has come so far, and the last note had time to end.
    pub fn is_over(&self, watermark: Nanos) -> bool {
        self.is_playing() && self.recording.line_time(watermark) > self.expected().end + TAIL
    }

    /// How far it came, in line time; one that never began came to bar 1 beat 1.
    pub fn line_time(&self, watermark: Nanos) -> Nanos {
        if self.is_playing() {
            self.recording.line_time(watermark)
        } else {
            Nanos::ZERO
        }
    }
}
