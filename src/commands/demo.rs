//! `leadsman demo`: the whole path in virtual time, a stand-in at the instrument.

use super::keeping::{InLogbook, Keeping};
use super::live_take::LiveTake;
use super::shared;
use super::{Failure, Outcome};
use crate::backend::scripted::ScriptedSession;
use crate::backend::{Backend, Config, MidiChoice, Session};
use crate::cli::DemoArgs;
use crate::click::{ClickRenderer, Level};
use crate::line::Line;
use crate::line::parse::parse;
use crate::live::{Pace, Stop};
use crate::logbook::Logbook;
use crate::logbook::sessions::STAND_IN;
use crate::report::page::Printed;
use crate::stand_in;

/// What is played when no line is named.
const OWN_LINE: (&str, &str) = (
    "lines/gangway_skip.toml",
    include_str!("../../lines/gangway_skip.toml"),
);

/// Runs the command.
pub fn run(args: &DemoArgs) -> Outcome {
    let (line, file, source) = line(args)?;
    let keeping = keeping(args, &line, source)?;
    let played = args.shared.to.excerpt.of(line, None)?;
    let preface = format!(
        "Invented data: a stand-in plays, in virtual time. Its habits: {}.",
        args.habits
    );
    let mut take = LiveTake::new(&played, &file, &args.shared).with_preface(preface);
    if args.line.is_none() {
        take = take.of_built_in();
    }
    let printed = if args.json {
        Printed::Json
    } else {
        Printed::Text(args.shared.detail())
    };
    let renderer = ClickRenderer::new(take.clicks.clone(), LiveTake::LEAD, Level::default());
    let config = Config {
        midi: MidiChoice::Absent,
        ..Config::default()
    };
    let session = Backend::Virtual
        .open(&config, Box::new(renderer))
        .map_err(Failure::input)?;
    let script = stand_in::play(&take.expected, &args.habits, args.shared.seed);
    let script = take.script(script, session.sample_rate());
    let session: Box<dyn Session> = Box::new(ScriptedSession::new(session, script));
    take.run(session, keeping, Pace::Virtual, Stop::default(), printed)
}

/// Where it is asked for: invented takes are in nobody's logbook unasked.
fn keeping(args: &DemoArgs, line: &Line, source: String) -> Result<Keeping, Failure> {
    let logbook = match &args.logbook {
        Some(path) => Some(Logbook::open(path).map_err(|error| Failure::input(error.of(path)))?),
        None => None,
    };
    Ok(Keeping {
        file: args.take.clone(),
        logbook: logbook.map(|logbook| InLogbook {
            logbook,
            player: STAND_IN.to_string(),
            line: line.clone(),
            source,
        }),
    })
}

/// The line, its file, and the file's text.
fn line(args: &DemoArgs) -> Result<(Line, String, String), Failure> {
    match &args.line {
        Some(path) => {
            let (line, source) = shared::read_line_and_source(path)?;
            Ok((line, path.display().to_string(), source))
        }
        None => {
            let (file, text) = OWN_LINE;
            let line = parse(text, file)
                .map_err(|mistakes| Failure::WrongInput(mistakes.render(false)))?;
            Ok((line, file.to_string(), text.to_string()))
        }
    }
}
