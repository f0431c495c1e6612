//! `leadsman demo`: the whole path in virtual time, a stand-in at the instrument.

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
use crate::report::page::Printed;
use crate::stand_in;

/// What is played when no line is named.
const OWN_LINE: (&str, &str) = (
    "lines/gangway_skip.toml",
    include_str!("../../lines/gangway_skip.toml"),
);

/// Runs the command.
pub fn run(args: &DemoArgs) -> Outcome {
    let (line, file) = line(args)?;
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
    take.run(
        session,
        args.take.as_deref(),
        Pace::Virtual,
        Stop::default(),
        printed,
    )
}

fn line(args: &DemoArgs) -> Result<(Line, String), Failure> {
    match &args.line {
        Some(path) => Ok((shared::read_line(path)?, path.display().to_string())),
        None => {
            let (file, text) = OWN_LINE;
            let line = parse(text, file)
                .map_err(|mistakes| Failure::WrongInput(mistakes.render(false)))?;
            Ok((line, file.to_string()))
        }
    }
}
