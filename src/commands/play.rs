//! `leadsman play`: a line, a click, a player, a verdict.

use super::live_take::{LiveTake, Printed};
use super::quiet::quietly;
use super::shared;
use super::{Failure, Outcome};
use crate::backend::scripted::ScriptedSession;
use crate::backend::{Backend, Config, MidiChoice, Session};
use crate::cli::PlayArgs;
use crate::click::{ClickRenderer, Level};
use crate::live::{Pace, Stop};
use crate::stand_in;
use crate::take::place::new_take_path;

/// Runs the command.
pub fn run(args: &PlayArgs) -> Outcome {
    let line = shared::read_line(&args.line)?;
    let take = LiveTake::new(&line, &args.line.display().to_string(), &args.shared);
    let renderer = ClickRenderer::new(take.clicks.clone(), LiveTake::LEAD, Level::dbfs(args.level));
    let backend = Backend::from(args.backend);
    let config = Config {
        midi: midi_choice(args, backend)?,
        audio: args.audio.clone(),
        ..Config::default()
    };
    let mut session: Box<dyn Session> =
        quietly(|| backend.open(&config, Box::new(renderer))).map_err(Failure::input)?;
    if let Some(habits) = &args.stand_in {
        let script = stand_in::play(&take.expected, habits, args.shared.seed);
        let script = take.script(script, session.sample_rate());
        session = Box::new(ScriptedSession::new(session, script));
    }
    let stop = Stop::default();
    let on_signal = stop.clone();
    ctrlc::set_handler(move || on_signal.now()).map_err(Failure::input)?;
    let path = match &args.take {
        Some(path) => path.clone(),
        None => new_take_path(&args.line).map_err(Failure::input)?,
    };
    take.run(session, Some(&path), Pace::RealTime, stop, Printed::Text)
}

fn midi_choice(args: &PlayArgs, backend: Backend) -> Result<MidiChoice, Failure> {
    match (&args.stand_in, &args.midi) {
        (Some(_), Some(_)) => Err(Failure::input(
            "--stand-in plays in the place of --midi: give one of the two",
        )),
        (Some(_), None) => Ok(MidiChoice::Absent),
        (None, _) if backend == Backend::Silent => Err(Failure::input(
            "the silent backend hears no instrument: add --stand-in, or choose another --backend",
        )),
        (None, Some(name)) => Ok(MidiChoice::Named(name.clone())),
        (None, None) => Ok(MidiChoice::Only),
    }
}
