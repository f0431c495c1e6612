//! The switch of a room with a take's sound in it, taken out of its session so that single blocks can be measured.

use leadsman::backend::virtual_time::VirtualSession;
use leadsman::backend::{Config, Poll, Render, Session, SessionLost};
use leadsman::click::{ClickTrack, Level, Stereo};
use leadsman::expected::Expected;
use leadsman::judge::Settings;
use leadsman::live::{self, Pace, Room, Said, Stop, Switch, TakeSetup};
use leadsman::played::TimedMessage;
use leadsman::take::recording::conduct;
use leadsman::take::{StartedBy, TakeHead};
use leadsman::tone::Mix;
use leadsman::units::Nanos;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};

/// Frames a block in the room.
const BLOCK: u64 = 64;

/// A take's sound in the switch that plays it.
pub struct Playing {
    /// The switch.
    pub switch: Switch,
    /// The stream's frame of bar 1 beat 1.
    pub origin: u64,
    /// Dropped before the room, whose session waits for that.
    _end: Sender<()>,
    _room: Room,
}

/// Shared with the session for as long as it plays by itself.
#[derive(Clone)]
struct Shared(Arc<Mutex<Option<Switch>>>);

impl Render for Shared {
    fn prepare(&mut self, sample_rate: u32) {
        if let Some(switch) = &mut *self.0.lock().expect("no panic") {
            switch.prepare(sample_rate);
        }
    }

    fn render(&mut self, first_frame: u64, out: Stereo<'_>) {
        if let Some(switch) = &mut *self.0.lock().expect("no panic") {
            switch.render(first_frame, out);
        }
    }
}

/// Stands still from when the take's sound has begun.
struct Paused {
    inner: VirtualSession,
    polls: u32,
    end: Receiver<()>,
}

impl Session for Paused {
    fn sample_rate(&self) -> u32 {
        self.inner.sample_rate()
    }

    fn description(&self) -> String {
        self.inner.description()
    }

    fn poll(&mut self, sink: &mut dyn FnMut(TimedMessage)) -> Result<Poll, SessionLost> {
        self.polls += 1;
        if self.polls > 8 {
            let _ = self.end.recv();
            return Err(SessionLost::Server);
        }
        self.inner.poll(sink)
    }
}

/// Begins a take of the line in a room.
pub fn playing(expected: Arc<Expected>, clicks: ClickTrack, mix: impl Into<Mix>) -> Playing {
    let (switch, sound) = live::switch(Level::CAP);
    let shared = Shared(Arc::new(Mutex::new(Some(switch))));
    let config = Config {
        period: Some(BLOCK as u32),
        ..Config::default()
    };
    let (end, ends) = channel();
    let session = Box::new(Paused {
        inner: VirtualSession::open(&config, Box::new(shared.clone())),
        polls: 0,
        end: ends,
    });
    let mut room = Room::open(session, sound, Pace::Virtual, Stop::default()).expect("threads");
    room.begin(setup(expected, clicks, mix.into()))
        .expect("an open room");
    let origin = room.said().iter().find_map(|said| match said {
        Said::Begun(origin) => Some(origin),
        _ => None,
    });
    let origin = origin.expect("it begins");
    let switch = shared.0.lock().expect("no panic").take();
    Playing {
        switch: switch.expect("it was there"),
        origin: leadsman::clock::frames::frame_at(origin, room.sample_rate()) as u64,
        _end: end,
        _room: room,
    }
}

fn setup(expected: Arc<Expected>, clicks: ClickTrack, mix: Mix) -> TakeSetup {
    let mut head = TakeHead {
        line: "Bench".into(),
        line_file: "bench.toml".into(),
        speed: 100_000,
        start_ns: 0,
        bars: None,
        silent: None,
        settings: Settings::default(),
        player: String::new(),
        begun: String::new(),
        has_port: false,
        has_cable: false,
    };
    let conductor = conduct(&expected, 0, &mut head).expect("a tempo");
    TakeSetup {
        settings: head.settings,
        conductor,
        start: head.start(),
        keepers: vec![],
        clicks,
        mix,
        lead: Nanos::ZERO,
        started_by: StartedBy::Click,
        stand_in: None,
        expected,
    }
}
