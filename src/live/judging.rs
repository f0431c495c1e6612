//! The judging thread: polls the session, judges, and passes everything on.

use super::clerk::Item;
use super::{End, Pace, Played, Stop, priority};
use crate::backend::ring::RingSender;
use crate::backend::{Counters, Input, Poll, Session, SessionLost};
use crate::judge::Judge;
use crate::take::TakeEnd;
use crate::take::recording::Recording;
use crate::units::Nanos;
use std::thread;
use std::time::Duration;

const LOOK_EVERY: Duration = Duration::from_millis(1);
/// After the line is over, the last note is given time to end.
const TAIL: Nanos = Nanos::from_ms(1500);

struct Judging {
    recording: Recording,
    to_clerk: RingSender<Item>,
    pace: Pace,
    lost: u64,
    last: Poll,
    input: Input,
}

/// Runs until the line is over, a stop is asked for, or the session is lost.
pub fn run(
    mut session: Box<dyn Session>,
    recording: Recording,
    line_end: Nanos,
    mut to_clerk: RingSender<Item>,
    pace: Pace,
    stop: &Stop,
) -> Played {
    if pace == Pace::RealTime {
        let priority = Item::Priority(priority::raise());
        let _ = to_clerk.send(priority);
    }
    let mut judging = Judging::new(recording, to_clerk, pace);
    let lost = loop {
        if let Err(lost) = judging.turn(&mut *session) {
            break Some(lost.to_string());
        }
        if stop.is_asked() || judging.line_time() > line_end + TAIL {
            break None;
        }
        if pace == Pace::RealTime {
            thread::sleep(LOOK_EVERY);
        }
    };
    // The sound stops before anything slow is done.
    drop(session);
    let now = judging.line_time();
    let mut counters = judging.last.counters;
    counters.overflows += judging.lost;
    let stopped = (now < line_end).then_some(now);
    let end = End {
        stopped,
        lost,
        counters,
        residual: judging.last.residual,
    };
    judging.pass(Item::End(
        judging.recording.file_time(now),
        TakeEnd::of(&end),
    ));
    Played {
        judgement: judging.recording.finish(),
        end,
    }
}

impl Judging {
    fn new(recording: Recording, to_clerk: RingSender<Item>, pace: Pace) -> Judging {
        Judging {
            recording,
            to_clerk,
            pace,
            lost: 0,
            last: Poll {
                watermark: Nanos::ZERO,
                counters: Counters::default(),
                residual: Nanos::ZERO,
            },
            input: Input::Here,
        }
    }

    /// One look at the session. Does not allocate.
    fn turn(&mut self, session: &mut dyn Session) -> Result<(), SessionLost> {
        self.last = session.poll(&mut |event| self.hear(event))?;
        self.advance(self.last.watermark);
        let input = session.input();
        if input != self.input {
            self.input = input;
            self.pass(Item::Input(input, self.line_time()));
        }
        Ok(())
    }

    fn line_time(&self) -> Nanos {
        self.recording.line_time(self.last.watermark)
    }

    fn hear(&mut self, event: crate::played::TimedMessage) {
        let in_file = self.recording.hear(event);
        self.pass(Item::Event(in_file));
    }

    fn advance(&mut self, watermark: Nanos) {
        self.recording.advance(watermark);
        while let Some(bar) = self.recording.next_bar_over(watermark) {
            let notes = notes_of(self.recording.judge(), bar);
            for note in notes {
                self.pass(Item::Reading(self.recording.judge().reading(note)));
            }
            self.pass(Item::BarOver(bar));
        }
    }

    fn pass(&mut self, mut item: Item) {
        while let Err(back) = self.to_clerk.send(item) {
            if self.pace == Pace::RealTime {
                self.lost += 1;
                return;
            }
            item = back;
            thread::yield_now();
        }
    }
}

fn notes_of(judge: &Judge, bar: usize) -> std::ops::Range<usize> {
    let notes = &judge.expected().notes;
    let first = notes.partition_point(|note| (note.bar as usize) < bar);
    let after = notes.partition_point(|note| (note.bar as usize) <= bar);
    first..after
}
