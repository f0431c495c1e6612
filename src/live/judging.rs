//! The judging thread: polls the session, judges, and passes everything on.

use super::clerk::Item;
use super::{End, Pace, Played, Stop};
use crate::backend::ring::RingSender;
use crate::backend::{Counters, Poll, Session};
use crate::clock::glitch::{Glitch, GlitchKind, Pending};
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
    /// Glitches that the clerk has not been told of yet.
    untold: Pending,
}

/// Runs until the line is over, a stop is asked for, or the session is lost.
pub fn run(
    mut session: Box<dyn Session>,
    recording: Recording,
    line_end: Nanos,
    to_clerk: RingSender<Item>,
    pace: Pace,
    stop: &Stop,
) -> Played {
    let mut judging = Judging {
        recording,
        to_clerk,
        pace,
        lost: 0,
        untold: Pending::default(),
    };
    let mut last = Poll {
        watermark: Nanos::ZERO,
        counters: Counters::default(),
        residual: Nanos::ZERO,
        glitch: None,
    };
    let lost = loop {
        match session.poll(&mut |event| judging.hear(event)) {
            Ok(poll) => last = poll,
            Err(lost) => break Some(lost.to_string()),
        }
        judging.doubt(last.glitch);
        judging.advance(last.watermark);
        if stop.is_asked() || judging.recording.line_time(last.watermark) > line_end + TAIL {
            break None;
        }
        if pace == Pace::RealTime {
            thread::sleep(LOOK_EVERY);
        }
    };
    // The sound stops before anything slow is done.
    drop(session);
    let now = judging.recording.line_time(last.watermark);
    let mut counters = last.counters;
    counters.overflows += judging.lost;
    let stopped = (now < line_end).then_some(now);
    let end = End {
        stopped,
        lost,
        counters,
        residual: last.residual,
    };
    // The end must reach the clerk, who may be behind: the take is over, so there is time.
    judging.pace = Pace::Virtual;
    judging.doubt(None);
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
    fn hear(&mut self, event: crate::played::TimedMessage) {
        let in_file = self.recording.hear(event);
        let lost = self.lost;
        self.pass(Item::Event(in_file));
        if self.lost > lost {
            // The file will not have it.
            let glitch = Glitch {
                from: in_file.at,
                until: in_file.at,
                what: GlitchKind::Lost,
            };
            self.untold.add(glitch);
        }
    }

    /// Keeps and judges what the session has noticed, both alike: what the clerk cannot take now waits for both.
    fn doubt(&mut self, glitch: Option<Glitch>) {
        if let Some(glitch) = glitch {
            self.untold.add(self.recording.in_file(glitch));
        }
        let Some(glitch) = self.untold.take() else {
            return;
        };
        let lost = self.lost;
        self.pass(Item::Glitch(glitch));
        if self.lost > lost {
            self.lost = lost;
            self.untold.add(glitch);
        } else {
            self.recording.doubt(glitch);
        }
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
            if self.pace == Pace::RealTime || self.to_clerk.is_abandoned() {
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
