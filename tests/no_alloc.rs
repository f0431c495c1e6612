//! What runs in a callback, and the judging thread's poll, never allocates. An allocation aborts this test binary.

use assert_no_alloc::{AllocDisabler, assert_no_alloc};
use leadsman::backend::intake::Intake;
use leadsman::backend::scripted::ScriptedSession;
use leadsman::backend::virtual_time::VirtualSession;
use leadsman::backend::{Config, Session};
use leadsman::click::{ClickRenderer, ClickTrack, Level, Pattern, Render, Silence, Stereo};
use leadsman::clock::timebase::{PortTime, Timebase};
use leadsman::expected::tempo_map::{Rate, Speed, TempoMap};
use leadsman::expected::{Expected, ExpectedBar, unroll};
use leadsman::line::Tempo;
use leadsman::line::parse::parse;
use leadsman::played::{MidiMessage, TimedMessage};
use leadsman::tone::LineAndClick;
use leadsman::units::{Key, Nanos, Ticks};
use std::sync::Arc;

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

fn renderer() -> ClickRenderer {
    let bar = ExpectedBar {
        section: 0,
        pass: 1,
        number: 1,
        onset: Nanos::ZERO,
        end: Nanos::ZERO,
        beat: Ticks(960),
        start: Ticks(0),
        length: Ticks(960 * 64),
        offset: Ticks(0),
        upbeat: (Ticks(480), 1),
        silent: false,
    };
    let expected = Expected {
        notes: vec![],
        bars: vec![bar],
        sections: vec!["A".into()],
        strings: vec![],
        open: vec![],
        tempo_map: TempoMap::new(Rate::new(Tempo(400_000), Speed::WRITTEN)),
        end: Nanos::ZERO,
    };
    let track = ClickTrack::new(&expected, 2, Pattern::Beats);
    ClickRenderer::new(track, Nanos::ZERO, Level::default())
}

#[test]
fn rendering_the_click_does_not_allocate() {
    let mut renderer = renderer();
    renderer.prepare(48_000);
    let (mut block, mut right) = (vec![0.0; 512], vec![0.0; 512]);
    let mut sounded = false;
    assert_no_alloc(|| {
        let mut frame = 0;
        for length in (1..=512).chain(1..=512) {
            renderer.render(frame, Stereo::new(&mut block[..length], &mut right));
            frame += length as u64;
            sounded |= block[..length].iter().any(|sample| *sample != 0.0);
        }
    });
    assert!(sounded);
}

#[test]
fn rendering_the_line_does_not_allocate() {
    let text = "title = \"a\"\nmeter = \"4/4\"\ntempo = 300\n[[section]]\nname = \"A\"\npasses = [0, 1, 2]\n\
         notes = \"E1+B1/8 x/8 r/8 A1/8? G2/8_ G2/8_ C3/4>\"";
    let line = parse(text, "line.toml").unwrap_or_else(|m| panic!("{}", m.render(false)));
    let expected = Arc::new(unroll(&line, Speed::WRITTEN));
    let track = ClickTrack::new(&expected, 1, Pattern::Beats);
    let mut renderer = LineAndClick::new(expected, track, Nanos::ZERO, Level::CAP);
    renderer.prepare(48_000);
    let (mut block, mut right) = (vec![0.0; 512], vec![0.0; 512]);
    let mut sounded = 0;
    assert_no_alloc(|| {
        let mut frame = 0;
        for length in (1..=512).chain(1..=512) {
            renderer.render(frame, Stereo::new(&mut block[..length], &mut right));
            // A gap now and then, as after an xrun.
            frame += length as u64 + if length == 300 { 1000 } else { 0 };
            sounded += usize::from(block[..length].iter().any(|sample| *sample != 0.0));
        }
    });
    assert!(sounded > 500, "{sounded}");
}

#[test]
fn taking_midi_in_does_not_allocate_even_when_the_ring_is_full() {
    let (mut intake, mut events) = Intake::new();
    let messages: [&[u8]; 6] = [
        &[0x90, 40, 100],
        &[0x80, 40, 0],
        &[0xB0, 123, 0],
        &[0xF8],
        &[0xF0, 1, 2, 3],
        &[],
    ];
    let mut received = 0;
    assert_no_alloc(|| {
        for stamp in 0..10_000u64 {
            for bytes in messages {
                intake.receive(stamp, bytes);
            }
        }
        while events.receive().is_some() {
            received += 1;
        }
    });
    assert!(received > 1000);
    assert_eq!(events.overflows() + received, 30_000);
}

#[test]
fn polling_does_not_allocate() {
    let note = |n: i64| TimedMessage {
        at: Nanos::from_ms(3 * n),
        message: MidiMessage::NoteOff {
            channel: 0,
            key: Key(40),
        },
    };
    let inner = VirtualSession::open(&Config::default(), Box::new(renderer()));
    let mut session = ScriptedSession::new(inner, (0..1000).map(note).collect());
    let mut count = 0;
    session.poll(&mut |_| count += 1).unwrap();
    assert_no_alloc(|| {
        for _ in 0..3000 {
            session.poll(&mut |_| count += 1).unwrap();
        }
    });
    assert_eq!(count, 1000);
}

#[test]
fn fitting_clocks_does_not_allocate() {
    let mut timebase = Timebase::new(48_000);
    let mut silence = Silence;
    let (mut heard, mut glitches) = (Nanos::ZERO, 0);
    assert_no_alloc(|| {
        for block in 0..50_000i64 {
            let now = Nanos(block * 64 * 1_000_000_000 / 48_000);
            if block % 9000 == 0 {
                timebase.break_stream();
                timebase.reconnect_port();
            }
            timebase.block(64 * block as u64, 64, now);
            heard = timebase.event(PortTime {
                stamp: now,
                arrival: now + Nanos(block % 977 * 1000),
            });
            timebase.promise(now);
            glitches += i32::from(timebase.take_glitch().is_some());
            silence.render(0, Stereo::new(&mut [], &mut []));
        }
    });
    assert!(heard > Nanos::from_ms(60_000) && glitches >= 5);
}
