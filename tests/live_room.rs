//! A room: takes that follow each other in one session are each as if they had been played in a session of their own.

use leadsman::backend::scripted::ScriptedSession;
use leadsman::backend::virtual_time::VirtualSession;
use leadsman::backend::{Config, Input, Poll, Render, Session, SessionLost};
use leadsman::click::{ClickRenderer, ClickSound, ClickTrack, Level, Pattern, Stereo};
use leadsman::clock::frames::{frame_at, time_of};
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::judge::judge::judge;
use leadsman::judge::{Judgement, Reading, Settings};
use leadsman::line::parse::parse;
use leadsman::live::{self, Over, Pace, Room, Said, Stop, Switch, TakeSetup};
use leadsman::midi::conductor::Conductor;
use leadsman::midi::take_writer::TakeWriter;
use leadsman::played::{MidiMessage, TimedMessage};
use leadsman::stand_in::{Habits, play};
use leadsman::take::keeper::Keeper;
use leadsman::take::recording::{Recording, conduct};
use leadsman::take::{StartedBy, Take, TakeHead};
use leadsman::units::{Key, Nanos};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU32, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::time::Duration;

const RATE: u32 = 48_000;
const LEAD: Nanos = Nanos::from_ms(300);
const LINE: &str = "title = \"Two Buoys\"\nmeter = \"4/4\"\ntempo = 143\nswing = \"2:1\"\n[[section]]\nname = \"A\"\n\
     passes = [0, 2]\nnotes = \"r/8 A2/8 D2/4 r/8 F2/8 A2/4 | G2/8 G2/8' C2+G2/4 E2/8 E2/8 D2/4_\"";

fn expected(speed: u32) -> Arc<Expected> {
    let line = parse(LINE, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
    Arc::new(unroll(&line, Speed(speed)))
}

fn performance(expected: &Expected, habits: &str, seed: u64) -> Vec<TimedMessage> {
    play(expected, &habits.parse::<Habits>().expect("habits"), seed)
}

/// A take about to be played: what of it both ways need.
struct Sheet {
    expected: Arc<Expected>,
    settings: Settings,
    conductor: Conductor,
    start: Nanos,
    count_in: u32,
}

impl Sheet {
    fn new(expected: &Arc<Expected>, settings: Settings, count_in: u32) -> Sheet {
        let mut head = TakeHead {
            line: "Two Buoys".into(),
            line_file: "line.toml".into(),
            speed: 100_000,
            start_ns: 0,
            bars: None,
            silent: None,
            settings,
            player: "stand-in".into(),
            begun: String::new(),
            has_port: false,
            has_cable: false,
        };
        Sheet {
            conductor: conduct(expected, count_in, &mut head).expect("a tempo"),
            start: head.start(),
            expected: Arc::clone(expected),
            settings,
            count_in,
        }
    }

    fn clicks(&self) -> ClickTrack {
        ClickTrack::new(&self.expected, self.count_in, Pattern::Beats)
    }

    fn keepers(&self, file: &Path) -> Vec<Box<dyn Keeper>> {
        vec![Box::new(
            TakeWriter::create(file, &self.conductor).expect("a file"),
        )]
    }

    fn setup(&self, file: Option<&Path>, stand_in: Option<Vec<TimedMessage>>) -> TakeSetup {
        TakeSetup {
            expected: Arc::clone(&self.expected),
            settings: self.settings,
            conductor: self.conductor.clone(),
            start: self.start,
            keepers: file.map_or(vec![], |file| self.keepers(file)),
            clicks: self.clicks(),
            mix: ClickSound::default().into(),
            lead: LEAD,
            started_by: StartedBy::Click,
            stand_in,
        }
    }

    /// The same take in a session of its own.
    fn alone(&self, script: &[TimedMessage]) -> Judgement {
        let clicks = self.clicks();
        let origin = time_of(clicks.origin_frame(LEAD, RATE) as i64, RATE);
        let click = ClickRenderer::new(clicks, LEAD, Level::default());
        let session = VirtualSession::open(&Config::default(), Box::new(click));
        let script = script.iter().map(|event| TimedMessage {
            at: event.at + origin,
            ..*event
        });
        let session = Box::new(ScriptedSession::new(session, script.collect()));
        let recording = Recording::new(
            Arc::clone(&self.expected),
            &self.settings,
            self.conductor.clone(),
            origin,
            self.start,
        );
        let live = live::start(session, recording, vec![], Pace::Virtual, Stop::default());
        live.expect("threads").finish().0.judgement
    }

    /// The take as a check reads it.
    fn read_again(&self, file: &Path) -> (Take, Judgement) {
        let take = Take::read(file).expect("a take");
        let events = take.events.iter().map(|event| TimedMessage {
            at: event.at - self.start,
            ..*event
        });
        let judgement = judge(
            Arc::clone(&self.expected),
            &self.settings,
            events.collect::<Vec<_>>().into_iter(),
        );
        (take, judgement)
    }
}

/// A switch whose every click is noted: the frame of the stream at which it begins.
struct Heard {
    switch: Switch,
    onsets: Sender<u64>,
    silent_for: u32,
}

impl Render for Heard {
    fn prepare(&mut self, sample_rate: u32) {
        self.switch.prepare(sample_rate);
    }

    fn render(&mut self, first_frame: u64, mut out: Stereo<'_>) {
        self.switch.render(first_frame, out.lend());
        for (frame, sample) in (first_frame..).zip(&*out.left) {
            if *sample != 0.0 && self.silent_for > 100 {
                let _ = self.onsets.send(frame);
            }
            self.silent_for = if *sample == 0.0 {
                self.silent_for + 1
            } else {
                0
            };
        }
    }
}

/// A room whose player strikes what is in the script, in stream time, and the clicks that are heard.
fn room(pace: Pace, script: Vec<TimedMessage>) -> (Room, Receiver<u64>) {
    let (switch, sound) = live::switch(Level::default());
    let (onsets, heard) = channel();
    let heard_switch = Heard {
        switch,
        onsets,
        silent_for: 1000,
    };
    let session = VirtualSession::open(&Config::default(), Box::new(heard_switch));
    // Two hands: the stand-in's stops with its take, the player's does not.
    let player = ScriptedSession::new(session, script);
    let session = Box::new(ScriptedSession::new(player, vec![]));
    let room = Room::open(session, sound, pace, Stop::default()).expect("threads");
    (room, heard)
}

/// What is said until the take is over, and the take.
fn hear_out(room: &Room) -> (Vec<Said>, Over) {
    let mut said = Vec::new();
    loop {
        match room.said().recv_timeout(Duration::from_secs(60)) {
            Ok(Said::Over(over)) => return (said, *over),
            Ok(other) => said.push(other),
            Err(why) => panic!("{why} after {said:?}"),
        }
    }
}

fn begun(said: &[Said]) -> Nanos {
    let mut begun = said.iter().filter_map(|said| match said {
        Said::Begun(origin) => Some(*origin),
        _ => None,
    });
    let origin = begun.next().expect("it begins");
    assert_eq!(begun.next(), None, "once");
    origin
}

/// The readings as a screen has them in the end.
fn as_shown(said: &[Said], notes: usize) -> Vec<Option<Reading>> {
    let mut shown = vec![None; notes];
    for said in said {
        match said {
            Said::Note(_, Some(reading)) | Said::Corrected(reading) => {
                shown[reading.note as usize] = reading.partner.as_ref().map(|_| *reading);
            }
            _ => {}
        }
    }
    shown
}

const HABITS: [&str; 6] = [
    "exact",
    "steady",
    "late-entries,missed-muting",
    "patchy,wrong-frets,unsteady",
    "dropped=0.3,extra=0.3,spread-ms=40",
    "bad-converter",
];

#[test]
fn every_take_of_a_room_is_to_the_bit_what_it_is_in_a_session_of_its_own() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut room, clicks) = room(Pace::Virtual, vec![]);
    let mut last_begun = Nanos::ZERO;
    for (number, habits) in HABITS.iter().enumerate() {
        let expected = expected([100_000, 73_500, 131_700][number % 3]);
        let sheet = Sheet::new(&expected, Settings::default(), 1 + number as u32 % 2);
        let script = performance(&expected, habits, number as u64);
        let file: PathBuf = folder.path().join(format!("{number}.mid"));
        room.begin(sheet.setup(Some(&file), Some(script.clone())))
            .expect("an open room");
        let (said, over) = hear_out(&room);
        assert_eq!(over.kept, Ok(()));
        assert_eq!(
            (over.played.end.stopped, &over.played.end.lost),
            (None, &None)
        );
        assert_eq!(over.played.judgement, sheet.alone(&script), "{habits}");
        let (take, again) = sheet.read_again(&file);
        assert_eq!(take.events.len(), script.len());
        assert_eq!(take.start.by, StartedBy::Click);
        assert_eq!(again.readings, over.played.judgement.readings, "{habits}");
        // The clicks of this take, on their frames from where it began.
        let origin = begun(&said);
        assert!(origin > last_begun);
        last_begun = origin;
        let frames: Vec<u64> = sheet
            .clicks()
            .frames(frame_at(origin, RATE) as u64, RATE)
            .collect();
        assert_eq!(clicks.try_iter().collect::<Vec<_>>(), frames, "{habits}");
    }
}

#[test]
fn what_was_told_of_the_notes_is_in_the_end_what_the_take_says() {
    let (mut room, _clicks) = room(Pace::Virtual, vec![]);
    let mut corrections = 0;
    for (number, habits) in HABITS.iter().enumerate() {
        let expected = expected(100_000);
        let sheet = Sheet::new(&expected, Settings::default(), 1);
        let script = performance(&expected, habits, 40 + number as u64);
        room.begin(sheet.setup(None, Some(script)))
            .expect("an open room");
        let (said, over) = hear_out(&room);
        let shown = as_shown(&said, expected.notes.len());
        let told = said.iter().filter(|said| matches!(said, Said::Note(..)));
        corrections += said
            .iter()
            .filter(|said| matches!(said, Said::Corrected(_)))
            .count();
        assert!(told.count() > expected.notes.len() / 2);
        for (reading, shown) in over.played.judgement.readings.iter().zip(shown) {
            let told = shown.and_then(|shown| shown.partner);
            assert_eq!(
                told.map(|p| p.offset),
                reading.partner.map(|p| p.offset),
                "{habits}"
            );
            assert_eq!(told, reading.partner, "{habits}: note {}", reading.note);
        }
    }
    assert!(corrections > 50, "{corrections}");
}

#[test]
fn every_note_is_told_in_the_poll_that_brings_it() {
    let (mut room, _clicks) = room(Pace::Virtual, vec![]);
    let expected = expected(100_000);
    let sheet = Sheet::new(&expected, Settings::default(), 1);
    let script = performance(&expected, "steady", 3);
    room.begin(sheet.setup(None, Some(script)))
        .expect("an open room");
    let (said, over) = hear_out(&room);
    let notes: Vec<_> = said
        .iter()
        .filter_map(|said| match said {
            Said::Note(played, reading) => Some((played, reading.expect("a place"))),
            _ => None,
        })
        .collect();
    assert_eq!(notes.len(), expected.notes.len());
    let judgement = &over.played.judgement;
    for (played, reading) in notes {
        let last = judgement.readings[reading.note as usize].partner;
        let (told, last) = (reading.partner.expect("one"), last.expect("one"));
        assert_eq!(
            (told.offset, told.pitch, told.timing),
            (last.offset, last.pitch, last.timing)
        );
        assert_eq!(played.onset, judgement.played[last.played as usize].onset);
    }
}

#[test]
fn a_take_that_waits_starts_with_the_first_note_and_its_click_comes_in_on_the_next_beat() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut room, clicks) = room(Pace::Virtual, vec![]);
    let settings = Settings {
        latency: leadsman::judge::settings::Latency {
            fixed: Nanos::from_ms(7),
            periods: 1.25,
            ..Default::default()
        },
        ..Settings::default()
    };
    for (number, late_ms) in [0.0, 31.7, -12.3].into_iter().enumerate() {
        let expected = expected(100_000);
        let sheet = Sheet::new(&expected, settings, 0);
        let file = folder.path().join(format!("{number}.mid"));
        // The whole performance lies anyhow: only from the first note on it counts.
        let habits = "steady,latency-fixed-ms=7,latency-periods=1.25";
        let mut script = performance(&expected, habits, number as u64);
        let moved = Nanos::from_ms_f64(late_ms);
        script.iter_mut().for_each(|event| event.at += moved);
        let mut setup = sheet.setup(Some(&file), Some(script));
        setup.started_by = StartedBy::FirstNote;
        room.begin(setup).expect("an open room");
        let (said, over) = hear_out(&room);
        let origin = begun(&said);
        let readings = &over.played.judgement.readings;
        let first = readings[0].partner.expect("the first note");
        // To half a frame and half a tick of the file.
        assert!(
            first.offset.abs() <= Nanos(10_417 + 9_766),
            "{:?}",
            first.offset
        );
        let (take, again) = sheet.read_again(&file);
        assert_eq!(take.start.by, StartedBy::FirstNote);
        assert_eq!(&again.readings, readings);
        let first_note = origin + expected.notes[0].onset;
        let frames: Vec<u64> = sheet
            .clicks()
            .frames(frame_at(origin, RATE) as u64, RATE)
            .filter(|frame| time_of(*frame as i64, RATE) > first_note)
            .collect();
        let heard: Vec<u64> = clicks.try_iter().collect();
        assert!(
            heard
                .iter()
                .all(|frame| time_of(*frame as i64, RATE) > first_note)
        );
        assert_eq!(heard, frames);
    }
}

#[test]
fn a_take_that_is_stopped_is_kept_up_to_there_and_the_next_one_begins_clean() {
    let folder = tempfile::tempdir().expect("a folder");
    // In real time, so that there is a middle.
    let (mut room, clicks) = room(Pace::RealTime, vec![]);
    let expected = expected(300_000);
    let sheet = Sheet::new(&expected, Settings::default(), 1);
    let script = performance(&expected, "steady", 5);
    let file = folder.path().join("stopped.mid");
    room.begin(sheet.setup(Some(&file), Some(script.clone())))
        .expect("an open room");
    let mut notes = 0;
    while notes < 5 {
        let said = room
            .said()
            .recv_timeout(Duration::from_secs(60))
            .expect("more");
        notes += usize::from(matches!(said, Said::Note(..)));
        assert!(!matches!(said, Said::Over(_)));
    }
    assert!(
        room.position()
            .now()
            .is_some_and(|now| now > expected.notes[3].onset)
    );
    room.stop_take().expect("an open room");
    let (_, over) = hear_out(&room);
    assert!(over.played.end.stopped.is_some() && over.kept == Ok(()));
    let kept = Take::read(&file).expect("a take");
    assert!(kept.end.is_some_and(|end| end.stopped_ns.is_some()));
    assert!(
        (9..script.len()).contains(&kept.events.len()),
        "{}",
        kept.events.len()
    );
    std::thread::sleep(Duration::from_millis(20));
    assert_eq!(room.position().now(), None);
    clicks.try_iter().for_each(drop);
    std::thread::sleep(Duration::from_millis(200));
    assert_eq!(clicks.try_iter().count(), 0, "silence");
    let whole = folder.path().join("whole.mid");
    room.begin(sheet.setup(Some(&whole), Some(script.clone())))
        .expect("an open room");
    let (said, over) = hear_out(&room);
    assert_eq!(over.played.end.stopped, None);
    assert_eq!(over.played.judgement, sheet.alone(&script));
    assert!(said.iter().all(|said| !matches!(said, Said::Event(_))));
}

fn note_on(ms: i64) -> TimedMessage {
    TimedMessage {
        at: Nanos::from_ms(ms),
        message: MidiMessage::NoteOn {
            channel: 0,
            key: Key(28),
            velocity: 90,
        },
    }
}

fn other(ms: i64, bytes: [u8; 3]) -> TimedMessage {
    TimedMessage {
        at: Nanos::from_ms(ms),
        message: MidiMessage::Other(bytes),
    }
}

#[test]
fn between_takes_everything_is_said_and_nothing_kept_and_in_a_take_what_a_foot_switch_sends() {
    let folder = tempfile::tempdir().expect("a folder");
    let before = vec![note_on(2), note_on(5), other(9, [0xB0, 64, 127])];
    let (mut room, _clicks) = room(Pace::RealTime, before.clone());
    let mut said = Vec::new();
    while said.len() < before.len() {
        match room
            .said()
            .recv_timeout(Duration::from_secs(60))
            .expect("more")
        {
            Said::Event(event) => said.push(event),
            Said::OrdinaryPriority => {}
            other => panic!("{other:?}"),
        }
    }
    assert_eq!(said, before);
    let expected = expected(400_000);
    let sheet = Sheet::new(&expected, Settings::default(), 1);
    let mut script = performance(&expected, "exact", 1);
    let pressed = [
        other(50, [0xB0, 64, 127]),
        other(60, [0xE0, 0, 70]),
        other(70, [0xC3, 5, 0]),
        other(80, [0xD0, 60, 0]),
    ];
    script.extend(pressed);
    script.sort_by_key(|event| event.at);
    let file = folder.path().join("take.mid");
    room.begin(sheet.setup(Some(&file), Some(script.clone())))
        .expect("an open room");
    let (said, over) = hear_out(&room);
    let messages: Vec<MidiMessage> = said
        .iter()
        .filter_map(|said| match said {
            Said::Event(event) => Some(event.message),
            _ => None,
        })
        .collect();
    assert_eq!(messages, [pressed[0].message, pressed[2].message]);
    assert_eq!(over.kept, Ok(()));
    assert_eq!(
        Take::read(&file).expect("a take").events.len(),
        script.len()
    );
}

/// A session that is lost after so many polls.
struct Mortal(VirtualSession, usize);

impl Session for Mortal {
    fn sample_rate(&self) -> u32 {
        self.0.sample_rate()
    }

    fn description(&self) -> String {
        self.0.description()
    }

    fn poll(&mut self, sink: &mut dyn FnMut(TimedMessage)) -> Result<Poll, SessionLost> {
        self.1 = self.1.checked_sub(1).ok_or(SessionLost::Server)?;
        self.0.poll(sink)
    }
}

#[test]
fn a_session_that_is_lost_ends_its_take_and_closes_the_room() {
    let (switch, sound) = live::switch(Level::default());
    let session = VirtualSession::open(&Config::default(), Box::new(switch));
    let session = Box::new(Mortal(session, 1000));
    let mut room = Room::open(session, sound, Pace::Virtual, Stop::default()).expect("threads");
    let expected = expected(100_000);
    let sheet = Sheet::new(&expected, Settings::default(), 1);
    room.begin(sheet.setup(None, None)).expect("an open room");
    let (_, over) = hear_out(&room);
    assert_eq!(
        over.played.end.lost.as_deref(),
        Some("the JACK server is gone")
    );
    assert!(over.played.end.stopped.is_some());
    let last = room.said().recv_timeout(Duration::from_secs(60));
    assert_eq!(last, Ok(Said::Lost("the JACK server is gone".into())));
    while room.stop_take().is_ok() {
        std::thread::yield_now();
    }
    assert!(room.begin(sheet.setup(None, None)).is_err());
    assert_eq!(room.close(), []);
}

/// Keeps a take on a disk that stands still until it is let go.
struct StalledDisk {
    stalls: Sender<()>,
    /// Ends when the disk is let go.
    stalled: Receiver<()>,
    pushed: usize,
    finished: Sender<usize>,
}

impl Keeper for StalledDisk {
    fn push(&mut self, _: TimedMessage) {
        self.pushed += 1;
    }

    fn push_text(&mut self, _: Nanos, _: &str, _: &str) -> io::Result<()> {
        Ok(())
    }

    fn flush(&mut self) -> io::Result<()> {
        let _ = self.stalls.send(());
        assert!(self.stalled.recv().is_err());
        Ok(())
    }

    fn finish(mut self: Box<Self>) -> io::Result<()> {
        self.flush()?;
        let _ = self.finished.send(self.pushed);
        Ok(())
    }
}

#[test]
fn notes_are_told_while_the_disk_stands_still_and_all_is_kept_before_the_take_is_over() {
    let (mut room, _clicks) = room(Pace::RealTime, vec![]);
    let (stalls, has_stalled) = channel();
    let (let_go, stalled) = channel::<()>();
    let (finished, kept) = channel();
    let disk = StalledDisk {
        stalls,
        stalled,
        pushed: 0,
        finished,
    };
    let expected = expected(300_000);
    let sheet = Sheet::new(&expected, Settings::default(), 1);
    let script = performance(&expected, "steady", 5);
    let mut setup = sheet.setup(None, Some(script.clone()));
    setup.keepers.push(Box::new(disk));
    room.begin(setup).expect("an open room");
    has_stalled
        .recv_timeout(Duration::from_secs(60))
        .expect("it is brought to the disk while it is played");
    let (mut notes, mut bars) = (0, 0);
    while notes < expected.notes.len() || bars < expected.bars.len() {
        match room.said().recv_timeout(Duration::from_secs(60)) {
            Ok(Said::Note(..)) => notes += 1,
            Ok(Said::Bar(..)) => bars += 1,
            Ok(Said::Over(_)) | Err(_) => panic!("{notes} notes and {bars} bars were told"),
            Ok(_) => {}
        }
    }
    assert!(kept.try_recv().is_err());
    drop(let_go);
    let (_, over) = hear_out(&room);
    assert_eq!(over.kept, Ok(()));
    assert_eq!(kept.try_recv(), Ok(script.len()));
}

#[test]
fn closing_ends_the_take_and_keeps_it() {
    let (mut room, _clicks) = room(Pace::RealTime, vec![]);
    let expected = expected(100_000);
    let sheet = Sheet::new(&expected, Settings::default(), 1);
    let mut setup = sheet.setup(None, None);
    setup.started_by = StartedBy::FirstNote;
    room.begin(setup).expect("an open room");
    let said = room.close();
    let over = said.iter().find_map(|said| match said {
        Said::Over(over) => Some(over),
        _ => None,
    });
    let over = over.expect("the take");
    assert_eq!(over.played.end.stopped, Some(Nanos::ZERO));
    assert!(
        over.played
            .judgement
            .readings
            .iter()
            .all(|r| r.partner.is_none())
    );
}

#[test]
fn a_take_that_waits_is_stopped_and_its_first_note_begins_nothing_any_more() {
    let folder = tempfile::tempdir().expect("a folder");
    // Struck when the take has been stopped.
    let (mut room, clicks) = room(Pace::RealTime, vec![note_on(1500)]);
    let expected = expected(400_000);
    let sheet = Sheet::new(&expected, Settings::default(), 0);
    let file = folder.path().join("waited.mid");
    let mut setup = sheet.setup(Some(&file), None);
    setup.started_by = StartedBy::FirstNote;
    room.begin(setup).expect("an open room");
    room.stop_take().expect("an open room");
    let (said, over) = hear_out(&room);
    assert!(!said.iter().any(|said| matches!(said, Said::Begun(_))));
    assert_eq!(over.played.end.stopped, Some(Nanos::ZERO));
    assert_eq!((over.kept, over.played.end.lost), (Ok(()), None));
    assert_eq!(Take::read(&file).expect("a take").events, []);
    loop {
        match room.said().recv_timeout(Duration::from_secs(60)) {
            Ok(Said::Event(event)) => break assert_eq!(event, note_on(1500)),
            Ok(Said::OrdinaryPriority) => {}
            other => panic!("{other:?}"),
        }
    }
    std::thread::sleep(Duration::from_millis(200));
    assert_eq!(room.position().now(), None);
    assert_eq!(clicks.try_iter().count(), 0, "silence");
    // Nothing of it is left in the next take.
    let sheet = Sheet::new(&expected, Settings::default(), 1);
    let script = performance(&expected, "steady", 8);
    room.begin(sheet.setup(None, Some(script.clone())))
        .expect("an open room");
    let (_, over) = hear_out(&room);
    assert_eq!(over.played.judgement, sheet.alone(&script));
}

#[test]
fn stopping_between_takes_stops_nothing() {
    let (mut room, _clicks) = room(Pace::Virtual, vec![]);
    room.stop_take().expect("an open room");
    let expected = expected(100_000);
    let sheet = Sheet::new(&expected, Settings::default(), 1);
    let script = performance(&expected, "exact", 1);
    room.begin(sheet.setup(None, Some(script)))
        .expect("an open room");
    let (_, over) = hear_out(&room);
    assert_eq!(over.played.end.stopped, None);
    room.stop_take().expect("an open room");
    assert_eq!(room.close(), []);
}

#[test]
fn a_take_that_is_begun_while_one_is_played_stops_that_and_is_whole_itself() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut room, clicks) = room(Pace::RealTime, vec![]);
    let expected = expected(300_000);
    let sheet = Sheet::new(&expected, Settings::default(), 1);
    let [first, second] = [1, 2].map(|seed| performance(&expected, "steady", seed));
    let file = folder.path().join("first.mid");
    room.begin(sheet.setup(Some(&file), Some(first.clone())))
        .expect("an open room");
    let mut heard = 0;
    while heard < 3 {
        let said = room.said().recv_timeout(Duration::from_secs(60));
        heard += usize::from(matches!(said, Ok(Said::Note(..))));
    }
    // The last of a row is the one that is played.
    for _ in 0..3 {
        room.begin(sheet.setup(None, Some(first.clone())))
            .expect("an open room");
    }
    room.begin(sheet.setup(None, Some(second.clone())))
        .expect("an open room");
    let (_, stopped) = hear_out(&room);
    assert!(
        stopped
            .played
            .end
            .stopped
            .is_some_and(|at| at > Nanos::ZERO)
    );
    assert_eq!(stopped.kept, Ok(()));
    let kept = Take::read(&file).expect("a take").events.len();
    assert!((3..first.len()).contains(&kept), "{kept}");
    for _ in 0..3 {
        let (said, over) = hear_out(&room);
        assert_eq!(over.played.end.stopped, Some(Nanos::ZERO), "{said:?}");
    }
    let (said, over) = hear_out(&room);
    assert_eq!(over.played.end.stopped, None);
    assert_eq!(over.played.judgement, sheet.alone(&second));
    let frames: Vec<u64> = sheet
        .clicks()
        .frames(frame_at(begun(&said), RATE) as u64, RATE)
        .collect();
    let clicks: Vec<u64> = clicks.try_iter().collect();
    assert!(clicks.ends_with(&frames), "{clicks:?}, not {frames:?}");
}

/// What of a session can be changed from outside.
#[derive(Default)]
struct Wiring {
    is_away: AtomicBool,
    delay: AtomicI64,
    period: AtomicU32,
}

/// A session whose instrument can be unplugged.
struct Wired(ScriptedSession<VirtualSession>, Arc<Wiring>);

impl Session for Wired {
    fn sample_rate(&self) -> u32 {
        self.0.sample_rate()
    }

    fn description(&self) -> String {
        self.0.description()
    }

    fn poll(&mut self, sink: &mut dyn FnMut(TimedMessage)) -> Result<Poll, SessionLost> {
        self.0.poll(sink)
    }

    fn perform(&mut self, script: Vec<TimedMessage>) {
        self.0.perform(script);
    }

    fn input(&self) -> Input {
        match self.1.is_away.load(Ordering::Relaxed) {
            true => Input::Away,
            false => Input::Here,
        }
    }

    fn output_delay(&self) -> Option<Nanos> {
        Some(Nanos(self.1.delay.load(Ordering::Relaxed)))
    }

    fn period(&self) -> Option<u32> {
        Some(self.1.period.load(Ordering::Relaxed)).filter(|period| *period > 0)
    }
}

fn wired_room() -> (Room, Arc<Wiring>) {
    let (switch, sound) = live::switch(Level::default());
    let session = VirtualSession::open(&Config::default(), Box::new(switch));
    let wiring = Arc::new(Wiring::default());
    wiring.delay.store(5_000_000, Ordering::Relaxed);
    let session = Wired(ScriptedSession::new(session, vec![]), Arc::clone(&wiring));
    // As with a real one: what a stand-in is asked through is a box.
    let session: Box<dyn Session> = Box::new(Box::new(session) as Box<dyn Session>);
    let room = Room::open(session, sound, Pace::RealTime, Stop::default()).expect("threads");
    (room, wiring)
}

/// The next time that an input is told of, and when.
fn input_told(room: &Room) -> (Input, Nanos) {
    loop {
        match room.said().recv_timeout(Duration::from_secs(60)) {
            Ok(Said::Input(input, at)) => return (input, at),
            Ok(Said::Over(over)) => panic!("the take ended before: {over:?}"),
            Ok(_) => {}
            Err(why) => panic!("{why}"),
        }
    }
}

#[test]
fn an_instrument_that_goes_and_comes_back_is_told_of_both_times_between_takes_and_in_one() {
    let (mut room, wiring) = wired_room();
    let expected = expected(100_000);
    let sheet = Sheet::new(&expected, Settings::default(), 1);
    let unplug = |is_away| wiring.is_away.store(is_away, Ordering::Relaxed);
    for round in 0..2 {
        for is in [Input::Away, Input::Here] {
            unplug(is == Input::Away);
            let (told, at) = input_told(&room);
            assert_eq!(told, is);
            assert!(at > Nanos::ZERO, "in stream time");
        }
        let script = performance(&expected, "steady", round);
        room.begin(sheet.setup(None, Some(script.clone())))
            .expect("an open room");
        while room.position().now().is_none_or(|now| now < Nanos::ZERO) {
            std::thread::yield_now();
        }
        for is in [Input::Away, Input::Here] {
            unplug(is == Input::Away);
            let (told, at) = input_told(&room);
            assert_eq!(told, is);
            assert!(
                at >= Nanos::ZERO && at < expected.end,
                "in line time: {at:?}"
            );
        }
        let (_, over) = hear_out(&room);
        assert_eq!(over.played.end.stopped, None);
        assert_eq!(over.played.judgement, sheet.alone(&script));
    }
    // It goes in a take and comes back after it.
    room.begin(sheet.setup(None, None)).expect("an open room");
    unplug(true);
    assert_eq!(input_told(&room).0, Input::Away);
    room.stop_take().expect("an open room");
    hear_out(&room);
    unplug(false);
    assert_eq!(input_told(&room).0, Input::Here);
}

#[test]
fn the_way_to_the_ear_is_to_be_read_from_the_first_moment_on_as_it_is_now() {
    let (room, wiring) = wired_room();
    assert_eq!(room.output_delay(), Some(Nanos::from_ms(5)));
    assert_eq!(room.period(), None);
    wiring.delay.store(21_000_000, Ordering::Relaxed);
    wiring.period.store(1024, Ordering::Relaxed);
    while room.period().is_none() || room.output_delay() == Some(Nanos::from_ms(5)) {
        std::thread::yield_now();
    }
    assert_eq!(
        (room.output_delay(), room.period()),
        (Some(Nanos::from_ms(21)), Some(1024))
    );
    let (nothing_heard, _) = self::room(Pace::Virtual, vec![]);
    assert_eq!(
        (nothing_heard.output_delay(), nothing_heard.period()),
        (None, None)
    );
}

#[test]
fn the_way_to_the_ear_of_a_session_that_is_lost_is_unknown() {
    let (switch, sound) = live::switch(Level::default());
    let session = VirtualSession::open(&Config::default(), Box::new(switch));
    let session = Wired(ScriptedSession::new(session, vec![]), Arc::default());
    let stop = Stop::default();
    let room = Room::open(Box::new(session), sound, Pace::RealTime, stop.clone()).expect("threads");
    assert_eq!(room.output_delay(), Some(Nanos::ZERO));
    stop.now();
    while room.output_delay().is_some() {
        std::thread::yield_now();
    }
}

/// A switch that tells the loudest sample of each block.
struct Peaks(Switch, Sender<f32>);

impl Render for Peaks {
    fn prepare(&mut self, sample_rate: u32) {
        self.0.prepare(sample_rate);
    }

    fn render(&mut self, first_frame: u64, mut out: Stereo<'_>) {
        self.0.render(first_frame, out.lend());
        let samples = out.left.iter().chain(&*out.right);
        let peak = samples.fold(0f32, |peak, sample| peak.max(sample.abs()));
        let _ = self.1.send(peak);
    }
}

/// The loudest sample of a take whose click and, if it is to sound, line are laid out at the cap.
fn loudest(level: Level, line: Option<Level>) -> f32 {
    let (switch, sound) = live::switch(Level::QUIETEST);
    let (peaks, told) = channel();
    let session = VirtualSession::open(&Config::default(), Box::new(Peaks(switch, peaks)));
    let session = Box::new(ScriptedSession::new(session, vec![]));
    let mut room = Room::open(session, sound, Pace::Virtual, Stop::default()).expect("threads");
    assert_eq!(room.fader().level(), Level::QUIETEST);
    // Before the take's silence is over it is there.
    room.fader().set(level);
    let mut setup = Sheet::new(&expected(100_000), Settings::default(), 1).setup(None, None);
    setup.mix.click = Level::CAP.into();
    setup.mix.line = line;
    room.begin(setup).expect("an open room");
    hear_out(&room);
    told.try_iter().fold(0.0, f32::max)
}

#[test]
fn a_take_laid_out_at_the_cap_is_heard_at_the_faders_level() {
    for level in [Level::CAP, Level::default(), Level::QUIETEST] {
        let (heard, meant) = (f64::from(loudest(level, None)), level.peak());
        assert!((heard / meant - 1.0).abs() < 1e-6, "{heard}, not {meant}");
    }
    // Line and click together are bent at the cap, and not at all where they are soft.
    let full = loudest(Level::CAP, Some(Level::CAP));
    let soft = f64::from(loudest(Level::default(), Some(Level::CAP)));
    assert!(full > 0.7 && full <= 1.0, "{full}");
    let unbent = soft / Level::default().peak() * Level::CAP.peak();
    assert!(unbent > f64::from(full) + 0.01, "{unbent} and {full}");
}
