//! One press binds a switch.

use super::mapping::{Bound, Mapping};
use super::trigger::{PRESSED, Press, Sent, Trigger};
use crate::played::TimedMessage;
use crate::practice::command::Command;
use crate::units::Nanos;
use std::fmt;

/// Waits for the next switch that is pressed.
///
/// A program change is bound at once. A control is bound when it is let go, or when it has not been for [`Learn::HELD`]: then
/// it is a switch that stays down, or that never sends a release, and each of its messages will be a press. Controls
/// that are sent along with others (bank select, data entry, parameter numbers) are no switches.
#[derive(Clone, Debug)]
pub struct Learn {
    command: Command,
    seen: Option<Seen>,
}

#[derive(Clone, Copy, Debug)]
struct Seen {
    number: u8,
    channel: u8,
    pressed: Nanos,
    /// Other values than the first came: it sweeps.
    is_sweeping: bool,
}

/// A switch that was learned.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Learned {
    /// What it is bound to.
    pub bound: Bound,
}

impl Learn {
    /// A foot is off the switch by then, unless the switch stays down by itself.
    pub const HELD: Nanos = Nanos::from_ms(1500);

    /// Waits for the switch that shall mean this.
    pub fn new(command: Command) -> Learn {
        Learn {
            command,
            seen: None,
        }
    }

    /// What is asked of the player.
    pub fn asks(&self) -> String {
        match self.seen {
            None => format!("Press the switch for \"{}\" once.", self.command),
            Some(_) => "Let it go.".into(),
        }
    }

    /// A message came; what was learned from it.
    pub fn heard(&mut self, message: TimedMessage, mapping: &mut Mapping) -> Option<Learned> {
        // What comes late is told by the time that it waited.
        if let Some(learned) = self.tick(message.at, mapping) {
            return Some(learned);
        }
        match Sent::of(message.message)? {
            (Sent::Program(number), channel) => {
                let channel = Some(channel);
                Some(self.learned(Trigger::Program { number, channel }, mapping))
            }
            (Sent::Control(number, _), _) if goes_along(number) => None,
            (Sent::Control(number, value), channel) => {
                self.control(number, channel, value, message.at, mapping)
            }
        }
    }

    /// Time went by; what was learned from that.
    pub fn tick(&mut self, now: Nanos, mapping: &mut Mapping) -> Option<Learned> {
        let seen = self.seen.filter(|seen| now - seen.pressed >= Learn::HELD)?;
        let press = if seen.is_sweeping {
            Press::Rise
        } else {
            Press::Each
        };
        Some(self.learned(seen.trigger(press), mapping))
    }

    fn control(
        &mut self,
        number: u8,
        channel: u8,
        value: u8,
        at: Nanos,
        mapping: &mut Mapping,
    ) -> Option<Learned> {
        let is_same = |seen: &Seen| (seen.number, seen.channel) == (number, channel);
        match &mut self.seen {
            None if value >= PRESSED => {
                self.seen = Some(Seen {
                    number,
                    channel,
                    pressed: at,
                    is_sweeping: false,
                });
                None
            }
            Some(seen) if is_same(seen) && value >= PRESSED => {
                seen.is_sweeping = true;
                None
            }
            Some(seen) if is_same(seen) => {
                let trigger = seen.trigger(Press::Rise);
                Some(self.learned(trigger, mapping))
            }
            None | Some(_) => None,
        }
    }

    fn learned(&mut self, trigger: Trigger, mapping: &mut Mapping) -> Learned {
        self.seen = None;
        Learned {
            bound: mapping.bind(self.command, trigger),
        }
    }
}

impl Seen {
    fn trigger(self, press: Press) -> Trigger {
        Trigger::Control {
            number: self.number,
            channel: Some(self.channel),
            press,
        }
    }
}

/// Bank select (0, 32), data entry (6, 38) and the parameter numbers (96 to 101): MIDI 1.0, table of control changes.
fn goes_along(number: u8) -> bool {
    matches!(number, 0 | 6 | 32 | 38 | 96..=101)
}

impl fmt::Display for Learned {
    /// What is bound, and how it is pressed where that is not plain.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.bound)?;
        match self.bound.trigger {
            Trigger::Control {
                press: Press::Each, ..
            } => f.write_str(
                " It sent no release, so each of its messages counts as a press; learn it again with a short press if it has one.",
            ),
            _ => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::midi::message::parse;

    /// What is learned for "again" from these bytes at these ms, and when.
    fn learned(messages: &[(i64, &[u8])]) -> Option<(i64, Trigger)> {
        let mut learn = Learn::new(Command::Again);
        let mut mapping = Mapping::default();
        messages.iter().find_map(|(ms, bytes)| {
            let at = Nanos::from_ms(*ms);
            let heard = match parse(bytes) {
                Some(message) => learn.heard(TimedMessage { at, message }, &mut mapping),
                None => learn.tick(at, &mut mapping),
            };
            heard.map(|learned| (*ms, learned.bound.trigger))
        })
    }

    fn control(number: u8, press: Press) -> Trigger {
        Trigger::Control {
            number,
            channel: Some(0),
            press,
        }
    }

    #[test]
    fn a_switch_is_learned_when_it_is_let_go() {
        let messages: [(i64, &[u8]); 3] = [
            (0, &[0x90, 40, 90]),
            (100, &[0xB0, 64, 127]),
            (400, &[0xB0, 64, 0]),
        ];
        assert_eq!(learned(&messages), Some((400, control(64, Press::Rise))));
    }

    #[test]
    fn a_switch_that_stays_down_is_learned_as_one() {
        let messages: [(i64, &[u8]); 3] = [(0, &[0xB0, 80, 127]), (1499, &[]), (1500, &[])];
        assert_eq!(learned(&messages), Some((1500, control(80, Press::Each))));
    }

    #[test]
    fn a_sweeping_pedal_is_learned_as_one_that_rises() {
        let up: Vec<[u8; 3]> = (0..128).map(|value| [0xB0, 11, value]).collect();
        let mut messages: Vec<(i64, &[u8])> =
            (0..).zip(up.iter().map(<[u8; 3]>::as_slice)).collect();
        messages.push((2000, &[]));
        assert_eq!(learned(&messages), Some((2000, control(11, Press::Rise))));
    }

    #[test]
    fn a_program_change_is_learned_at_once_and_its_bank_is_not() {
        let messages: [(i64, &[u8]); 3] =
            [(0, &[0xB2, 0, 127]), (1, &[0xB2, 32, 100]), (2, &[0xC2, 9])];
        let program = Trigger::Program {
            number: 9,
            channel: Some(2),
        };
        assert_eq!(learned(&messages), Some((2, program)));
    }

    #[test]
    fn a_release_alone_and_other_switches_meanwhile_teach_nothing() {
        let messages: [(i64, &[u8]); 4] = [
            (0, &[0xB0, 64, 0]),
            (100, &[0xB0, 65, 127]),
            (200, &[0xB0, 66, 127]),
            (300, &[0xB0, 66, 0]),
        ];
        assert_eq!(learned(&messages), None);
    }

    #[test]
    fn what_is_learned_is_said_in_a_sentence_or_two() {
        let mut learn = Learn::new(Command::Stop);
        let mut mapping = Mapping::default();
        assert_eq!(learn.asks(), "Press the switch for \"stop\" once.");
        let message = parse(&[0xB0, 80, 127]).expect("a message");
        let at = Nanos::ZERO;
        assert_eq!(
            learn.heard(TimedMessage { at, message }, &mut mapping),
            None
        );
        assert_eq!(learn.asks(), "Let it go.");
        let learned = learn.tick(Learn::HELD, &mut mapping).expect("learned");
        let said = learned.to_string();
        assert!(
            said.starts_with("\"stop\" is now control change 80 on channel 1. It sent no release")
        );
        assert_eq!(mapping.trigger(Command::Stop), Some(learned.bound.trigger));
    }
}
