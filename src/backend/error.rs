//! Why a session could not be opened, and what is gone when it ends by itself: plain words for the player.

use thiserror::Error;

/// Why a session could not be opened.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum OpenError {
    /// The build lacks it.
    #[error("this build of leadsman has no {0} backend; build it with `--features {0}`")]
    NotBuilt(&'static str),
    /// Nothing to connect to.
    #[error("there is no MIDI input; {0}")]
    NoMidiInputs(&'static str),
    /// Nothing of that name.
    #[error("no MIDI input is called \"{wanted}\"; there {}", list(have))]
    NoSuchMidiInput {
        /// The part of a name that was asked for.
        wanted: String,
        /// What exists.
        have: Vec<String>,
    },
    /// More than one of that name.
    #[error(
        "\"{wanted}\" could be several MIDI inputs; name one of them more closely: {}",
        quoted(matching)
    )]
    SeveralMidiInputs {
        /// The part of a name that was asked for.
        wanted: String,
        /// What it matches.
        matching: Vec<String>,
    },
    /// None was named and more than one exists.
    #[error("there are several MIDI inputs; name one of them: {}", quoted(.0))]
    UnnamedMidiInput(Vec<String>),
    /// The MIDI system failed.
    #[error("the MIDI input cannot be opened: {0}")]
    Midi(String),
    /// Nothing to play on.
    #[error("there is no audio output; {0}")]
    NoAudioOutputs(&'static str),
    /// Nothing of that name.
    #[error("no audio output is called \"{wanted}\"; there {}", list(have))]
    NoSuchAudioOutput {
        /// The part of a name that was asked for.
        wanted: String,
        /// What exists.
        have: Vec<String>,
    },
    /// More than one of that name.
    #[error(
        "\"{wanted}\" could be several audio outputs; name one of them more closely: {}",
        quoted(matching)
    )]
    SeveralAudioOutputs {
        /// The part of a name that was asked for.
        wanted: String,
        /// What it matches.
        matching: Vec<String>,
    },
    /// The device exists and does not play.
    #[error("the audio output \"{name}\" does not play: {reason}")]
    AudioDoesNotPlay {
        /// Which.
        name: String,
        /// The system's words, or that nothing came.
        reason: String,
    },
    /// No JACK server answers.
    #[error(
        "no JACK server answers; start one (`jackd`, PipeWire with its JACK support) and check JACK_DEFAULT_SERVER"
    )]
    ServerNotRunning,
    /// The system has no JACK.
    #[error("JACK is not installed (libjack cannot be loaded): {0}")]
    NoJackLibrary(String),
    /// The JACK server refused something.
    #[error("the JACK server refused: {0}")]
    Server(String),
}

/// What is gone, so that the session cannot go on.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum SessionLost {
    /// The audio output.
    #[error("the audio output \"{0}\" is gone")]
    AudioOutput(String),
    /// The MIDI input.
    #[error("the MIDI input \"{0}\" is gone and did not come back")]
    MidiInput(String),
    /// The JACK server.
    #[error("the JACK server is gone")]
    Server,
}

fn list(names: &[String]) -> String {
    match names {
        [] => "is none at all".into(),
        [one] => format!("is \"{one}\""),
        several => format!("are {}", quoted(several)),
    }
}

fn quoted(names: &[String]) -> String {
    let quoted: Vec<String> = names.iter().map(|name| format!("\"{name}\"")).collect();
    quoted.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_that_does_not_exist_is_answered_by_those_that_do() {
        let error = |have: &[&str]| OpenError::NoSuchMidiInput {
            wanted: "bass".into(),
            have: have.iter().map(|name| (*name).to_string()).collect(),
        };
        assert_eq!(
            error(&["Keys", "Pads"]).to_string(),
            "no MIDI input is called \"bass\"; there are \"Keys\", \"Pads\""
        );
        assert_eq!(
            error(&["Keys"]).to_string(),
            "no MIDI input is called \"bass\"; there is \"Keys\""
        );
        assert_eq!(
            error(&[]).to_string(),
            "no MIDI input is called \"bass\"; there is none at all"
        );
    }
}
