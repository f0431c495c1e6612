//! `leadsman latency given`, `show` and `forget`: what is kept.

use super::super::{Failure, Outcome};
use crate::backend::Backend;
use crate::cli::latency::{ForgetArgs, GivenArgs, ShowArgs};
use crate::click::Silence;
use crate::judge::settings::Latency;
use crate::latency::kept::{Kept, KeptLatency, Method};
use crate::report::latency::{law, on_open_strings};
use crate::units::Nanos;
use serde::Serialize;
use std::io::{self, Write};

/// Keeps what the player knows. The ports are opened for it, so that they are kept by their whole names.
pub fn given(args: &GivenArgs) -> Outcome {
    let path = super::file()?;
    let session = super::open(&args.ports, false, Box::new(Silence))?;
    let connected = super::connected(&*session)?;
    let latency = Latency {
        fixed: Nanos::from_ms_f64(args.fixed),
        periods: args.periods,
        ..Latency::default()
    };
    let through = session.description();
    drop(session);
    super::keep(
        &path,
        args.ports.backend.into(),
        (&connected, through),
        latency,
        Method::Given,
    )
}

/// What `show --json` prints.
#[derive(Serialize)]
struct Shown<'a> {
    schema: &'static str,
    file: String,
    ports: &'a [KeptLatency],
}

/// Reads out what is kept.
pub fn show(args: &ShowArgs) -> Outcome {
    let path = Kept::place().map_err(Failure::input)?;
    let kept = Kept::read(&path).map_err(Failure::input)?;
    let mut out = io::stdout().lock();
    if args.json {
        let shown = Shown {
            schema: "leadsman.latency/1",
            file: path.display().to_string(),
            ports: &kept.ports,
        };
        let json = serde_json::to_string_pretty(&shown).map_err(Failure::input)?;
        return Ok(writeln!(out, "{json}")?);
    }
    if kept.ports.is_empty() {
        return Ok(writeln!(
            out,
            "No latency is kept yet. `leadsman latency measure` finds one."
        )?);
    }
    for port in &kept.ports {
        say(port, &mut out)?;
    }
    Ok(writeln!(out, "Kept in {}", path.display())?)
}

fn say(port: &KeptLatency, out: &mut impl Write) -> io::Result<()> {
    let latency = port.latency();
    writeln!(out, "{} → {} ({})", port.midi, port.audio, port.backend)?;
    writeln!(out, "  {}", law(&latency))?;
    writeln!(out, "  {}", on_open_strings(&latency))?;
    writeln!(out, "  {}, {}", port.method, port.date)?;
    writeln!(out, "  through {}", port.through)
}

/// Forgets what is kept for a port.
pub fn forget(args: &ForgetArgs) -> Outcome {
    let path = Kept::place().map_err(Failure::input)?;
    let mut kept = Kept::read(&path).map_err(Failure::input)?;
    let (gone, stay): (Vec<_>, Vec<_>) = kept
        .ports
        .into_iter()
        .partition(|port| is_meant(port, args));
    if gone.is_empty() {
        return Err(Failure::input(
            "no latency is kept for such ports; `leadsman latency show` reads out those that are",
        ));
    }
    if gone.len() > 1 && !args.all {
        let names: Vec<String> = gone
            .iter()
            .map(|port| format!("\"{}\" → \"{}\" ({})", port.midi, port.audio, port.backend))
            .collect();
        return Err(Failure::input(format!(
            "that could be several: {}; name one more closely (--midi, --audio, --backend), or add --all",
            names.join(", ")
        )));
    }
    kept = Kept::default();
    kept.ports = stay;
    kept.write(&path).map_err(Failure::input)?;
    let mut out = io::stdout().lock();
    gone.iter().try_for_each(|port| {
        writeln!(
            out,
            "Forgotten: {} → {} ({}), {}",
            port.midi,
            port.audio,
            port.backend,
            law(&port.latency())
        )
    })?;
    Ok(())
}

fn is_meant(port: &KeptLatency, args: &ForgetArgs) -> bool {
    let has = |name: &str, part: &Option<String>| {
        part.as_ref()
            .is_none_or(|part| name.to_lowercase().contains(&part.to_lowercase()))
    };
    let backend = args.backend.map(Backend::from);
    has(&port.midi, &args.midi)
        && has(&port.audio, &args.audio)
        && backend.is_none_or(|backend| backend.name() == port.backend)
}
