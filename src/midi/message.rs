//! Bytes of one MIDI message to what they mean for notes, and back.
//!
//! Nothing here allocates, locks or panics: it may be called from a real-time thread.

use crate::played::MidiMessage;
use crate::units::Key;

/// The bytes of one channel voice message: two or three.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MessageBytes {
    bytes: [u8; 3],
    length: u8,
}

impl MessageBytes {
    /// The status byte and its data bytes.
    pub fn as_slice(&self) -> &[u8] {
        &self.bytes[..usize::from(self.length)]
    }
}

/// Reads the one message that a port delivered.
///
/// A note-on of velocity 0 is a note-off; control changes 120 and 123 to 127 end all notes of their channel. System and
/// real-time messages, and bytes that are no whole message (no status byte, too few data bytes, a data byte above 127),
/// give `None`. Bytes after the message are not looked at: some drivers pad two-byte messages.
pub fn parse(bytes: &[u8]) -> Option<MidiMessage> {
    let (&status, data) = bytes.split_first()?;
    let data = data.get(..data_length(status)?)?;
    from_parts(status, data)
}

/// The bytes of a message, with a release velocity of 64 (what the MIDI standard asks of an instrument that measures
/// none). `None` for a message that cannot be one: a channel above 15, a data byte above 127, velocity 0, or other bytes
/// that are no channel voice message.
pub fn encode(message: MidiMessage) -> Option<MessageBytes> {
    let bytes = match message {
        MidiMessage::NoteOn { velocity: 0, .. } => return None,
        MidiMessage::NoteOn {
            channel,
            key,
            velocity,
        } => [status(0x90, channel)?, key.0, velocity],
        MidiMessage::NoteOff { channel, key } => [status(0x80, channel)?, key.0, 64],
        MidiMessage::AllNotesOff { channel } => [status(0xB0, channel)?, 123, 0],
        MidiMessage::Other(bytes) => bytes,
    };
    let length = data_length(bytes[0])?;
    let data_is_valid = bytes[1..=length].iter().all(|&byte| byte < 0x80);
    data_is_valid.then_some(MessageBytes {
        bytes,
        length: length as u8 + 1,
    })
}

/// How many data bytes follow a channel voice status byte; `None` for any other byte.
pub(crate) fn data_length(status: u8) -> Option<usize> {
    match status {
        0x80..=0xBF | 0xE0..=0xEF => Some(2),
        0xC0..=0xDF => Some(1),
        _ => None,
    }
}

/// A channel voice message from its status byte and exactly its data bytes.
pub(crate) fn from_parts(status: u8, data: &[u8]) -> Option<MidiMessage> {
    if data.iter().any(|&byte| byte >= 0x80) {
        return None;
    }
    let (first, second) = (*data.first()?, data.get(1).copied().unwrap_or(0));
    let channel = status & 0x0F;
    Some(match (status & 0xF0, first) {
        (0x90, _) if second > 0 => MidiMessage::NoteOn {
            channel,
            key: Key(first),
            velocity: second,
        },
        (0x80 | 0x90, _) => MidiMessage::NoteOff {
            channel,
            key: Key(first),
        },
        (0xB0, 120 | 123..=127) => MidiMessage::AllNotesOff { channel },
        _ => MidiMessage::Other([status, first, second]),
    })
}

fn status(kind: u8, channel: u8) -> Option<u8> {
    (channel < 16).then_some(kind | channel)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_note_on_of_velocity_zero_ends_the_note() {
        let off = MidiMessage::NoteOff {
            channel: 2,
            key: Key(40),
        };
        assert_eq!(parse(&[0x92, 40, 0]), Some(off));
        assert_eq!(parse(&[0x82, 40, 64]), Some(off));
    }

    #[test]
    fn the_control_changes_that_end_notes_are_120_and_123_to_127() {
        for controller in 0..128 {
            let ends = matches!(
                parse(&[0xB3, controller, 0]),
                Some(MidiMessage::AllNotesOff { channel: 3 })
            );
            assert_eq!(
                ends,
                controller == 120 || controller >= 123,
                "controller {controller}"
            );
        }
    }

    #[test]
    fn system_bytes_and_fragments_are_no_messages() {
        for bytes in [
            &[][..],
            &[0xF8],
            &[0xFE],
            &[0xF0, 1, 0xF7],
            &[0xF2, 0, 0],
            &[0x90, 40],
            &[0x90, 0xF8, 40],
            &[40, 100],
        ] {
            assert_eq!(parse(bytes), None, "{bytes:02X?}");
        }
    }

    #[test]
    fn what_cannot_be_sent_is_not_encoded() {
        let key = Key(40);
        for message in [
            MidiMessage::NoteOn {
                channel: 0,
                key,
                velocity: 0,
            },
            MidiMessage::NoteOff { channel: 16, key },
            MidiMessage::NoteOff {
                channel: 0,
                key: Key(128),
            },
            MidiMessage::Other([0xF8, 0, 0]),
            MidiMessage::Other([0xE0, 0, 200]),
        ] {
            assert_eq!(encode(message), None, "{message:?}");
        }
    }

    proptest! {
        #[test]
        fn random_bytes_never_panic_and_what_is_read_survives_the_way_back(bytes in prop::collection::vec(any::<u8>(), 0..5)) {
            if let Some(message) = parse(&bytes) {
                let encoded = encode(message).expect("what was read can be written");
                prop_assert_eq!(parse(encoded.as_slice()), Some(message));
            }
        }

        #[test]
        fn any_message_at_all_is_encoded_or_refused_without_panic(bytes: [u8; 3], channel: u8, key: u8, velocity: u8) {
            encode(MidiMessage::Other(bytes));
            encode(MidiMessage::NoteOn { channel, key: Key(key), velocity });
            encode(MidiMessage::NoteOff { channel, key: Key(key) });
            encode(MidiMessage::AllNotesOff { channel });
        }
    }
}
