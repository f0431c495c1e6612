//! The clean-up stage never allocates for an event, nor does it hold one back for longer than it says.

use assert_no_alloc::{AllocDisabler, assert_no_alloc};
use leadsman::expected::tempo_map::Speed;
use leadsman::expected::unroll;
use leadsman::line::parse::parse;
use leadsman::played::cleanup::{Cleanup, HOLD, Rules, slide_steps};
use leadsman::played::{MidiMessage, TimedMessage};
use leadsman::stand_in::{Habits, play};
use leadsman::units::{Key, Nanos};

#[global_allocator]
static ALLOCATOR: AllocDisabler = AllocDisabler;

fn messy() -> Vec<TimedMessage> {
    let line = parse(include_str!("../lines/bilge_pump.toml"), "line.toml").expect("a line");
    let habits = Habits::named("bad-converter").expect("a player");
    play(&unroll(&line, Speed::WRITTEN), &habits, 3)
}

/// 100,000 events a second of every kind, faster than anything can play.
fn flood() -> Vec<TimedMessage> {
    (0..50_000u32)
        .map(|n| {
            let random = n.wrapping_mul(2_654_435_761) >> 8;
            let (channel, key) = ((random % 16) as u8, Key((random / 16 % 128) as u8));
            let message = match random / 4096 % 8 {
                0..4 => MidiMessage::NoteOn {
                    channel,
                    key,
                    velocity: 1 + key.0 % 127,
                },
                4..6 => MidiMessage::NoteOff { channel, key },
                6 => MidiMessage::Other([0xE0 | channel, key.0, key.0]),
                _ => MidiMessage::AllNotesOff { channel },
            };
            TimedMessage {
                at: Nanos(i64::from(n) * 10_000),
                message,
            }
        })
        .collect()
}

#[test]
fn cleaning_does_not_allocate() {
    let events = messy();
    let mut stage = Cleanup::new(Rules::ALL);
    let mut count = 0;
    assert_no_alloc(|| {
        for event in &events {
            stage.push(*event, &mut |_| count += 1);
            stage.advance(event.at, &mut |_| count += 1);
        }
        stage.finish(&mut |_| count += 1);
    });
    assert!(count > 200 && stage.cleaned().len() > 20);
}

/// A flood is cleaned up too, and of that there may be any amount; but what is held and followed has its bounds.
#[test]
fn a_flood_goes_through() {
    let events = flood();
    let ons = |events: &[TimedMessage]| {
        let is_on = |event: &&TimedMessage| matches!(event.message, MidiMessage::NoteOn { .. });
        events.iter().filter(is_on).count()
    };
    let mut stage = Cleanup::new(Rules::ALL);
    let mut came = Vec::new();
    for event in &events {
        stage.push(*event, &mut |message| came.push(message));
    }
    stage.finish(&mut |message| came.push(message));
    let taken = stage.cleaned().len();
    assert!(ons(&came) <= ons(&events) && ons(&came) + taken >= ons(&events));
}

#[test]
fn notes_are_held_back_no_longer_than_stated_and_come_in_order() {
    let mut stage = Cleanup::new(Rules::ALL);
    let mut last = Nanos(i64::MIN);
    let mut held_longest = Nanos::ZERO;
    for event in messy() {
        let mut sink = |message: TimedMessage| {
            if matches!(message.message, MidiMessage::NoteOn { .. }) {
                assert!(message.at >= last);
                last = message.at;
            }
        };
        stage.push(event, &mut sink);
        held_longest = held_longest.max(event.at - stage.horizon(event.at));
    }
    assert!(held_longest > HOLD, "a slide was held");
    assert!(held_longest <= slide_steps::LONGEST + HOLD);
}

#[test]
fn without_a_slide_nothing_is_held_back_for_longer_than_the_hold() {
    let line = parse(include_str!("../lines/bilge_pump.toml"), "line.toml").expect("a line");
    let habits = Habits::named("patchy").expect("a player");
    let mut stage = Cleanup::new(Rules::ALL);
    for event in play(&unroll(&line, Speed::WRITTEN), &habits, 3) {
        stage.push(event, &mut |_| {});
        assert!(event.at - stage.horizon(event.at) <= HOLD);
        // A moment later, with nothing else heard, everything has passed.
        let later = event.at + HOLD + Nanos(1);
        let mut clone = stage.clone();
        clone.advance(later, &mut |_| {});
        assert_eq!(clone.horizon(later), later);
    }
    let mut stage = Cleanup::new(Rules::NONE);
    let mut passed = 0;
    let events = messy();
    for event in &events {
        stage.push(*event, &mut |_| passed += 1);
        assert_eq!(stage.horizon(event.at), event.at);
    }
    assert_eq!(passed, events.len());
}
