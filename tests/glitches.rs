//! Takes with glitches: what fell into one is unjudged, live and read again alike, and the file has it at once.

mod takes;

use leadsman::backend::scripted::ScriptedSession;
use leadsman::backend::virtual_time::VirtualSession;
use leadsman::backend::{Config, Poll, Session, SessionLost};
use leadsman::click::Silence;
use leadsman::clock::glitch::{Glitch, GlitchKind};
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::judge::judge::{judge, judge_with_glitches};
use leadsman::judge::{Judgement, Settings, Timing};
use leadsman::line::parse::parse;
use leadsman::live::{self, Pace, Played, Stop};
use leadsman::midi::take_writer::TakeWriter;
use leadsman::played::TimedMessage;
use leadsman::stand_in::{Habits, play};
use leadsman::take::recording::{Recording, conduct};
use leadsman::take::{Take, TakeHead};
use leadsman::units::Nanos;
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Sender, channel};
use std::time::{Duration, Instant};
use takes::Bench;

const LINE: &str = "title = \"Shoal Water\"\nmeter = \"4/4\"\ntempo = 120\n[[section]]\nname = \"A\"\n\
     passes = [0, 0, 0, 0, 0, 0]\nnotes = \"r/8 A2/8 D2/4 r/8 F2/8 A2/4 | r/8 G2/8 C2/4 E2/4 D2/4\"";

/// Bar 1 beat 1 in stream time.
const ORIGIN: Nanos = Nanos::from_ms(3000);

/// A session that reports glitches when the stream has come to them.
struct Glitchy {
    inner: ScriptedSession<VirtualSession>,
    /// In order of their ends.
    glitches: Vec<Glitch>,
    /// When all were reported for a second: reads the file until it has them, and sends them.
    witness: Option<(PathBuf, Sender<Vec<Glitch>>)>,
}

impl Session for Glitchy {
    fn sample_rate(&self) -> u32 {
        self.inner.sample_rate()
    }

    fn description(&self) -> String {
        self.inner.description()
    }

    fn poll(&mut self, sink: &mut dyn FnMut(TimedMessage)) -> Result<Poll, SessionLost> {
        let mut poll = self.inner.poll(sink)?;
        poll.counters.xruns = 1;
        let is_due = |glitch: &Glitch| glitch.until < poll.watermark;
        if self.glitches.first().is_some_and(is_due) {
            poll.glitch = Some(self.glitches.remove(0));
        } else if self.glitches.is_empty()
            && let Some((path, found)) = self.witness.take()
        {
            let _ = found.send(glitches_in(&path));
        }
        Ok(poll)
    }
}

/// What the file of a take that goes on says; waits for it.
fn glitches_in(path: &Path) -> Vec<Glitch> {
    let start = Instant::now();
    loop {
        let found = Take::read(path).expect("a take").glitches;
        if !found.is_empty() || start.elapsed() > Duration::from_secs(20) {
            return found;
        }
        std::thread::sleep(Duration::from_millis(20));
    }
}

struct Scene {
    bench: Bench,
    expected: Arc<Expected>,
    settings: Settings,
    events: Vec<TimedMessage>,
}

impl Scene {
    fn new(habits: &str) -> Scene {
        let line = parse(LINE, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
        let expected = Arc::new(unroll(&line, Speed::WRITTEN));
        let habits: Habits = habits.parse().expect("habits");
        let mut settings = Settings::default();
        settings.latency.fixed = Nanos::from_ms(9);
        settings.latency.periods = 0.5;
        Scene {
            bench: Bench::new(LINE),
            events: play(&expected, &habits, 11),
            expected,
            settings,
        }
    }

    fn path(&self) -> PathBuf {
        self.bench.path("take.mid")
    }

    /// Plays the take with glitches given in line time; returns it and what the file had before its end.
    fn play(&self, glitches: &[Glitch]) -> (Played, Vec<Glitch>) {
        let in_stream = |at: Nanos| at + ORIGIN;
        let script = self.events.iter().map(|event| TimedMessage {
            at: in_stream(event.at),
            ..*event
        });
        let mut head = TakeHead {
            line: "Shoal Water".into(),
            line_file: "line.toml".into(),
            speed: 100_000,
            start_ns: 0,
            bars: None,
            silent: None,
            settings: self.settings,
            player: "a stand-in".into(),
            has_port: false,
            has_cable: false,
            begun: "now".into(),
        };
        let conductor = conduct(&self.expected, 1, &mut head).expect("a conductor");
        let writer = TakeWriter::create(&self.path(), &conductor).expect("a file");
        let recording = Recording::new(
            Arc::clone(&self.expected),
            &self.settings,
            conductor,
            ORIGIN,
            head.start(),
        );
        let (sender, found) = channel();
        let session = Glitchy {
            inner: ScriptedSession::new(
                VirtualSession::open(&Config::default(), Box::new(Silence)),
                script.collect(),
            ),
            glitches: glitches
                .iter()
                .map(|glitch| glitch.map(in_stream))
                .collect(),
            witness: (!glitches.is_empty()).then(|| (self.path(), sender)),
        };
        let live = live::start(
            Box::new(session),
            recording,
            vec![Box::new(writer)],
            Pace::Virtual,
            Stop::default(),
        )
        .expect("threads");
        live.said().for_each(drop);
        let (played, kept) = live.finish();
        kept.expect("a file kept whole");
        (played, found.try_iter().flatten().collect())
    }

    /// The take as it is read again.
    fn read_again(&self) -> Judgement {
        let take = Take::read(&self.path()).expect("a take");
        let start = take.head.expect("a head").start();
        let glitches: Vec<Glitch> = take
            .glitches
            .iter()
            .map(|glitch| glitch.map(|at| at - start))
            .collect();
        let events = take.events.iter().map(|event| TimedMessage {
            at: event.at - start,
            ..*event
        });
        judge_with_glitches(
            Arc::clone(&self.expected),
            &self.settings,
            &glitches,
            events,
        )
    }

    fn check(&self) -> Value {
        let ran = self
            .bench
            .run(&["check", "line.toml", "take.mid", "--json"]);
        assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
        let schema = std::fs::read_to_string(
            Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/schema/check.schema.json"),
        );
        let schema: Value = serde_json::from_str(&schema.expect("a schema")).expect("JSON");
        let schema = jsonschema::validator_for(&schema).expect("a schema");
        let json = ran.json();
        assert!(
            schema.is_valid(&json),
            "{:?}",
            schema.iter_errors(&json).next()
        );
        json
    }
}

fn glitch(from_ms: i64, until_ms: i64, what: GlitchKind) -> Glitch {
    Glitch {
        from: Nanos::from_ms(from_ms),
        until: Nanos::from_ms(until_ms),
        what,
    }
}

#[test]
fn what_fell_into_a_glitch_is_unjudged_and_the_rest_is_as_without() {
    let scene = Scene::new("unsteady,latency-fixed-ms=9,latency-periods=0.5");
    let glitches = [
        glitch(2400, 3100, GlitchKind::Xrun),
        glitch(9000, 9000, GlitchKind::Moved),
        glitch(10_200, 12_000, GlitchKind::ClockReset),
    ];
    let (played, before_the_end) = scene.play(&glitches);
    let live = played.judgement;
    assert_eq!(before_the_end.len(), 3, "written as it happens");
    assert_eq!(live, scene.read_again(), "to the bit");

    let without = judge(
        Arc::clone(&scene.expected),
        &scene.settings,
        scene.events.iter().copied(),
    );
    let mut unjudged = 0;
    for (reading, plain) in live.readings.iter().zip(&without.readings) {
        let (Some(partner), Some(plain)) = (reading.partner, plain.partner) else {
            assert_eq!(reading.partner.is_some(), plain.partner.is_some());
            continue;
        };
        let at = live.played[partner.played as usize];
        // Events are in doubt by when the port said them, latency and all.
        let said = at.onset + Nanos::from_ms(9) + Nanos::from_seconds(0.5 / at.key.frequency_hz());
        let is_doubtful = glitches.iter().any(|glitch| glitch.has(said));
        assert_eq!(partner.timing == Timing::Unjudged, is_doubtful, "{said:?}");
        if !is_doubtful {
            assert_eq!(partner.timing, plain.timing);
        }
        unjudged += u64::from(is_doubtful);
        assert_eq!((partner.pitch, partner.length), (plain.pitch, plain.length));
    }
    assert!((5..20).contains(&unjudged), "{unjudged}");

    let json = scene.check();
    assert_eq!(json["summary"]["timing_unjudged"], unjudged);
    let notes = json["notes"].as_array().unwrap();
    let timed: Vec<f64> = notes
        .iter()
        .filter(|note| !note["played"].is_null() && note["timing"] != "unjudged")
        .map(|note| note["offset_ms"].as_f64().unwrap())
        .collect();
    let mean = timed.iter().sum::<f64>() / timed.len() as f64;
    assert!((json["summary"]["offset_mean_ms"].as_f64().unwrap() - mean).abs() < 1e-6);
    let trust = &json["take"]["trust"];
    assert_eq!(
        (&trust["xruns"], &trust["mostly"]),
        (&1.into(), &"rounding".into())
    );
    let told = trust["glitches"].as_array().unwrap();
    assert_eq!(told.len(), 3);
    // Written to the file's ticks, 16 µs at this tempo.
    assert!((told[0]["from_s"].as_f64().unwrap() - 2.4).abs() < 20e-6);
    assert_eq!(told[2]["what"], "clock-reset");
    let text = scene.bench.run(&["check", "line.toml", "take.mid"]).out;
    let line = format!("{unjudged} notes in a glitch and unjudged");
    let text = text.replace('\n', " ");
    assert!(
        text.contains(&line) && text.contains("1 late audio block"),
        "{text}"
    );
}

#[test]
fn a_glitch_over_everything_leaves_no_finding() {
    let scene = Scene::new("late-entries,latency-fixed-ms=9,latency-periods=0.5");
    scene.play(&[]);
    assert_eq!(scene.check()["findings"][0]["id"], "late-entries");
    std::fs::remove_file(scene.path()).expect("a file");
    let (played, _) = scene.play(&[glitch(-1000, 24_000, GlitchKind::ClockReset)]);
    assert_eq!(played.judgement, scene.read_again());
    let json = scene.check();
    assert_eq!(json["findings"], serde_json::json!([]));
    let sum = &json["summary"];
    assert_eq!(sum["timing_unjudged"], sum["matched"]);
    assert_eq!(
        (&sum["timing_in"], &sum["offset_mean_ms"]),
        (&0.into(), &Value::Null)
    );
    assert_eq!(
        sum["pitch_right"], sum["matched"],
        "the keys are still what they were"
    );
}

#[test]
fn notes_that_may_have_been_lost_are_not_missed() {
    let mut scene = Scene::new("exact,latency-fixed-ms=9,latency-periods=0.5");
    let lost = glitch(4000, 6100, GlitchKind::Lost);
    let all = scene.events.len();
    scene.events.retain(|event| !lost.has(event.at));
    assert!(scene.events.len() < all);
    scene.play(&[]);
    let missed = scene.check()["summary"]["missed"].as_u64().unwrap();
    assert!(missed >= 4, "{missed}");
    std::fs::remove_file(scene.path()).expect("a file");
    let (played, _) = scene.play(&[lost]);
    assert_eq!(played.judgement, scene.read_again());
    let json = scene.check();
    let sum = &json["summary"];
    assert_eq!(sum["missed"], 0);
    assert_eq!(sum["expected"], sum["matched"]);
    let unheard = json["notes"].as_array().unwrap().iter();
    let unheard = unheard.filter(|note| note["played"].is_null() && note["timing"] == "unjudged");
    assert_eq!(unheard.count() as u64, missed);
}
