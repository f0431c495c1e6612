//! Judging takes all its memory before the first note: nothing that the judging thread calls for an event allocates.
//!
//! `assert_no_alloc` ends the program at the first allocation inside it. That it does so is checked by letting a copy
//! of this program run into it.

#![cfg(debug_assertions)] // without them the allocator checks nothing

mod expected_line;

use assert_no_alloc::{AllocDisabler, assert_no_alloc};
use leadsman::clock::glitch::{Glitch, GlitchKind};
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::{Expected, unroll};
use leadsman::judge::{Judge, Settings};
use leadsman::played::TimedMessage;
use leadsman::stand_in;
use leadsman::take::TakeHead;
use leadsman::take::recording::{Recording, conduct};
use leadsman::units::Nanos;
use std::hint::black_box;
use std::process::Command;
use std::sync::Arc;

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

/// Set for the copy of this program that is to run into an allocation.
const TO_FAIL: &str = "LEADSMAN_TEST_ALLOCATES";
/// The thread's clock is read this often between events.
const LOOK_EVERY: Nanos = Nanos::from_ms(23);

/// 5,000 notes: upbeat entries, repeated pitches and a dead note.
fn line() -> Arc<Expected> {
    let mut line = expected_line::line(
        "r/8 A2/8 D3/8 D3/8 r/8 F2/8 A2/4 | G2/8 G2/8 C2/8 E2/8 G2/8 A2/8 A2/8 G2/8 | F2/4 A2/8 x/8 C3/4 A2/4",
    );
    line.sections[0].passes = [0, 0, 2].into_iter().cycle().take(278).collect();
    let expected = unroll(&line, Speed::WRITTEN);
    assert!(expected.notes.len() >= 5_000);
    Arc::new(expected)
}

const PLAYERS: [&str; 6] = [
    "steady",
    "patchy",
    "spread-ms=30,mean-ms=80,wrong-frets=0.05,dropped=0.05,extra=0.05",
    // A beat late and more: every note is followed off its place.
    "steady,latency-fixed-ms=500",
    // Much to clean up.
    "bad-converter",
    "bad-converter,string-channels=1",
];

fn takes(expected: &Expected) -> impl Iterator<Item = (&'static str, Vec<TimedMessage>)> + '_ {
    PLAYERS.into_iter().map(|player| {
        let habits = player.parse().expect("habits");
        (player, stand_in::play(expected, &habits, 3))
    })
}

#[test]
fn judging_an_event_never_allocates() {
    let expected = line();
    for (player, events) in takes(&expected) {
        let mut judge = Judge::new(Arc::clone(&expected), &Settings::default());
        let mut now = events[0].at;
        for event in events {
            assert_no_alloc(|| {
                while now < event.at {
                    judge.advance(now);
                    now += LOOK_EVERY;
                }
                judge.push(event);
                let settled = judge.settled();
                for note in settled.saturating_sub(4)..(settled + 4).min(expected.notes.len()) {
                    black_box(judge.reading(note));
                }
                black_box(judge.latest());
            });
        }
        let heard = judge.finish().readings;
        let heard = heard
            .iter()
            .filter(|reading| reading.partner.is_some())
            .count();
        assert!(heard > 4_000, "{player}: {heard}");
    }
}

#[test]
fn recording_an_event_never_allocates() {
    let expected = line();
    let mut head = TakeHead {
        has_cable: false,
        has_port: false,
        line: "Test".into(),
        line_file: "test.toml".into(),
        speed: 100_000,
        start_ns: 0,
        bars: None,
        silent: None,
        settings: Settings::default(),
        player: "a stand-in".into(),
        begun: "2026-01-01T00:00:00Z".into(),
    };
    let conductor = conduct(&expected, 1, &mut head).expect("a tempo map");
    for (player, events) in takes(&expected) {
        let (start, settings) = (Nanos(head.start_ns), &head.settings);
        let (line, conductor) = (Arc::clone(&expected), conductor.clone());
        let mut recording = Recording::new(line, settings, conductor, Nanos::ZERO, start);
        let (mut now, mut bars) = (events[0].at, 0);
        for event in events {
            assert_no_alloc(|| {
                while now < event.at {
                    recording.advance(now);
                    while black_box(recording.next_bar_over(now)).is_some() {
                        bars += 1;
                    }
                    now += LOOK_EVERY;
                }
                black_box(recording.hear(event));
                recording.doubt(recording.in_file(Glitch {
                    from: event.at,
                    until: event.at,
                    what: GlitchKind::Moved,
                }));
            });
        }
        assert!(bars > expected.bars.len() - 3, "{player}: {bars} bars");
    }
}

/// Only the copy runs into it.
#[test]
fn an_allocation_ends_the_program() {
    if std::env::var_os(TO_FAIL).is_some() {
        assert_no_alloc(|| drop(black_box(vec![0u8; 64])));
        return;
    }
    let this_program = std::env::current_exe().expect("a program");
    let copy = Command::new(this_program)
        .args(["--exact", "an_allocation_ends_the_program"])
        .env(TO_FAIL, "1")
        .output()
        .expect("it runs");
    assert!(!copy.status.success());
}
