//! Switches at work: which messages are presses.

use super::DEBOUNCE;
use super::mapping::Mapping;
use super::trigger::{PRESSED, Press, Sent, Trigger};
use crate::played::TimedMessage;
use crate::practice::command::Command;
use crate::units::Nanos;

/// A pedal that sweeps is let go below this: one that rests at 63 or 64 trembles.
const LET_GO: u8 = 48;

/// The bound switches and what each was heard to do. Listens all the time, during takes as well.
#[derive(Clone, Debug)]
pub struct Switches {
    switches: Vec<Switch>,
}

#[derive(Clone, Debug)]
struct Switch {
    command: Command,
    trigger: Trigger,
    is_down: bool,
    /// When it last changed (a switch that is heard for the first time has not).
    changed: Option<Nanos>,
}

impl Switches {
    /// All of them let go.
    pub fn new(mapping: &Mapping) -> Switches {
        let switch = |(command, trigger)| Switch {
            command,
            trigger,
            is_down: false,
            changed: None,
        };
        Switches {
            switches: mapping.bound().into_iter().map(switch).collect(),
        }
    }

    /// The command that this message is a press for; of a switch that is bound twice, the first.
    pub fn heard(&mut self, message: TimedMessage) -> Option<Command> {
        let (sent, channel) = Sent::of(message.message)?;
        let at = message.at;
        let switches = self.switches.iter_mut();
        let pressed: Vec<Command> = switches
            .filter_map(|switch| switch.heard(sent, channel, at).then_some(switch.command))
            .collect();
        pressed.first().copied()
    }

    /// The input was away: whatever was down may be up by now.
    pub fn let_go(&mut self) {
        for switch in &mut self.switches {
            switch.is_down = false;
            switch.changed = None;
        }
    }
}

impl Switch {
    /// Whether it is pressed by this.
    fn heard(&mut self, sent: Sent, on: u8, at: Nanos) -> bool {
        let is_on = |channel: Option<u8>| channel.is_none_or(|channel| channel == on);
        match (self.trigger, sent) {
            (
                Trigger::Control {
                    number,
                    channel,
                    press,
                },
                Sent::Control(control, value),
            ) if number == control && is_on(channel) => match press {
                Press::Rise => self.moved(value, at),
                Press::Each => self.changes(at),
            },
            (Trigger::Program { number, channel }, Sent::Program(program))
                if number == program && is_on(channel) =>
            {
                self.changes(at)
            }
            _ => false,
        }
    }

    /// A press if the value rises through 64, and nothing changed just before: letting go bounces as well.
    fn moved(&mut self, value: u8, at: Nanos) -> bool {
        let is_down = match self.is_down {
            true => value >= LET_GO,
            false => value >= PRESSED,
        };
        if is_down == self.is_down {
            return false;
        }
        self.is_down = is_down;
        let is_quiet = self.changes(at);
        is_down && is_quiet
    }

    /// Notes a change; whether it is the first for a while.
    fn changes(&mut self, at: Nanos) -> bool {
        let before = self.changed.replace(at);
        before.is_none_or(|before| at - before >= DEBOUNCE)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::midi::message::parse;
    use proptest::prelude::*;

    /// When a switch that is bound so is pressed by these bytes at these ms.
    fn pressed(bound: &str, messages: &[(i64, [u8; 3])]) -> Vec<i64> {
        let mapping: Mapping = toml::from_str(&format!("again = {bound}")).expect("a mapping");
        let mut switches = Switches::new(&mapping);
        let messages = messages.iter().filter(|(ms, bytes)| {
            let message = parse(bytes).expect("a message");
            let at = Nanos::from_ms(*ms);
            switches.heard(TimedMessage { at, message }).is_some()
        });
        messages.map(|(ms, _)| *ms).collect()
    }

    const NEVER: [i64; 0] = [];
    const PEDAL: &str = "{ control = 64, channel = 1 }";
    const EACH: &str = "{ control = 64, channel = 1, press = \"each\" }";
    const PROGRAM: &str = "{ program = 3 }";

    fn value(value: u8) -> [u8; 3] {
        [0xB0, 64, value]
    }

    #[test]
    fn a_switch_with_press_and_release_is_pressed_when_it_goes_down() {
        let messages = [(0, 127), (300, 0), (900, 127), (5000, 0)];
        let messages = messages.map(|(at, sent)| (at, value(sent)));
        assert_eq!(pressed(PEDAL, &messages), [0, 900]);
    }

    #[test]
    fn a_switch_that_stays_down_is_pressed_at_each_change() {
        let messages = [(0, 127), (2000, 0), (4000, 127)].map(|(at, sent)| (at, value(sent)));
        assert_eq!(pressed(EACH, &messages), [0, 2000, 4000]);
        let same = [0, 2000, 4000].map(|at| (at, value(127)));
        assert_eq!(pressed(EACH, &same), [0, 2000, 4000]);
    }

    #[test]
    fn bouncing_contacts_press_once_down_and_not_at_all_up() {
        let messages = [
            (0, 127),
            (3, 0),
            (7, 127),
            (1000, 0),
            (1004, 127),
            (1009, 0),
            (1200, 127),
        ];
        let messages = messages.map(|(at, sent)| (at, value(sent)));
        assert_eq!(pressed(PEDAL, &messages), [0, 1200]);
        assert_eq!(pressed(EACH, &messages), [0, 1000, 1200]);
        let programs = [0, 20, 149, 400].map(|at| (at, [0xC5, 3, 0]));
        assert_eq!(pressed(PROGRAM, &programs), [0, 400]);
    }

    #[test]
    fn a_sweeping_pedal_presses_once_a_sweep_and_trembling_does_nothing() {
        let up = (0..128).map(|n| (n * 5, value(n as u8)));
        let tremble = (0..40).map(|n| (1000 + n * 200, value(if n % 2 == 0 { 63 } else { 65 })));
        let down = (0..128).map(|n| (20_000 + n * 5, value(127 - n as u8)));
        let once_more = (0..128).map(|n| (30_000 + n * 5, value(n as u8)));
        let all: Vec<_> = up.chain(tremble).chain(down).chain(once_more).collect();
        assert_eq!(pressed(PEDAL, &all), [320, 30_320]);
    }

    #[test]
    fn a_stream_of_values_presses_a_switch_once_however_it_is_bound() {
        let stream: Vec<_> = (0..1000)
            .map(|n| (n * 10, value((n % 128) as u8)))
            .collect();
        assert_eq!(pressed(EACH, &stream), [0]);
    }

    #[test]
    fn other_controls_channels_and_programs_press_nothing() {
        let others = [
            (0, [0xB1, 64, 127]),
            (500, [0xB0, 65, 127]),
            (1000, [0xC0, 64, 0]),
        ];
        assert_eq!(pressed(PEDAL, &others), NEVER);
        assert_eq!(pressed(PROGRAM, &[(0, [0xC0, 4, 0])]), NEVER);
    }

    #[test]
    fn what_was_down_when_the_input_went_away_may_be_pressed_anew() {
        let mapping: Mapping = toml::from_str(&format!("stop = {PEDAL}")).expect("a mapping");
        let mut switches = Switches::new(&mapping);
        let press = |switches: &mut Switches, ms: i64| {
            let message = parse(&value(127)).expect("a message");
            let at = Nanos::from_ms(ms);
            switches.heard(TimedMessage { at, message })
        };
        assert_eq!(press(&mut switches, 0), Some(Command::Stop));
        assert_eq!(press(&mut switches, 9000), None);
        switches.let_go();
        assert_eq!(press(&mut switches, 9001), Some(Command::Stop));
    }

    proptest! {
        #[test]
        fn nothing_presses_a_switch_twice_within_the_debounce_time(
            steps in prop::collection::vec((0i64..100, 0u8..128), 0..300), each: bool,
        ) {
            let mut ms = 0;
            let messages: Vec<_> = steps
                .into_iter()
                .map(|(step, sent)| { ms += step; (ms, value(sent)) })
                .collect();
            let times = pressed(if each { EACH } else { PEDAL }, &messages);
            for pair in times.windows(2) {
                prop_assert!(pair[1] - pair[0] >= 150);
            }
        }
    }
}
