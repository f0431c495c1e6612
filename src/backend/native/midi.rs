//! The MIDI input through midir.

use super::port_watch::{Change, Inputs, PortWatch};
use super::{Events, host_now};
use crate::backend::intake::Intake;
use crate::backend::link::PATIENCE;
use crate::backend::{Config, Input, MidiChoice, OpenError, port_choice};
use crate::clock::timebase::PortTime;
use crate::units::Nanos;
use midir::{Ignore, MidiInput, MidiInputConnection, MidiInputPort};
use std::time::Instant;

/// What to do when there is no MIDI input.
pub const WHEN_NONE: &str = "connect the bass or its converter; on Linux the kernel module snd-seq must be loaded, \
                             or use the JACK backend";

type Connection = MidiInputConnection<Intake<PortTime>>;

/// A MIDI input that is connected, again and again if need be.
pub struct MidiIn {
    // Dropped first: once it is closed its callback does not run any more.
    watch: PortWatch<System>,
    events: Events,
    /// Events lost in connections before this one.
    lost_before: u64,
    name: String,
}

impl MidiIn {
    /// Opens the input that is meant, or none. Host time starts at `epoch`.
    pub fn open(config: &Config, epoch: Instant) -> Result<Option<MidiIn>, OpenError> {
        if config.midi == MidiChoice::Absent {
            return Ok(None);
        }
        let mut system = System { epoch };
        // midir gives no reason; without the system's MIDI there are no inputs.
        let input = MidiInput::new("leadsman").map_err(|_| OpenError::NoMidiInputs(WHEN_NONE))?;
        let ports = input.ports();
        let mut names: Vec<String> = ports.iter().map(|port| name(&input, port)).collect();
        let Some(index) = port_choice::midi_input(&config.midi, &names, WHEN_NONE)? else {
            return Ok(None);
        };
        let (connection, events) = system.open(input, &ports[index]).map_err(OpenError::Midi)?;
        let name = names.swap_remove(index);
        let patience = config.patience.unwrap_or(PATIENCE);
        Ok(Some(MidiIn {
            watch: PortWatch::start(system, connection, name.clone(), patience),
            events,
            lost_before: 0,
            name,
        }))
    }

    /// The events that came in.
    pub fn events(&mut self) -> &mut Events {
        &mut self.events
    }

    /// Events lost because the ring was full.
    pub fn overflows(&self) -> u64 {
        self.lost_before + self.events.overflows()
    }

    /// The port's name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether it was there at the last look.
    pub fn input(&self) -> Input {
        self.watch.input()
    }

    /// What became of the input since the last look.
    pub fn look(&mut self) -> Change<()> {
        match self.watch.look() {
            Change::None => Change::None,
            Change::Left => Change::Left,
            Change::GivenUp => Change::GivenUp,
            Change::Back(events) => {
                self.lost_before += self.events.overflows();
                self.events = events;
                Change::Back(())
            }
        }
    }
}

/// The system's MIDI inputs. Host time starts at the epoch.
struct System {
    epoch: Instant,
}

impl System {
    fn open(
        &mut self,
        mut input: MidiInput,
        port: &MidiInputPort,
    ) -> Result<(Connection, Events), String> {
        // An unterminated system-exclusive message makes ALSA's input go dead.
        input.ignore(Ignore::All);
        let epoch = self.epoch;
        let (intake, events) = Intake::new();
        let on_message = move |stamp_us: u64, bytes: &[u8], intake: &mut Intake<PortTime>| {
            let arrival = host_now(epoch);
            let stamp = Nanos(i64::try_from(stamp_us).map_or(0, |us| us.wrapping_mul(1000)));
            intake.receive(PortTime { stamp, arrival }, bytes);
        };
        let connection = input
            .connect(port, "notes", on_message, intake)
            .map_err(|error| error.to_string())?;
        Ok((connection, events))
    }
}

impl Inputs for System {
    type Connection = Connection;
    type Events = Events;

    fn names(&mut self) -> Option<Vec<String>> {
        names()
    }

    fn connect(&mut self, wanted: &str) -> Option<(Connection, Events)> {
        let input = MidiInput::new("leadsman").ok()?;
        let mut ports = input.ports().into_iter();
        let port = ports.find(|port| name(&input, port) == wanted)?;
        self.open(input, &port).ok()
    }
}

/// The names of all MIDI inputs; `None` when the system's MIDI cannot be reached.
pub fn names() -> Option<Vec<String>> {
    let input = MidiInput::new("leadsman ports").ok()?;
    let names = input
        .ports()
        .iter()
        .map(|port| name(&input, port))
        .collect();
    Some(names)
}

/// The name without ALSA's client and port numbers, which change from day to day: `Bass:Bass MIDI 1 20:0`.
pub fn lasting_name(name: &str) -> &str {
    let is_number = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let numbers = |text: &str| {
        text.split_once(':')
            .is_some_and(|(client, port)| is_number(client) && is_number(port))
    };
    match name.rsplit_once(' ') {
        Some((lasting, last)) if numbers(last) => lasting,
        _ => name,
    }
}

fn name(input: &MidiInput, port: &midir::MidiInputPort) -> String {
    input.port_name(port).unwrap_or_else(|_| port.id())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_of_the_day_are_no_part_of_a_name() {
        assert_eq!(lasting_name("Bass:Bass MIDI 1 20:0"), "Bass:Bass MIDI 1");
        assert_eq!(lasting_name("Bass 2"), "Bass 2");
        assert_eq!(lasting_name("20:0"), "20:0");
    }
}
