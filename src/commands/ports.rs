//! `leadsman ports`: what could be connected.

use super::Outcome;
use crate::backend::{Backend, Ports};
use crate::cli::PortsArgs;
use crate::quiet::quietly;
use std::io::{self, Write};

/// Runs the command.
pub fn run(args: &PortsArgs) -> Outcome {
    let mut out = io::stdout().lock();
    let all = Backend::built()
        .iter()
        .copied()
        .filter(|backend| !matches!(backend, Backend::Silent | Backend::Virtual));
    let wanted: Vec<Backend> = args
        .backend
        .map_or_else(|| all.collect(), |name| vec![name.into()]);
    for backend in wanted {
        writeln!(out, "{}", backend.name())?;
        match quietly(|| backend.ports()) {
            Ok(ports) => print(&ports, &mut out)?,
            Err(error) => writeln!(out, "  {error}")?,
        }
    }
    Ok(())
}

fn print(ports: &Ports, out: &mut impl Write) -> io::Result<()> {
    list("MIDI inputs", &ports.midi_inputs, out)?;
    list("Audio outputs", &ports.audio_outputs, out)?;
    ports
        .missing
        .iter()
        .try_for_each(|missing| writeln!(out, "  {missing}"))
}

fn list(title: &str, names: &[String], out: &mut impl Write) -> io::Result<()> {
    writeln!(
        out,
        "  {title}{}",
        if names.is_empty() { ": none" } else { "" }
    )?;
    names
        .iter()
        .try_for_each(|name| writeln!(out, "    {name}"))
}
