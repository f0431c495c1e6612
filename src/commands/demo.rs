//! `leadsman demo`: the whole path in virtual time, a stand-in at the instrument.

use super::keeping::{InLogbook, Keeping};
use super::room::{self, About, Door, Face, Furnished, Hands, KeepTake, Mute, Plain, Practising};
use super::shared;
use super::{Failure, Outcome};
use crate::backend::{Backend, Config, MidiChoice};
use crate::cli::DemoArgs;
use crate::click::ClickSound;
use crate::judge::Settings;
use crate::line::Line;
use crate::line::parse::parse;
use crate::live::{Pace, Stop};
use crate::logbook::Logbook;
use crate::logbook::sessions::STAND_IN;
use crate::practice::care::RestAfter;
use crate::practice::{Plan, Repeat};
use crate::report::LineSource;
use crate::report::page::Printed;
use std::path::PathBuf;

/// What is played when no line is named.
const OWN_LINE: (&str, &str) = (
    "lines/gangway_skip.toml",
    include_str!("../../lines/gangway_skip.toml"),
);

/// Runs the command.
pub fn run(args: &DemoArgs) -> Outcome {
    let (line, file, source) = line(args)?;
    let keep = keep(args, &line, source)?;
    let preface = format!(
        "Invented data: a stand-in plays, in virtual time. Its habits: {}.",
        args.habits
    );
    let setup = room::once(&args.shared.to, &line)?;
    let plan = Plan::new(setup, &line).map_err(Failure::input)?;
    let about = About {
        line,
        file,
        source: match args.line {
            Some(_) => LineSource::File,
            None => LineSource::BuiltIn,
        },
        settings: args.shared.judging.over(Settings::default()),
    };
    let room = Furnished {
        about,
        door: door(),
        click: ClickSound::default(),
        stand_in: Some((args.habits, args.shared.seed)),
        keep,
        rest_after: RestAfter::Never,
        stop: Stop::default(),
    };
    let opened = room.door.open(room.click.level, &room.stop)?;
    let (mut mute, mut plain);
    let (face, printed): (&mut dyn Face, _) = if args.json {
        mute = Mute;
        (&mut mute, Printed::Json)
    } else {
        plain = Plain::unasked(Some(preface), Repeat::Once);
        (&mut plain, Printed::Text(args.shared.detail()))
    };
    let left = Practising::new(room, plan, opened, Hands::none(), face).run()?;
    left.print(printed)
}

/// As fast as the machine goes.
fn door() -> Door {
    Door {
        backend: Backend::Virtual,
        config: Config {
            midi: MidiChoice::Absent,
            ..Config::default()
        },
        has_stand_in: true,
        pace: Pace::Virtual,
        kept: None,
    }
}

/// Where it is asked for: invented takes are in nobody's logbook unasked.
fn keep<'a>(args: &'a DemoArgs, line: &Line, source: String) -> Result<KeepTake<'a>, Failure> {
    let open = |path: &PathBuf| Logbook::open(path).map_err(|error| Failure::input(error.of(path)));
    // Told before anything is played.
    args.logbook.as_ref().map(open).transpose()?;
    let line = line.clone();
    Ok(Box::new(move |_| {
        let logbook = args.logbook.as_ref().map(open).transpose()?;
        Ok(Keeping {
            file: args.take.clone(),
            logbook: logbook.map(|logbook| InLogbook {
                logbook,
                player: STAND_IN.to_string(),
                line: line.clone(),
                source: source.clone(),
            }),
        })
    }))
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
