//! `leadsman play`: a line, a click, a player, a verdict.

use super::live_take::LiveTake;
use super::quiet::quietly;
use super::shared;
use super::{Failure, Outcome};
use crate::backend::scripted::ScriptedSession;
use crate::backend::{Backend, Config, Session};
use crate::cli::PlayArgs;
use crate::click::{ClickRenderer, Level};
use crate::latency::kept::Kept;
use crate::live::Pace;
use crate::report::latency::{NONE_KEPT, kept_line};
use crate::report::page::Printed;
use crate::stand_in;
use crate::take::place::new_take_path;

/// Runs the command.
pub fn run(args: &PlayArgs) -> Outcome {
    let played = args.shared.to.excerpt.read(&args.line, None)?;
    let mut take = LiveTake::new(&played, &args.line.display().to_string(), &args.shared);
    let renderer = ClickRenderer::new(take.clicks.clone(), LiveTake::LEAD, Level::dbfs(args.level));
    let backend = Backend::from(args.ports.backend);
    let kept = kept_latencies(args)?;
    let config = Config {
        midi: shared::midi_choice(args.stand_in.is_some(), args.ports.midi.as_deref(), backend)?,
        audio: args.ports.audio.clone(),
        ..Config::default()
    };
    let mut session: Box<dyn Session> =
        quietly(|| backend.open(&config, Box::new(renderer))).map_err(Failure::input)?;
    if let Some(habits) = &args.stand_in {
        let script = stand_in::play(&take.expected, habits, args.shared.seed);
        let script = take.script(script, session.sample_rate());
        session = Box::new(ScriptedSession::new(session, script));
    }
    if let Some(kept) = kept {
        use_kept(&mut take, &kept, &*session, backend);
    }
    let stop = shared::stop_on_signal()?;
    let path = match &args.take {
        Some(path) => path.clone(),
        None => new_take_path(&args.line).map_err(Failure::input)?,
    };
    let printed = Printed::Text(args.shared.detail());
    take.run(session, Some(&path), Pace::RealTime, stop, printed)
}

/// What is kept, unless the player gives the latency or a stand-in plays, which has none.
fn kept_latencies(args: &PlayArgs) -> Result<Option<Kept>, Failure> {
    if args.stand_in.is_some() || args.shared.judging.gives_latency() {
        return Ok(None);
    }
    let path = Kept::place().map_err(Failure::input)?;
    Kept::read(&path).map(Some).map_err(Failure::input)
}

fn use_kept(take: &mut LiveTake, kept: &Kept, session: &dyn Session, backend: Backend) {
    let connected = session.connected();
    let found = connected
        .as_ref()
        .and_then(|connected| kept.of(backend.name(), connected));
    take.measured(match found {
        Some(found) => (found.latency(), kept_line(found)),
        None => (Default::default(), NONE_KEPT.to_string()),
    });
}
