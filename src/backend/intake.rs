//! The MIDI callback's path: bytes in, message into the ring.

use super::ring::{EVENTS, RingReceiver, RingSender, ring};
use crate::midi::message::parse;
use crate::played::MidiMessage;

/// A message with whatever its backend knows about its time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stamped<S> {
    /// The backend's stamp.
    pub stamp: S,
    /// What came.
    pub message: MidiMessage,
}

/// The callback's end of the path. Real-time safe.
pub struct Intake<S> {
    sender: RingSender<Stamped<S>>,
}

impl<S: Copy> Intake<S> {
    /// An intake and the end that the judging thread drains.
    pub fn new() -> (Intake<S>, RingReceiver<Stamped<S>>) {
        let (sender, receiver) = ring(EVENTS);
        (Intake { sender }, receiver)
    }

    /// Takes the bytes of one message. System messages and damaged ones are left out; a full ring is counted.
    pub fn receive(&mut self, stamp: S, bytes: &[u8]) {
        if let Some(message) = parse(bytes) {
            // The ring counts what it cannot take; there is nothing else to do in a callback.
            let _ = self.sender.send(Stamped { stamp, message });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Key;

    #[test]
    fn notes_go_through_and_system_messages_do_not() {
        let (mut intake, mut receiver) = Intake::new();
        intake.receive(7, &[0x92, 40, 100]);
        intake.receive(8, &[0xF8]);
        intake.receive(8, &[0xFE]);
        intake.receive(8, &[]);
        intake.receive(9, &[0x92, 40, 0]);
        let on = receiver.receive().unwrap();
        assert_eq!(on.stamp, 7);
        assert!(matches!(
            on.message,
            MidiMessage::NoteOn {
                channel: 2,
                key: Key(40),
                velocity: 100
            }
        ));
        let off = receiver.receive().unwrap();
        assert_eq!(off.stamp, 9);
        assert!(matches!(
            off.message,
            MidiMessage::NoteOff {
                channel: 2,
                key: Key(40)
            }
        ));
        assert_eq!(receiver.receive(), None);
    }

    #[test]
    fn a_full_ring_is_counted() {
        let (mut intake, receiver) = Intake::new();
        for _ in 0..EVENTS + 3 {
            intake.receive((), &[0x90, 40, 100]);
        }
        assert_eq!(receiver.overflows(), 3);
    }
}
