//! The judging thread: polls the session, judges, and passes everything on.

use super::clerk::Item;
use super::{End, Pace, Played, Stop, priority};
use crate::backend::ring::RingSender;
use crate::backend::{Counters, Input, Poll, Session, SessionLost};
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
    last: Poll,
    input: Input,
    /// Glitches that the clerk has not been told of yet.
    untold: Pending,
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
                glitch: None,
            },
            input: Input::Here,
            untold: Pending::default(),
        }
    }

    /// One look at the session. Does not allocate.
    fn turn(&mut self, session: &mut dyn Session) -> Result<(), SessionLost> {
        self.last = session.poll(&mut |event| self.hear(event))?;
        self.doubt(self.last.glitch);
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::backend::Config;
    use crate::backend::ring::ring;
    use crate::backend::scripted::ScriptedSession;
    use crate::backend::virtual_time::VirtualSession;
    use crate::click::{ClickRenderer, ClickTrack, Level, Pattern};
    use crate::clock::frames::time_of;
    use crate::expected::tempo_map::Speed;
    use crate::expected::unroll;
    use crate::judge::Settings;
    use crate::line::parse::parse;
    use crate::live::clerk::RING;
    use crate::played::TimedMessage;
    use crate::stand_in::{Habits, play};
    use crate::take::TakeHead;
    use crate::take::recording::conduct;
    use std::sync::Arc;

    const LINE: &str = "title = \"a\"\nmeter = \"4/4\"\ntempo = 300\n[[section]]\nname = \"A\"\n\
         passes = [0, 2, 0, 0, 2, 0, 0, 0]\n\
         notes = \"E2/16 A2/16 D3/16 G2/16 r/8 E2/8 A2/8 A2/8 r/4 | x/8 E2/8? A2+D3/4 G2/8' C3/8 F2/4m\"";

    /// A session with a stand-in of these habits, and the judging of it.
    fn scene(habits: &str) -> (ScriptedSession<VirtualSession>, Judging, Nanos) {
        let line = parse(LINE, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
        let expected = Arc::new(unroll(&line, Speed::WRITTEN));
        let track = ClickTrack::new(&expected, 1, Pattern::Beats);
        let origin = time_of(track.origin_frame(Nanos::ZERO, 48_000) as i64, 48_000);
        let habits: Habits = habits.parse().expect("habits");
        let script = play(&expected, &habits, 6).into_iter();
        let script = script.map(|event| TimedMessage {
            at: event.at + origin,
            ..event
        });
        let click = ClickRenderer::new(track, Nanos::ZERO, Level::default());
        let session = VirtualSession::open(&Config::default(), Box::new(click));
        let session = ScriptedSession::new(session, script.collect());
        let mut head = TakeHead {
            line: "a".into(),
            line_file: "line.toml".into(),
            speed: Speed::WRITTEN.0,
            start_ns: 0,
            bars: None,
            silent: None,
            settings: Settings::default(),
            player: String::new(),
            begun: String::new(),
            has_port: false,
            has_cable: false,
        };
        let conductor = conduct(&expected, 1, &mut head).expect("a tempo");
        let start = head.start();
        let end = expected.end;
        let recording = Recording::new(expected, &head.settings, conductor, origin, start);
        let (to_clerk, _) = ring(RING);
        (
            session,
            Judging::new(recording, to_clerk, Pace::RealTime),
            end,
        )
    }

    #[test]
    fn the_judging_loop_does_not_allocate_whatever_is_played() {
        for habits in [
            "exact",
            "steady",
            "late-entries,missed-muting",
            "patchy,wrong-frets,unsteady",
            "dropped=0.5,extra=0.5,spread-ms=60",
            "converter,rushed-upbeats",
        ] {
            let (mut session, mut judging, end) = scene(habits);
            // The count-in: what is taken once is taken here.
            for _ in 0..100 {
                judging.turn(&mut session).expect("a session that lasts");
            }
            let mut turns = 0;
            assert_no_alloc::assert_no_alloc(|| {
                while judging.line_time() < end + TAIL {
                    turns += usize::from(judging.turn(&mut session).is_ok());
                }
            });
            assert!(turns > 5000 && session.is_finished(), "{habits}: {turns}");
            assert_eq!(judging.lost, 0);
        }
    }

    #[test]
    fn an_item_that_finds_no_room_is_counted() {
        let (mut session, mut judging, end) = scene("steady");
        let (to_clerk, _kept) = ring(10);
        judging.to_clerk = to_clerk;
        while judging.line_time() < end {
            judging.turn(&mut session).expect("a session that lasts");
        }
        assert!(judging.lost > 100, "{}", judging.lost);
    }
}
