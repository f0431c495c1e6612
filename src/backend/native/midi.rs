//! The MIDI input through midir.

use super::port_watch::PortWatch;
use super::{Events, host_now};
use crate::backend::intake::Intake;
use crate::backend::{MidiChoice, OpenError, port_choice};
use crate::clock::timebase::PortTime;
use crate::units::Nanos;
use midir::{Ignore, MidiInput, MidiInputConnection};
use std::time::Instant;

/// What to do when there is no MIDI input.
pub const WHEN_NONE: &str = "connect the bass or its converter; on Linux the kernel module snd-seq must be loaded, \
                             or use the JACK backend";

/// An open MIDI input.
pub struct MidiIn {
    // Dropped first: once it is closed its callback does not run any more.
    _connection: MidiInputConnection<Intake<PortTime>>,
    events: Events,
    watch: PortWatch,
    name: String,
}

impl MidiIn {
    /// Opens the input that is meant, or none. Host time starts at `epoch`.
    pub fn open(choice: &MidiChoice, epoch: Instant) -> Result<Option<MidiIn>, OpenError> {
        if *choice == MidiChoice::Absent {
            return Ok(None);
        }
        // midir gives no reason; without the system's MIDI there are no inputs.
        let mut input =
            MidiInput::new("leadsman").map_err(|_| OpenError::NoMidiInputs(WHEN_NONE))?;
        let ports = input.ports();
        let names: Vec<String> = ports.iter().map(|port| name(&input, port)).collect();
        let Some(index) = port_choice::midi_input(choice, &names, WHEN_NONE)? else {
            return Ok(None);
        };
        // An unterminated system-exclusive message makes ALSA's input go dead.
        input.ignore(Ignore::All);
        let (intake, events) = Intake::new();
        let on_message = move |stamp_us: u64, bytes: &[u8], intake: &mut Intake<PortTime>| {
            let arrival = host_now(epoch);
            let stamp = Nanos(i64::try_from(stamp_us).map_or(0, |us| us.wrapping_mul(1000)));
            intake.receive(PortTime { stamp, arrival }, bytes);
        };
        let connection = input
            .connect(&ports[index], "notes", on_message, intake)
            .map_err(|error| OpenError::Midi(error.to_string()))?;
        Ok(Some(MidiIn {
            _connection: connection,
            events,
            watch: PortWatch::start(names[index].clone()),
            name: names[index].clone(),
        }))
    }

    /// The events that came in.
    pub fn events(&mut self) -> &mut Events {
        &mut self.events
    }

    /// Events lost because the ring was full.
    pub fn overflows(&self) -> u64 {
        self.events.overflows()
    }

    /// The port's name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether the port is no longer there.
    pub fn is_lost(&self) -> bool {
        self.watch.is_gone()
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
