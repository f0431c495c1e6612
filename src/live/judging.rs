//! The judging thread: polls the session, judges, and passes everything on.

use super::clerk::{Handover, Item};
use super::output::Output;
use super::switch::{Begun, Coming};
use super::taking::{Belongs, Ended, Taking};
use super::{End, Pace, Position, Stop, priority};
use crate::backend::ring::{RingReceiver, RingSender};
use crate::backend::{Counters, Input, Poll, Session, SessionLost};
use crate::click::Silence;
use crate::clock::glitch::{Glitch, GlitchKind, Pending};
use crate::judge::Judge;
use crate::played::{MidiMessage, TimedMessage};
use crate::take::keeper::Keeper;
use crate::take::{StartedBy, TakeEnd};
use crate::units::Nanos;
use crossbeam_channel::{Receiver, Sender, TryRecvError};
use std::ops::ControlFlow;
use std::sync::Arc;
use std::thread;
use std::time::Duration;

const LOOK_EVERY: Duration = Duration::from_millis(1);

/// What the judging thread is told to do.
pub enum Command {
    /// Begin a take and keep it there; one that goes on is stopped.
    Begin(Box<Taking>, Vec<Box<dyn Keeper>>),
    /// Stop the take.
    StopTake,
    /// Stop the take, and end.
    Close,
}

/// What the judging thread works with.
pub struct Bench {
    /// What it is told.
    pub commands: Receiver<Command>,
    /// To the clerk.
    pub to_clerk: RingSender<Item>,
    /// To the clerk too.
    pub handover: Sender<Handover>,
    /// To the audio callback and back, where one sound follows the other.
    pub sound: Option<(RingSender<Coming>, RingReceiver<Begun>)>,
    /// Where the present place in the line is to be read.
    pub position: Arc<Position>,
    /// Where the way to the ear is to be read.
    pub output: Arc<Output>,
    /// How the session's time passes.
    pub pace: Pace,
}

struct Judging {
    bench: Bench,
    taking: Option<Box<Taking>>,
    lost: u64,
    last: Poll,
    input: Input,
    /// Glitches that the clerk has not been told of yet.
    untold: Pending,
    /// What sounds is over, and the audio callback has not been told yet.
    is_to_be_hushed: bool,
}

/// Runs until it is closed, a stop is asked for, or the session is lost; a room that nobody can tell anything any more is
/// closed when its take is over.
pub fn run(mut session: Box<dyn Session>, bench: Bench, stop: &Stop) {
    let mut judging = Judging::new(bench);
    if judging.bench.pace == Pace::RealTime {
        let priority = Item::Priority(priority::raise());
        judging.tell(priority);
    }
    let lost = loop {
        if judging.obey(&mut *session).is_break() || stop.is_asked() {
            break None;
        }
        if let Err(lost) = judging.turn(&mut *session) {
            break Some(lost.to_string());
        }
        let watermark = judging.last.watermark;
        if judging
            .taking
            .as_ref()
            .is_some_and(|t| t.is_over(watermark))
        {
            judging.end(&mut *session, None);
        }
        if judging.bench.pace == Pace::RealTime {
            thread::sleep(LOOK_EVERY);
        }
    };
    judging.end(&mut *session, lost.clone());
    // The sound stops before anything slow is done.
    drop(session);
    judging.bench.output.end();
    if let Some(lost) = lost {
        judging.hand_over(Item::Lost, Handover::Lost(lost));
    }
}

impl Judging {
    fn new(bench: Bench) -> Judging {
        Judging {
            bench,
            taking: None,
            lost: 0,
            last: Poll {
                watermark: Nanos::ZERO,
                now: Nanos::ZERO,
                counters: Counters::default(),
                residual: Nanos::ZERO,
                glitch: None,
            },
            input: Input::Here,
            untold: Pending::default(),
            is_to_be_hushed: false,
        }
    }

    /// Does what it is told. In virtual time nothing passes between takes.
    fn obey(&mut self, session: &mut dyn Session) -> ControlFlow<()> {
        loop {
            let rests = self.taking.is_none() && self.bench.pace == Pace::Virtual;
            let told = if rests {
                self.bench.commands.recv().map_err(TryRecvError::from)
            } else {
                self.bench.commands.try_recv()
            };
            match told {
                Ok(Command::Begin(taking, keepers)) => {
                    self.end(session, None);
                    self.begin(session, taking, keepers);
                }
                Ok(Command::StopTake) => self.end(session, None),
                Ok(Command::Close) => return ControlFlow::Break(()),
                Err(TryRecvError::Empty) => return ControlFlow::Continue(()),
                Err(TryRecvError::Disconnected) if self.taking.is_none() => {
                    return ControlFlow::Break(());
                }
                Err(TryRecvError::Disconnected) => return ControlFlow::Continue(()),
            }
        }
    }

    fn begin(
        &mut self,
        session: &mut dyn Session,
        mut taking: Box<Taking>,
        keepers: Vec<Box<dyn Keeper>>,
    ) {
        self.hand_over(Item::Begin, Handover::Begin(keepers));
        (self.lost, self.untold) = (0, Pending::default());
        taking.before = self.last.counters;
        if taking.is_waiting() {
            let origin = taking.stand_in_origin(self.last.watermark);
            if let Some(script) = taking.take_hand(origin) {
                session.perform(script);
            }
        }
        self.taking = Some(taking);
    }

    /// One look at the session. Does not allocate.
    fn turn(&mut self, session: &mut dyn Session) -> Result<(), SessionLost> {
        self.send_sound();
        self.last = session.poll(&mut |event| self.hear(event))?;
        self.see_what_began(session);
        self.doubt(self.last.glitch);
        self.advance(self.last.watermark);
        self.show();
        self.bench.output.look(session);
        let input = session.input();
        // A clerk who is that far behind is told later.
        if input != self.input && self.bench.to_clerk.has_room() {
            self.input = input;
            let at = self.line_or_stream_time();
            self.pass(Item::Input(input, at));
        }
        Ok(())
    }

    /// Silence after a take that is over, and the sound of the take when it has a place, go to the audio callback when
    /// there is room: a callback that stands still, while its device is opened anew, takes nothing.
    fn send_sound(&mut self) {
        let Some((coming, _)) = &mut self.bench.sound else {
            return;
        };
        if self.is_to_be_hushed && coming.has_room() {
            self.is_to_be_hushed = coming.send(Coming::of(Box::new(Silence))).is_err();
        }
        if !self.is_to_be_hushed
            && coming.has_room()
            && let Some(taking) = &mut self.taking
            && let Some(sound) = taking.take_sound()
        {
            let _ = coming.send(sound);
        }
    }

    fn see_what_began(&mut self, session: &mut dyn Session) {
        while let Some((_, begun)) = &mut self.bench.sound
            && let Some(Begun { number, frame }) = begun.receive()
        {
            let Some(taking) = &mut self.taking else {
                continue;
            };
            if let Some(origin) = taking.begun(number, frame) {
                if let Some(script) = taking.take_hand(origin) {
                    session.perform(script);
                }
                self.pass_surely(Item::Placed(origin, StartedBy::Click));
            }
        }
    }

    /// Line time while a take is played, else stream time.
    fn line_or_stream_time(&self) -> Nanos {
        match &self.taking {
            Some(taking) if taking.is_playing() => taking.line_time(self.last.watermark),
            _ => self.last.watermark,
        }
    }

    fn hear(&mut self, event: TimedMessage) {
        let Some(taking) = &mut self.taking else {
            return self.tell(Item::Aside(event));
        };
        match taking.belongs(event) {
            Belongs::Not => return self.tell(Item::Aside(event)),
            Belongs::Here => {}
            Belongs::AsFirstNote(origin) => {
                self.pass_surely(Item::Placed(origin, StartedBy::FirstNote));
            }
        }
        if is_control(event.message) {
            self.tell(Item::Aside(event));
        }
        self.record(event);
    }

    fn record(&mut self, event: TimedMessage) {
        let Some(taking) = &mut self.taking else {
            return;
        };
        let in_file = taking.recording.hear(event);
        let struck = taking.told.strike(taking.recording.judge(), event);
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
        if let Some((played, reading)) = struck {
            self.tell(Item::Note(played, reading));
        }
    }

    /// Keeps and judges what the session has noticed, both alike: what the clerk cannot take now waits for both.
    fn doubt(&mut self, glitch: Option<Glitch>) {
        let Some(taking) = self.taking.as_ref().filter(|taking| taking.is_playing()) else {
            return;
        };
        if let Some(glitch) = glitch {
            self.untold.add(taking.recording.in_file(glitch));
        }
        let Some(glitch) = self.untold.take() else {
            return;
        };
        let lost = self.lost;
        self.pass(Item::Glitch(glitch));
        if self.lost > lost {
            self.lost = lost;
            self.untold.add(glitch);
        } else if let Some(taking) = &mut self.taking {
            taking.recording.doubt(glitch);
        }
    }

    fn advance(&mut self, watermark: Nanos) {
        // Out of its place while it is asked, so that what it says can be passed on.
        let Some(mut taking) = self.taking.take() else {
            return;
        };
        if taking.is_playing() {
            taking.recording.advance(watermark);
            while let Some(bar) = taking.recording.next_bar_over(watermark) {
                for note in notes_of(taking.recording.judge(), bar) {
                    self.pass(Item::Reading(taking.recording.judge().reading(note)));
                }
                self.pass(Item::BarOver(bar));
            }
            let now = taking.recording.line_time(watermark);
            let judge = taking.recording.judge();
            taking.told.look(judge, now, &mut |reading| {
                self.tell(Item::Corrected(reading))
            });
        }
        self.taking = Some(taking);
    }

    fn show(&self) {
        let playing = self.taking.as_ref().filter(|taking| taking.is_playing());
        let now = playing.map(|taking| taking.line_time(self.last.now));
        self.bench.position.set(now);
    }

    /// Ends the take that there is.
    fn end(&mut self, session: &mut dyn Session, lost: Option<String>) {
        let Some(taking) = self.taking.take() else {
            return;
        };
        self.hush(session);
        let now = taking.line_time(self.last.watermark);
        let mut counters = self.last.counters.since(taking.before);
        counters.overflows += self.lost;
        let is_stopped = !taking.is_playing() || now < taking.expected().end;
        let end = End {
            stopped: is_stopped.then_some(now),
            lost,
            counters,
            residual: self.last.residual,
        };
        self.taking = Some(taking);
        self.tell_last_doubts();
        let Some(taking) = self.taking.take() else {
            return;
        };
        let last = Item::End(taking.recording.file_time(now), TakeEnd::of(&end));
        let ended = Ended {
            recording: taking.recording,
            end,
        };
        self.hand_over(last, Handover::Over(Box::new(ended)));
        self.bench.position.set(None);
    }

    /// What sounds falls silent, and the stand-in stops.
    fn hush(&mut self, session: &mut dyn Session) {
        if self.bench.sound.is_some() {
            session.perform(Vec::new());
            self.is_to_be_hushed = true;
            self.send_sound();
        }
    }

    /// The clerk may be behind: the take is over, so there is time.
    fn tell_last_doubts(&mut self) {
        let pace = std::mem::replace(&mut self.bench.pace, Pace::Virtual);
        self.doubt(None);
        self.bench.pace = pace;
    }

    /// What is only shown: a clerk who is that far behind shows the bar.
    fn tell(&mut self, item: Item) {
        let lost = self.lost;
        self.pass(item);
        self.lost = lost;
    }

    fn pass(&mut self, item: Item) {
        match self.bench.pace {
            Pace::RealTime => self.lost += u64::from(self.bench.to_clerk.send(item).is_err()),
            Pace::Virtual => self.pass_surely(item),
        }
    }

    /// Waits for the clerk where need be: once a take, or in virtual time.
    fn pass_surely(&mut self, mut item: Item) {
        while let Err(back) = self.bench.to_clerk.send(item) {
            if self.bench.to_clerk.is_abandoned() {
                self.lost += 1;
                return;
            }
            item = back;
            thread::yield_now();
        }
    }

    fn hand_over(&mut self, item: Item, handover: Handover) {
        // Without a clerk there is nobody to work for.
        let _ = self.bench.handover.send(handover);
        self.pass_surely(item);
    }
}

/// What a foot switch may send; the rest of what is no note belongs to playing.
fn is_control(message: MidiMessage) -> bool {
    matches!(message, MidiMessage::Other([0xB0..=0xCF, ..]))
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
    use crate::click::{ClickRenderer, ClickTrack, Level, Pattern, Render};
    use crate::clock::frames::time_of;
    use crate::expected::tempo_map::Speed;
    use crate::expected::unroll;
    use crate::judge::Settings;
    use crate::line::parse::parse;
    use crate::live::clerk::RING;
    use crate::played::TimedMessage;
    use crate::stand_in::{Habits, play};
    use crate::take::TakeHead;
    use crate::take::recording::{Recording, conduct};
    use crossbeam_channel::bounded;
    use std::sync::Arc;

    const LINE: &str = "title = \"a\"\nmeter = \"4/4\"\ntempo = 300\n[[section]]\nname = \"A\"\n\
         passes = [0, 2, 0, 0, 2, 0, 0, 0]\n\
         notes = \"E2/16 A2/16 D3/16 G2/16 r/8 E2/8 A2/8 A2/8 r/4 | x/8 E2/8? A2+D3/4 G2/8' C3/8 F2/4m\"";

    /// A bench whose clerk does nothing.
    fn bench() -> Bench {
        Bench {
            commands: bounded(1).1,
            to_clerk: ring(RING).0,
            handover: bounded(1).0,
            sound: None,
            position: Arc::default(),
            output: Arc::default(),
            pace: Pace::RealTime,
        }
    }

    /// A session with a stand-in of these habits, and the judging of it.
    fn scene(habits: &str) -> (ScriptedSession<VirtualSession>, Judging) {
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
        let recording = Recording::new(expected, &head.settings, conductor, origin, start);
        let mut judging = Judging::new(bench());
        judging.taking = Some(Box::new(Taking::placed(recording)));
        (session, judging)
    }

    fn is_over(judging: &Judging) -> bool {
        let taking = judging.taking.as_ref().expect("a take");
        taking.is_over(judging.last.watermark)
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
            let (mut session, mut judging) = scene(habits);
            // The count-in: what is taken once is taken here.
            for _ in 0..100 {
                judging.turn(&mut session).expect("a session that lasts");
            }
            let mut turns = 0;
            assert_no_alloc::assert_no_alloc(|| {
                while !is_over(&judging) {
                    turns += usize::from(judging.turn(&mut session).is_ok());
                }
            });
            assert!(turns > 5000 && session.is_finished(), "{habits}: {turns}");
            assert_eq!(judging.lost, 0);
        }
    }

    /// A take that is begun in a room, with a stand-in.
    fn room_scene(started_by: StartedBy) -> (ScriptedSession<VirtualSession>, Judging) {
        let (_, judging) = scene("steady");
        let taking = judging.taking.expect("a take");
        let expected = Arc::clone(taking.expected());
        let (switch, sound) = crate::live::switch(Level::default());
        let session = VirtualSession::open(&Config::default(), Box::new(switch));
        let mut session = ScriptedSession::new(session, vec![]);
        let track = ClickTrack::new(&expected, 1, Pattern::Beats);
        let mut click = ClickRenderer::new(track.clone(), Nanos::ZERO, Level::default());
        click.prepare(48_000);
        let origin = track.origin_frame(Nanos::ZERO, 48_000);
        let coming = Coming::of(Box::new(click));
        let mut taking = match started_by {
            StartedBy::Click => Taking::counted_in(taking.recording, coming, origin, 48_000),
            StartedBy::FirstNote => Taking::by_first_note(taking.recording, coming, origin, 48_000),
        };
        let habits: Habits = "late-entries,wrong-frets".parse().expect("habits");
        taking.hand = Some(play(&expected, &habits, 6));
        let mut judging = Judging::new(Bench {
            sound: Some((sound.coming, sound.begun)),
            ..bench()
        });
        // As an ordinary thread would, at the take's end.
        std::mem::forget(sound.used);
        judging.begin(&mut session, Box::new(taking), vec![]);
        (session, judging)
    }

    #[test]
    fn a_take_begins_in_a_room_and_is_played_without_an_allocation() {
        for started_by in [StartedBy::Click, StartedBy::FirstNote] {
            let (mut session, mut judging) = room_scene(started_by);
            let mut turns = 0;
            assert_no_alloc::assert_no_alloc(|| {
                while !is_over(&judging) && turns < 100_000 {
                    turns += usize::from(judging.turn(&mut session).is_ok());
                }
            });
            assert!(is_over(&judging) && session.is_finished(), "{started_by:?}");
            let taking = judging.taking.expect("a take");
            let judgement = taking.recording.finish();
            assert!(judgement.readings.iter().any(|r| r.partner.is_some()));
        }
    }

    #[test]
    fn takes_that_are_over_fall_silent_even_when_the_callback_stood_still_meanwhile() {
        let (mut session, mut judging) = room_scene(StartedBy::Click);
        let (coming, mut to_callback) = ring(2);
        let (_, begun) = ring(2);
        judging.bench.sound = Some((coming, begun));
        judging.send_sound();
        judging.end(&mut session, None);
        // Now the ring is full, and the next take waits for its first note, which never comes.
        let (_, mut other) = room_scene(StartedBy::FirstNote);
        let waiting = other.taking.take().expect("a take");
        judging.begin(&mut session, waiting, vec![]);
        judging.end(&mut session, None);
        let (_, mut third) = room_scene(StartedBy::Click);
        let mut last = third.taking.take().expect("a take");
        assert!(last.take_sound().is_some(), "without one");
        judging.begin(&mut session, last, vec![]);
        let mut taken = 0;
        for _ in 0..4 {
            while to_callback.receive().is_some() {
                taken += 1;
            }
            judging.send_sound();
        }
        // The first take's sound, silence after it, and silence after what was never heard.
        assert_eq!((taken, judging.is_to_be_hushed), (3, false));
    }

    #[test]
    fn an_input_that_goes_while_the_clerk_is_behind_is_told_later() {
        struct Unplugged(VirtualSession);
        impl Session for Unplugged {
            fn sample_rate(&self) -> u32 {
                self.0.sample_rate()
            }
            fn description(&self) -> String {
                self.0.description()
            }
            fn poll(&mut self, sink: &mut dyn FnMut(TimedMessage)) -> Result<Poll, SessionLost> {
                self.0.poll(sink)
            }
            fn input(&self) -> Input {
                Input::Away
            }
        }
        let session = VirtualSession::open(&Config::default(), Box::new(Silence));
        let mut session = Unplugged(session);
        let (to_clerk, mut items) = ring(1);
        let mut judging = Judging::new(Bench {
            to_clerk,
            ..bench()
        });
        judging.tell(Item::Begin);
        judging.turn(&mut session).expect("a session that lasts");
        assert!(matches!(items.receive(), Some(Item::Begin)));
        for _ in 0..3 {
            judging.turn(&mut session).expect("a session that lasts");
        }
        // At the end of the second block.
        let at = time_of(128, 48_000);
        assert!(matches!(items.receive(), Some(Item::Input(Input::Away, then)) if then == at));
        assert!(items.receive().is_none(), "once");
    }

    #[test]
    fn an_item_that_finds_no_room_is_counted() {
        let (mut session, mut judging) = scene("steady");
        let (to_clerk, _kept) = ring(10);
        judging.bench.to_clerk = to_clerk;
        while !is_over(&judging) {
            judging.turn(&mut session).expect("a session that lasts");
        }
        assert!(judging.lost > 100, "{}", judging.lost);
    }
}
