//! `leadsman play`: a line, a click, a player, a verdict.

use super::keeping::{InLogbook, Keeping};
use super::live_take::LiveTake;
use super::shared;
use super::{Failure, Outcome};
use crate::backend::scripted::ScriptedSession;
use crate::backend::{Backend, Config, Session};
use crate::cli::PlayArgs;
use crate::click::{ClickRenderer, Level};
use crate::latency::kept::Kept;
use crate::line::Line;
use crate::live::Pace;
use crate::logbook::sessions::STAND_IN;
use crate::quiet::quietly;
use crate::report::latency::{NONE_KEPT, kept_line};
use crate::report::page::Printed;
use crate::stand_in;
use crate::take::place::new_take_path;

/// Runs the command.
pub fn run(args: &PlayArgs) -> Outcome {
    let (line, source) = shared::read_line_and_source(&args.line)?;
    let keeping = keeping(args, &line, source)?;
    let played = args.shared.to.excerpt.of(line, None)?;
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
    let printed = Printed::Text(args.shared.detail());
    take.run(session, keeping, Pace::RealTime, stop, printed)
}

/// In the logbook; in a file where one is named, or where the logbook is not wanted.
fn keeping(args: &PlayArgs, line: &Line, source: String) -> Result<Keeping, Failure> {
    if args.no_logbook {
        let file = match &args.take {
            Some(path) => path.clone(),
            None => new_take_path(&args.line).map_err(Failure::input)?,
        };
        return Ok(Keeping {
            file: Some(file),
            logbook: None,
        });
    }
    let logbook = args
        .logbook
        .open()
        .map_err(|error| error.with_hint("--no-logbook keeps the take in a file of its own"))?;
    let player = match (&args.player, &args.stand_in) {
        (Some(player), _) => player.trim().to_string(),
        (None, Some(_)) => STAND_IN.to_string(),
        (None, None) => logbook
            .usual_player()
            .map_err(|error| Failure::input(error.of(logbook.path())))?,
    };
    Ok(Keeping {
        file: args.take.clone(),
        logbook: Some(InLogbook {
            logbook,
            player,
            line: line.clone(),
            source,
        }),
    })
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
