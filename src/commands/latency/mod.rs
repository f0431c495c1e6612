//! `leadsman latency`: measures what stands between finger and number, and keeps it for each port.

mod kept;
mod measure;
mod tap;

use super::shared;
use super::{Failure, Outcome};
use crate::backend::{Backend, Config, Connected, Render, Session};
use crate::cli::latency::{LatencyCommand, PortArgs};
use crate::judge::settings::Latency;
use crate::latency::kept::{Kept, KeptLatency, Method};
use crate::quiet::quietly;
use std::io::{self, Write};
use std::path::PathBuf;

/// Runs the command.
pub fn run(command: &LatencyCommand) -> Outcome {
    match command {
        LatencyCommand::Measure(args) => measure::run(args),
        LatencyCommand::Tap(args) => tap::run(args),
        LatencyCommand::Given(args) => kept::given(args),
        LatencyCommand::Show(args) => kept::show(args),
        LatencyCommand::Forget(args) => kept::forget(args),
    }
}

/// The file of the latencies, found to be in order before anything sounds.
fn file() -> Result<PathBuf, Failure> {
    let path = Kept::place().map_err(Failure::input)?;
    Kept::read(&path).map_err(Failure::input)?;
    Ok(path)
}

/// Opens what the player named, or the virtual backend for a stand-in.
fn open(
    ports: &PortArgs,
    stand_in: bool,
    render: Box<dyn Render>,
) -> Result<Box<dyn Session>, Failure> {
    let backend = if stand_in {
        Backend::Virtual
    } else {
        ports.backend.into()
    };
    let config = Config {
        midi: shared::midi_choice(stand_in, ports.midi.as_deref(), backend)?,
        audio: ports.audio.clone(),
        ..Config::default()
    };
    quietly(|| backend.open(&config, render)).map_err(Failure::input)
}

/// The pair that a latency is kept for.
fn connected(session: &dyn Session) -> Result<Connected, Failure> {
    session.connected().ok_or_else(|| {
        Failure::input(format!(
            "a latency belongs to a MIDI input and an audio output, and one of the two is missing: {}",
            session.description()
        ))
    })
}

/// Keeps a latency, and says so.
fn keep(
    path: &std::path::Path,
    backend: Backend,
    (connected, through): (&Connected, String),
    latency: Latency,
    method: Method,
) -> Outcome {
    let date = jiff::ZonedDateTime::now()
        .round(jiff::Unit::Second)
        .unwrap_or_else(|_| jiff::ZonedDateTime::now())
        .to_string();
    // Read again: another leadsman may have written meanwhile.
    let mut kept = Kept::read(path).map_err(Failure::input)?;
    kept.set(KeptLatency::new(
        connected,
        backend.name(),
        latency,
        method,
        through,
        date,
    ));
    kept.write(path).map_err(Failure::input)?;
    writeln!(
        io::stdout(),
        "Kept for {} → {} ({}); `play` takes it off from now on.",
        connected.midi,
        connected.audio,
        backend.name()
    )?;
    Ok(())
}
