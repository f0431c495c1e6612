//! What the JACK graph offers, and which of it is meant.

use crate::backend::{MidiChoice, OpenError, port_choice};
use jack::{Client, PortFlags};

/// What to do when the graph has no MIDI source.
pub const NO_MIDI: &str = "connect the bass or its converter; ALSA devices show up in JACK through `a2jmidid` \
                           or PipeWire";
/// What to do when the graph has no audio sink.
pub const NO_AUDIO: &str = "the JACK server runs without a sound device; start it on one";

const MIDI: &str = "8 bit raw midi";
const AUDIO: &str = "32 bit float mono audio";

/// The full name of the port that notes come from.
pub fn midi_source(client: &Client, choice: &MidiChoice) -> Result<Option<String>, OpenError> {
    let names = midi_names(client);
    let labels = midi_labels(client);
    let index = port_choice::midi_input(choice, &labels, NO_MIDI)?;
    Ok(index.and_then(|index| names.get(index).cloned()))
}

/// The full names of all MIDI sources.
pub fn midi_names(client: &Client) -> Vec<String> {
    client.ports(None, Some(MIDI), PortFlags::IS_OUTPUT)
}

/// The MIDI sources as the player knows them: the port's name, and the device's where JACK keeps it as an alias.
pub fn midi_labels(client: &Client) -> Vec<String> {
    let names = midi_names(client);
    names.iter().map(|name| label(client, name)).collect()
}

/// A MIDI source as the player knows it.
pub fn label(client: &Client, name: &str) -> String {
    let aliases = client
        .port_by_name(name)
        .and_then(|port| port.aliases().ok());
    match aliases.unwrap_or_default().first() {
        Some(alias) => format!("{name} ({alias})"),
        None => name.to_string(),
    }
}

/// Whether a port is a device's, and so may have a MIDI cable behind it.
pub fn is_physical(client: &Client, name: &str) -> bool {
    client
        .port_by_name(name)
        .is_some_and(|port| port.flags().contains(PortFlags::IS_PHYSICAL))
}

/// The full names of all audio sinks.
pub fn sink_names(client: &Client) -> Vec<String> {
    client.ports(None, Some(AUDIO), PortFlags::IS_INPUT)
}

/// The full names of the ports that the click goes to: those with a part of a name, which must all belong to one
/// client; without a name the sound device's, or none when there is no device.
pub fn audio_sinks(client: &Client, wanted: Option<&str>) -> Result<Vec<String>, OpenError> {
    let Some(wanted) = wanted else {
        let physical = PortFlags::IS_INPUT | PortFlags::IS_PHYSICAL;
        return Ok(client.ports(None, Some(AUDIO), physical));
    };
    sinks_called(wanted, sink_names(client))
}

fn sinks_called(wanted: &str, names: Vec<String>) -> Result<Vec<String>, OpenError> {
    if names.is_empty() {
        return Err(OpenError::NoAudioOutputs(NO_AUDIO));
    }
    let part = wanted.to_lowercase();
    let is_called = |name: &&String| name.to_lowercase().contains(&part);
    let sinks: Vec<String> = names.iter().filter(is_called).cloned().collect();
    let mut clients: Vec<String> = sinks.iter().map(|name| client_of(name).into()).collect();
    clients.dedup();
    let wanted = wanted.to_string();
    match clients.len() {
        0 => Err(OpenError::NoSuchAudioOutput {
            wanted,
            have: names,
        }),
        1 => Ok(sinks),
        _ => Err(OpenError::SeveralAudioOutputs {
            wanted,
            matching: clients,
        }),
    }
}

/// The client that a port belongs to.
pub fn client_of(port: &str) -> &str {
    port.rsplit_once(':').map_or(port, |(client, _)| client)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names() -> Vec<String> {
        ["system:playback_1", "system:playback_2", "Recorder:in"]
            .map(String::from)
            .to_vec()
    }

    #[test]
    fn a_client_name_means_all_its_ports() {
        let sinks = sinks_called("system", names()).unwrap();
        assert_eq!(sinks, ["system:playback_1", "system:playback_2"]);
        assert_eq!(
            sinks_called("playback_2", names()).unwrap(),
            ["system:playback_2"]
        );
        assert_eq!(sinks_called("recorder", names()).unwrap(), ["Recorder:in"]);
    }

    #[test]
    fn a_part_that_two_clients_share_is_refused() {
        assert!(matches!(
            sinks_called(":", names()),
            Err(OpenError::SeveralAudioOutputs { matching, .. }) if matching == ["system", "Recorder"]
        ));
    }

    #[test]
    fn an_unknown_sink_is_answered_by_the_known_ones() {
        assert!(matches!(
            sinks_called("phones", names()),
            Err(OpenError::NoSuchAudioOutput { have, .. }) if have == names()
        ));
    }
}
