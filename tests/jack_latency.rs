//! How true a reported offset is, and how soon after the player's event it is there, on a real JACK server.
//!
//! `LEADSMAN_LATENCY_NOTES=2000 cargo test --release --features jack --test jack_latency -- --nocapture` prints the table.
#![cfg(feature = "jack")]

mod support;

use leadsman::backend::{Backend, Config, MidiChoice, Session};
use leadsman::click::{ClickRenderer, ClickTrack, Level, Pattern};
use leadsman::clock::frames::{frame_at, time_of};
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::judge::Settings;
use leadsman::line::parse::parse;
use leadsman::played::MidiMessage;
use leadsman::take::TakeHead;
use leadsman::take::recording::{Recording, conduct};
use leadsman::units::Nanos;
use rand::{Rng, SeedableRng};
use std::sync::Arc;
use std::thread::sleep;
use std::time::Duration;
use support::jack_player::{Player, Stroke};
use support::jack_recorder::Recorder;
use support::jack_server::with_server;

const RATE: u32 = 48_000;
const LEAD: Nanos = Nanos::from_ms(1000);
/// Errors up to 20 ms: 50 ms lie between two notes.
const LARGEST_ERROR: i64 = 960;
/// The judging thread's own.
const LOOK_EVERY: Duration = Duration::from_millis(1);

fn notes() -> usize {
    let given = std::env::var("LEADSMAN_LATENCY_NOTES").ok();
    given.and_then(|text| text.parse().ok()).unwrap_or(320)
}

/// Sixteenths at 300 quarter notes a minute: 20 notes a second.
fn expected() -> Expected {
    let bar = "E2/16 A2/16 D3/16 G2/16 C3/16 F2/16 B2/16 E3/16 D3/16 A2/16 F2/16 C3/16 G2/16 E2/16 B2/16 F3/16";
    let passes = vec!["0"; notes().div_ceil(16)].join(", ");
    let text = format!(
        "title = \"Quick Soundings\"\nmeter = \"4/4\"\ntempo = 300\n[[section]]\nname = \"A\"\n\
         passes = [{passes}]\nnotes = \"{bar}\"\n"
    );
    unroll(
        &parse(&text, "line.toml").expect("a valid line"),
        Speed::WRITTEN,
    )
}

/// What was measured.
#[derive(Default)]
struct Measured {
    /// |reported − true| offset, in frames.
    distances: Vec<f64>,
    /// From the player's event to what is told of it at once, in ms. The clean-up holds the reading itself back for 45 ms.
    delays: Vec<f64>,
    /// Blocks that the server lost or made late since the first click.
    late_blocks: u64,
    /// Notes that were not sent at their frame.
    late_notes: u64,
}

/// Plays every note with an error of its own and polls as the judging thread does. The server's count of frames is the
/// clock on both sides. JACK shows a device's event in the block after the one in which it came in, at its place in
/// that: so it happened one block before the frame that it has.
fn measure(period: u32) -> Measured {
    leadsman::live::priority::raise();
    let expected = Arc::new(expected());
    let track = ClickTrack::new(&expected, 1, Pattern::Beats);
    let mut recorder = Recorder::start("latency-recorder");
    let mut player = Player::start("latency-player");
    let config = Config {
        midi: MidiChoice::Named("latency-player".into()),
        audio: Some("latency-recorder".into()),
        ..Config::default()
    };
    let click = ClickRenderer::new(track.clone(), LEAD, Level::default());
    let mut session = Backend::Jack
        .open(&config, Box::new(click))
        .expect("a session");
    let mut recording = recording(&expected, &track);
    let mut chance = rand_chacha::ChaCha8Rng::seed_from_u64(64);
    let errors: Vec<i64> = (0..expected.notes.len())
        .map(|_| chance.random_range(-LARGEST_ERROR..=LARGEST_ERROR))
        .collect();
    let mut measured = Measured::default();
    // The server's frame of bar 1 beat 1, once the first click is heard; what is struck is scheduled a second ahead.
    let mut origin = None;
    let mut scheduled = 0;
    let mut late_before = 0;
    while measured.delays.len() < expected.notes.len() {
        let mut ons = 0;
        let poll = session
            .poll(&mut |event| {
                recording.hear(event);
                ons += usize::from(matches!(event.message, MidiMessage::NoteOn { .. }));
            })
            .expect("a session that lasts");
        recording.advance(poll.watermark);
        if ons > 0 {
            // What a page shows at once is asked for, and only then is the time taken.
            let (played, note) = recording.judge().latest().expect("a note");
            let shown = note.map(|note| played.onset - expected.notes[note].onset);
            assert!(shown.is_some_and(|offset| offset.abs() < Nanos::from_ms(25)));
            let now = player.now() as i64;
            let origin = origin.expect("no note before it is scheduled");
            for _ in 0..ons {
                let note = measured.delays.len();
                let frame = origin + frame_at(expected.notes[note].onset, RATE) + errors[note];
                let at = frame - i64::from(period);
                measured
                    .delays
                    .push((now - at) as f64 * 1000.0 / f64::from(RATE));
            }
        }
        origin = origin.or_else(|| {
            let first = recorder.onsets().next()?;
            late_before = recorder.xruns();
            Some(first.frame as i64 + frame_at(-track.start(), RATE))
        });
        if let Some(origin) = origin {
            let ahead = player.now() as i64 + i64::from(RATE);
            while scheduled < errors.len() {
                let note = &expected.notes[scheduled];
                let at = origin + frame_at(note.onset, RATE) + errors[scheduled];
                if at > ahead {
                    break;
                }
                let key = note.key.expect("no dead notes here").0;
                let stroke = |frame: i64, bytes| Stroke {
                    frame: frame as u64,
                    bytes,
                };
                // Ended before the next one can begin.
                player.schedule([
                    stroke(at, [0x90, key, 90]),
                    stroke(at + 400, [0x80, key, 0]),
                ]);
                scheduled += 1;
            }
        }
        sleep(LOOK_EVERY);
    }
    measured.late_blocks = recorder.xruns() - late_before;
    measured.late_notes = player.late();
    let judgement = recording.finish();
    for (reading, error) in judgement.readings.iter().zip(&errors) {
        let note = &expected.notes[reading.note as usize];
        let Some(partner) = &reading.partner else {
            measured.late_notes += 1;
            continue;
        };
        let struck = judgement.played[partner.played as usize].onset - note.onset;
        let truth = time_of(frame_at(note.onset, RATE) + error, RATE) - note.onset;
        measured
            .distances
            .push((struck - truth).abs().ms() * f64::from(RATE) / 1000.0);
    }
    measured
}

fn recording(expected: &Arc<Expected>, track: &ClickTrack) -> Recording {
    let mut head = TakeHead {
        line: "Quick Soundings".into(),
        line_file: "line.toml".into(),
        speed: Speed::WRITTEN.0,
        start_ns: 0,
        bars: None,
        silent: None,
        settings: Settings::default(),
        player: "latency-player".into(),
        begun: String::new(),
        has_port: false,
        has_cable: false,
    };
    let conductor = conduct(expected, 1, &mut head).expect("a tempo");
    let origin = time_of(track.origin_frame(LEAD, RATE) as i64, RATE);
    Recording::new(
        Arc::clone(expected),
        &Settings::default(),
        conductor,
        origin,
        head.start(),
    )
}

/// The value below which a share of them lies.
fn quantile(sorted: &[f64], share: f64) -> f64 {
    sorted[((sorted.len() as f64 * share) as usize).min(sorted.len() - 1)]
}

fn measure_and_print(period: u32) {
    for _ in 0..6 {
        let mut measured = measure(period);
        measured.distances.sort_by(f64::total_cmp);
        measured.delays.sort_by(f64::total_cmp);
        let row = |values: &[f64]| {
            [0.5, 0.99, 0.999, 1.0]
                .map(|share| format!("{:.2}", quantile(values, share)))
                .join(" | ")
        };
        let aim = 2000.0 * f64::from(period) / f64::from(RATE) + 1.0;
        println!("| notes | frames a block | what | p50 | p99 | p99.9 | most |");
        let notes = measured.delays.len();
        let distances = row(&measured.distances);
        println!("| {notes} | {period} | offset, reported − true, frames | {distances} |");
        let delays = row(&measured.delays);
        println!("| {notes} | {period} | event to reading, ms (aim {aim:.2}) | {delays} |");
        let late = (measured.late_blocks, measured.late_notes);
        println!("late blocks and notes: {late:?}");
        // A file's ticks are coarser than a frame or not; an event is never more than one frame beside the truth. How
        // soon it is there depends on the machine: that is measured, not tested.
        let worst = measured.distances.last().copied().unwrap_or(f64::NAN);
        if late != (0, 0) && worst > 1.0 {
            continue;
        }
        assert!(worst <= 1.0, "{worst} frames");
        return;
    }
    panic!("the machine is too busy for a JACK server: six runs lost blocks");
}

#[test]
fn offsets_are_true_to_a_frame_in_short_blocks() {
    with_server("offsets_are_true_to_a_frame_in_short_blocks", 64, || {
        measure_and_print(64);
    });
}

#[test]
fn offsets_are_true_to_a_frame_in_long_blocks() {
    with_server("offsets_are_true_to_a_frame_in_long_blocks", 1024, || {
        measure_and_print(1024);
    });
}
