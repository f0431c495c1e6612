//! What runs on the real-time thread takes no memory. `assert_no_alloc` only watches where its allocator is installed, so
//! this test is a program of its own.

use assert_no_alloc::{AllocDisabler, assert_no_alloc};
use leadsman::midi::message;
use leadsman::played::TimedMessage;
use leadsman::played::pairing::{NoteEvent, Pairing};
use leadsman::units::Nanos;

#[global_allocator]
static WATCHED: AllocDisabler = AllocDisabler;

#[test]
fn reading_messages_and_pairing_notes_allocates_nothing() {
    let mut pairing = Pairing::new();
    let (mut started, mut ended) = (0, 0);
    let mut take = |at: i64, bytes: &[u8]| {
        let Some(message) = message::parse(bytes) else {
            return;
        };
        let at = Nanos(at);
        pairing.push(TimedMessage { at, message }, |event| match event {
            NoteEvent::Started { .. } => started += 1,
            NoteEvent::Ended { .. } => ended += 1,
        });
    };
    assert_no_alloc(|| {
        for at in 0..10_000 {
            take(at, &[0x90, (at % 128) as u8, 1]);
            take(at, &[0xF8]);
            take(at, &[0x80, (at % 120) as u8, 0]);
        }
        take(10_000, &[0xB0, 123, 0]);
    });
    assert_eq!((started, ended), (10_000, 10_000));
}
