//! Ten hours of play in virtual time, 20 notes a second, through the threads of a real take: memory grows by what is kept
//! of a note and by nothing else, and the last click and the last offset are as exact as the first.
//!
//! `LEADSMAN_SOAK_HOURS` makes it longer or shorter.
#![cfg(target_os = "linux")]

use leadsman::backend::scripted::ScriptedSession;
use leadsman::backend::virtual_time::VirtualSession;
use leadsman::backend::{Config, Render};
use leadsman::click::{ClickRenderer, ClickTrack, Level, Pattern, Stereo};
use leadsman::clock::frames::time_of;
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::judge::{Judgement, Settings};
use leadsman::line::parse::parse;
use leadsman::live::{self, Pace, Said, Stop};
use leadsman::midi::take_writer::TakeWriter;
use leadsman::played::TimedMessage;
use leadsman::stand_in::{Habits, play};
use leadsman::take::recording::{Recording, conduct};
use leadsman::take::{Take, TakeHead};
use leadsman::units::Nanos;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

const RATE: u32 = 48_000;
const PERIOD: u32 = 1024;
/// What the stand-in is late by, always.
const MEAN: Nanos = Nanos::from_ms(7);
/// Rounding to a file's ticks moves an event by less than this.
const TICK: Nanos = Nanos(50_000);
/// What may be kept of a note, in bytes: its event, its place in the match, its reading.
const KEPT: u64 = 100;
/// Bars a pass; a pass is a minute.
const BARS: usize = 75;

fn hours() -> f64 {
    let given = std::env::var("LEADSMAN_SOAK_HOURS").ok();
    given.and_then(|text| text.parse().ok()).unwrap_or(10.0)
}

/// Sixteenths at 301 quarter notes a minute: no beat falls on a whole frame.
fn expected() -> Arc<Expected> {
    let bar = "E2/16 A2/16 D3/16 G2/16 C3/16 F2/16 B2/16 E3/16 D3/16 A2/16 F2/16 C3/16 G2/16 E2/16 B2/16 F3/16";
    let bars = vec![bar; BARS].join(" | ");
    let passes = vec!["0"; (60.0 * hours()).ceil() as usize].join(", ");
    let text = format!(
        "title = \"The Long Night\"\nmeter = \"4/4\"\ntempo = 301\n[[section]]\nname = \"A\"\n\
         passes = [{passes}]\nnotes = \"{bars}\"\n"
    );
    let line = parse(&text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
    Arc::new(unroll(&line, Speed::WRITTEN))
}

/// The click, looked at where it has to begin.
struct Watched {
    click: ClickRenderer,
    frames: Vec<u64>,
    next: usize,
    /// The last sample of the block before.
    last: f32,
    right: Arc<AtomicU64>,
}

impl Render for Watched {
    fn prepare(&mut self, sample_rate: u32) {
        self.click.prepare(sample_rate);
    }

    fn render(&mut self, first_frame: u64, mut out: Stereo<'_>) {
        self.click.render(first_frame, out.lend());
        let out = out.left;
        let end = first_frame + out.len() as u64;
        while let Some(&frame) = self.frames.get(self.next).filter(|frame| **frame < end) {
            let at = (frame - first_frame) as usize;
            let before = at.checked_sub(1).map_or(self.last, |before| out[before]);
            let begins = before == 0.0 && out[at] != 0.0;
            self.right.fetch_add(u64::from(begins), Ordering::Relaxed);
            self.next += 1;
        }
        self.last = out.last().copied().unwrap_or(self.last);
    }
}

fn rss_kib() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").expect("Linux");
    let line = status.lines().find(|line| line.starts_with("VmRSS:"));
    let number = line.and_then(|line| line.split_whitespace().nth(1)?.parse().ok());
    number.expect("a number of KiB")
}

struct Soak {
    judgement: Judgement,
    /// Resident memory after each tenth, in KiB.
    rss: Vec<u64>,
    clicks: u64,
    right: u64,
    events: usize,
}

fn soak(expected: &Arc<Expected>) -> Soak {
    let track = ClickTrack::new(expected, 1, Pattern::Beats);
    let origin = track.origin_frame(Nanos::ZERO, RATE);
    let frames: Vec<u64> = track.frames(origin, RATE).collect();
    let (clicks, right) = (frames.len() as u64, Arc::new(AtomicU64::new(0)));
    let origin = time_of(origin as i64, RATE);
    let habits = Habits {
        mean_ms: MEAN.ms(),
        ..Habits::default()
    };
    let script: Vec<TimedMessage> = play(expected, &habits, 1)
        .into_iter()
        .map(|event| TimedMessage {
            at: event.at + origin,
            ..event
        })
        .collect();
    let events = script.len();
    let watched = Watched {
        click: ClickRenderer::new(track, Nanos::ZERO, Level::default()),
        frames,
        next: 0,
        last: 0.0,
        right: Arc::clone(&right),
    };
    let config = Config {
        sample_rate: Some(RATE),
        period: Some(PERIOD),
        ..Config::default()
    };
    let session = VirtualSession::open(&config, Box::new(watched));
    let session = ScriptedSession::new(session, script);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let file = folder.path().join("take.mid");
    let (recording, writer) = recording(expected, origin, &file);
    let live = live::start(
        Box::new(session),
        recording,
        vec![Box::new(writer)],
        Pace::Virtual,
        Stop::default(),
    )
    .expect("threads");
    let tenth = expected.bars.len().div_ceil(10);
    let mut rss = Vec::new();
    for said in live.said() {
        match said {
            Said::Bar(bar, _) if bar % tenth == tenth - 1 => rss.push(rss_kib()),
            Said::CannotWrite(why) => panic!("{why}"),
            _ => {}
        }
    }
    let (played, kept) = live.finish();
    kept.expect("a take that is kept");
    assert_eq!(Take::read(&file).expect("a take").events.len(), events);
    Soak {
        judgement: played.judgement,
        rss,
        clicks,
        right: right.load(Ordering::Relaxed),
        events,
    }
}

fn recording(
    expected: &Arc<Expected>,
    origin: Nanos,
    file: &std::path::Path,
) -> (Recording, TakeWriter) {
    let mut head = TakeHead {
        line: "The Long Night".into(),
        line_file: "line.toml".into(),
        speed: Speed::WRITTEN.0,
        start_ns: 0,
        bars: None,
        silent: None,
        settings: Settings::default(),
        player: "stand-in".into(),
        begun: String::new(),
        has_port: false,
        has_cable: false,
    };
    let conductor = conduct(expected, 1, &mut head).expect("a tempo");
    let writer = TakeWriter::create(file, &conductor).expect("a file");
    let settings = head.settings;
    let start = head.start();
    let recording = Recording::new(Arc::clone(expected), &settings, conductor, origin, start);
    (recording, writer)
}

#[test]
fn hours_of_play_grow_nothing_and_drift_nowhere() {
    let expected = expected();
    let soak = soak(&expected);
    let notes = expected.notes.len();
    let error = |index: usize| {
        let reading = &soak.judgement.readings[index];
        let partner = reading.partner.as_ref().expect("every note is matched");
        let struck = soak.judgement.played[partner.played as usize].onset;
        (struck - expected.notes[index].onset - MEAN).abs()
    };
    let worst = (0..notes).map(error).max().unwrap_or_default();
    let per_note = |from: usize, to: usize| {
        let grown = soak.rss[to].saturating_sub(soak.rss[from]) * 1024;
        grown / ((to - from) as u64 * notes as u64 / 10)
    };
    let (early, late) = (per_note(0, 4), per_note(4, 8));
    println!(
        "{:.1} h, {notes} notes, {} events: worst offset error {:.3} ms, last {:.3} ms; {} of {} clicks on their frame; \
         resident {} KiB after a tenth, {} KiB after nine, {early} then {late} bytes a note",
        expected.end.seconds() / 3600.0,
        soak.events,
        worst.ms(),
        error(notes - 1).ms(),
        soak.right,
        soak.clicks,
        soak.rss[0],
        soak.rss[8]
    );
    assert!(worst < TICK, "{} ms", worst.ms());
    assert_eq!(soak.right, soak.clicks);
    assert!(early <= KEPT && late <= KEPT, "{early}, then {late} bytes");
}
