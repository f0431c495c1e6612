//! What a foot switch sends.

use crate::played::MidiMessage;
use serde::{Deserialize, Serialize};
use std::fmt;

/// A control change or a program change that is bound to a command. In the settings file, channels from 1:
///
/// ```toml
/// again = { control = 64, channel = 1 }
/// next = { program = 3, channel = 1 }
/// slower = { control = 80, channel = 1, press = "each" }
/// ```
///
/// Without `channel` every channel counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "Written", into = "Written")]
pub enum Trigger {
    /// A control change.
    Control {
        /// 0 to 119.
        number: u8,
        /// 0 to 15; `None`: any.
        channel: Option<u8>,
        /// What of it is a press.
        press: Press,
    },
    /// A program change.
    Program {
        /// 0 to 127.
        number: u8,
        /// 0 to 15; `None`: any.
        channel: Option<u8>,
    },
}

/// What of a control's values is a press.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Press {
    /// A value that rises through 64: a switch that sends one value when it is pressed and another when it is let go, or a
    /// pedal that sweeps.
    #[default]
    Rise,
    /// Each message: a switch that stays down until it is pressed again, or that sends the same value at every press.
    Each,
}

/// As it stands in the settings file.
#[derive(Clone, Copy, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    #[serde(skip_serializing_if = "Option::is_none")]
    control: Option<u8>,
    #[serde(skip_serializing_if = "Option::is_none")]
    program: Option<u8>,
    #[serde(skip_serializing_if = "Option::is_none")]
    channel: Option<u8>,
    #[serde(skip_serializing_if = "Option::is_none")]
    press: Option<Press>,
}

/// The table is no trigger.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotATrigger {
    /// Both, or none of them.
    #[error("write either a control (0 to 119) or a program (0 to 127)")]
    OneOf,
    /// No such number.
    #[error("controls are 0 to 119, programs 0 to 127")]
    Number,
    /// No such channel.
    #[error("channels are 1 to 16")]
    Channel,
    /// A program change is a press and nothing else.
    #[error("press belongs to a control, not to a program")]
    PressOfProgram,
}

/// Control changes above are channel mode messages.
pub const LAST_CONTROL: u8 = 119;
/// From this value on a switch is pressed (MIDI 1.0: 0 to 63 is off, 64 to 127 is on).
pub const PRESSED: u8 = 64;

impl TryFrom<Written> for Trigger {
    type Error = NotATrigger;

    fn try_from(written: Written) -> Result<Trigger, NotATrigger> {
        let channel = match written.channel {
            None => None,
            Some(channel @ 1..=16) => Some(channel - 1),
            Some(_) => return Err(NotATrigger::Channel),
        };
        match (written.control, written.program) {
            (Some(number @ 0..=LAST_CONTROL), None) => Ok(Trigger::Control {
                number,
                channel,
                press: written.press.unwrap_or_default(),
            }),
            (None, Some(_)) if written.press.is_some() => Err(NotATrigger::PressOfProgram),
            (None, Some(number @ 0..=127)) => Ok(Trigger::Program { number, channel }),
            (Some(_), None) | (None, Some(_)) => Err(NotATrigger::Number),
            (Some(_), Some(_)) | (None, None) => Err(NotATrigger::OneOf),
        }
    }
}

impl From<Trigger> for Written {
    fn from(trigger: Trigger) -> Written {
        let from_one = |channel: Option<u8>| channel.map(|channel| channel + 1);
        match trigger {
            Trigger::Control {
                number,
                channel,
                press,
            } => Written {
                control: Some(number),
                program: None,
                channel: from_one(channel),
                press: (press != Press::default()).then_some(press),
            },
            Trigger::Program { number, channel } => Written {
                control: None,
                program: Some(number),
                channel: from_one(channel),
                press: None,
            },
        }
    }
}

impl Trigger {
    /// Whether the two would be sent by the same switch.
    pub fn clashes(self, other: Trigger) -> bool {
        let meets = |one: Option<u8>, two: Option<u8>| one.is_none() || two.is_none() || one == two;
        match (self, other) {
            (
                Trigger::Control {
                    number, channel, ..
                },
                Trigger::Control {
                    number: other,
                    channel: on,
                    ..
                },
            )
            | (
                Trigger::Program { number, channel },
                Trigger::Program {
                    number: other,
                    channel: on,
                },
            ) => number == other && meets(channel, on),
            _ => false,
        }
    }
}

impl fmt::Display for Trigger {
    /// `control change 64 on channel 1`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (what, number, channel) = match self {
            Trigger::Control {
                number, channel, ..
            } => ("control", number, channel),
            Trigger::Program { number, channel } => ("program", number, channel),
        };
        write!(f, "{what} change {number} on ")?;
        match channel {
            Some(channel) => write!(f, "channel {}", channel + 1),
            None => f.write_str("any channel"),
        }
    }
}

/// A message as a switch may send it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sent {
    /// Control change: number, value.
    Control(u8, u8),
    /// Program change: number.
    Program(u8),
}

impl Sent {
    /// With its channel, 0 to 15; `None` for notes and what no switch sends.
    pub fn of(message: MidiMessage) -> Option<(Sent, u8)> {
        let MidiMessage::Other([status, first, second]) = message else {
            return None;
        };
        let channel = status & 0x0F;
        match status & 0xF0 {
            0xB0 if first <= LAST_CONTROL => Some((Sent::Control(first, second), channel)),
            0xC0 => Some((Sent::Program(first), channel)),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Trigger, String> {
        toml::from_str(text).map_err(|error| error.message().to_string())
    }

    #[test]
    fn a_trigger_is_read_and_written_as_a_small_table() {
        let number = 64;
        let pedal = Trigger::Control {
            number,
            channel: Some(0),
            press: Press::Rise,
        };
        assert_eq!(read("control = 64\nchannel = 1"), Ok(pedal));
        let written = toml::to_string(&pedal).expect("TOML");
        assert_eq!(written, "control = 64\nchannel = 1\n");
        let any = Trigger::Control {
            number,
            channel: None,
            press: Press::Each,
        };
        assert_eq!(read("control = 64\npress = \"each\""), Ok(any));
        assert_eq!(any.to_string(), "control change 64 on any channel");
        let program = Trigger::Program {
            number: 127,
            channel: Some(15),
        };
        assert_eq!(read("program = 127\nchannel = 16"), Ok(program));
        assert_eq!(read(&toml::to_string(&program).expect("TOML")), Ok(program));
    }

    #[test]
    fn what_is_wrong_is_told() {
        for (text, words) in [
            ("", "either a control"),
            ("control = 1\nprogram = 1", "either a control"),
            ("control = 120", "controls are 0 to 119"),
            ("program = 128", "programs 0 to 127"),
            ("control = 1\nchannel = 0", "channels are 1 to 16"),
            ("control = 1\nchannel = 17", "channels are 1 to 16"),
            ("program = 1\npress = \"each\"", "press belongs"),
            ("control = 1\nspeed = 2", "unknown field"),
            ("control = 1\npress = \"long\"", "unknown variant"),
        ] {
            let said = read(text).expect_err(text);
            assert!(said.contains(words), "{text}: {said}");
        }
    }

    #[test]
    fn any_channel_clashes_with_each_and_a_control_with_no_program() {
        let control = |channel| Trigger::Control {
            number: 5,
            channel,
            press: Press::Rise,
        };
        let program = Trigger::Program {
            number: 5,
            channel: None,
        };
        assert!(control(None).clashes(control(Some(3))));
        assert!(!control(Some(2)).clashes(control(Some(3))));
        assert!(!control(None).clashes(program) && program.clashes(program));
    }

    #[test]
    fn notes_bends_and_mode_messages_are_sent_by_no_switch() {
        use crate::midi::message::parse;
        let sent = |bytes: &[u8]| Sent::of(parse(bytes).expect("a message"));
        assert_eq!(sent(&[0xB2, 64, 127]), Some((Sent::Control(64, 127), 2)));
        assert_eq!(sent(&[0xC0, 7]), Some((Sent::Program(7), 0)));
        for bytes in [
            &[0x90, 40, 90][..],
            &[0xE0, 0, 64],
            &[0xD0, 3],
            &[0xB0, 123, 0],
            &[0xB0, 121, 0],
        ] {
            assert_eq!(sent(bytes), None, "{bytes:?}");
        }
    }
}
