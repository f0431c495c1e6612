//! `leadsman play`: a line, a click, a player, a verdict; and again.

use super::control::Controls;
use super::keeping::{InLogbook, Keeping};
use super::room::{
    self, About, Door, Face, Furnished, Hands, KeepTake, OnScreen, Plain, Practising, Sheet,
};
use super::shared;
use super::{Failure, Outcome, colour};
use crate::backend::{Backend, Config};
use crate::cli::PlayArgs;
use crate::click::{ClickSound, FadeIn, Level};
use crate::judge::Settings;
use crate::latency::kept::Kept;
use crate::line::Line;
use crate::live::Pace;
use crate::logbook::sessions::STAND_IN;
use crate::practice::care::RestAfter;
use crate::practice::{Method, Plan, Repeat, Setup, Start};
use crate::report::LineSource;
use crate::report::page::Printed;
use crate::screen::{Colours, Look, Size};
use crate::take::place::new_take_path;
use std::io::{self, IsTerminal};
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::time::Duration;

/// Runs the command; `settings` is the file that was named.
pub fn run(args: &PlayArgs, settings: Option<&Path>) -> Outcome {
    let controls = Controls::read(settings)?;
    let (line, source) = shared::read_line_and_source(&args.line)?;
    let is_seen = is_seen(args);
    let setup = setup(args, &line, is_seen)?;
    let repeat = setup.repeat;
    let keep = keep(args, &line, source)?;
    let plan = Plan::new(setup, &line).map_err(Failure::input)?;
    let about = About {
        line,
        file: args.line.display().to_string(),
        source: LineSource::File,
        settings: args.shared.judging.over(Settings::default()),
    };
    let sheet = Rc::new(Sheet::of(plan.coming(), &about)?);
    let intake = about.settings.intake;
    let hands = Hands::new(controls, &sheet.expected, intake).map_err(Failure::input)?;
    let stop = shared::stop_on_signal()?;
    let room = Furnished {
        about,
        door: door(args)?,
        click: click(args),
        stand_in: args.stand_in.map(|habits| (habits, args.shared.seed)),
        keep,
        rest_after: match args.stand_in {
            Some(_) => RestAfter::Never,
            None => args.practice.rest_after,
        },
        stop,
    };
    let opened = room.door.open(room.click.level, &room.stop)?;
    // The screen is down before anything is printed.
    let left = {
        let (mut on_screen, mut plain);
        let face: &mut dyn Face = if is_seen {
            on_screen = OnScreen::open(look(args), &sheet)?;
            &mut on_screen
        } else {
            plain = Plain::new(repeat);
            &mut plain
        };
        Practising::new(room, plan, opened, hands, face).run()?
    };
    left.print(Printed::Text(args.shared.detail()))
}

/// Whether there is a screen to be seen, and somebody at its keys.
fn is_seen(args: &PlayArgs) -> bool {
    let is_dumb = std::env::var_os("TERM").is_none_or(|term| term == "dumb");
    !args.screen.plain && !is_dumb && io::stdin().is_terminal() && io::stdout().is_terminal()
}

fn look(args: &PlayArgs) -> Look {
    Look {
        colours: if colour::is_refused() {
            Colours::None
        } else {
            Colours::of_environment(|name| std::env::var(name).ok())
        },
        charset: shared::charset(),
        size: if args.screen.big {
            Size::Big
        } else {
            Size::Usual
        },
    }
}

fn setup(args: &PlayArgs, line: &Line, is_seen: bool) -> Result<Setup, Failure> {
    let practice = &args.practice;
    let once = room::once(&args.shared.to, line)?;
    let usual = if is_seen || practice.climb.is_some() {
        Repeat::Loop
    } else {
        Repeat::Once
    };
    Ok(Setup {
        method: method(args),
        between: args.sound.subdivide,
        start: if practice.first_note {
            Start::WithFirstNote
        } else {
            once.start
        },
        guide: practice.guide,
        repeat: practice.repeat.unwrap_or(usual),
        ..once
    })
}

fn method(args: &PlayArgs) -> Method {
    let practice = &args.practice;
    match practice.climb {
        Some(climb) => Method::Climb(climb, practice.criteria.unwrap_or_default()),
        None if practice.play_through => Method::PlayThrough,
        None => Method::Steady(args.shared.to.speed),
    }
}

fn click(args: &PlayArgs) -> ClickSound {
    ClickSound {
        level: Level::dbfs(args.sound.level),
        accent: args.sound.accent,
        pitch: args.sound.tone,
        pan: args.sound.pan,
        fade: FadeIn::CountIn,
    }
}

fn door(args: &PlayArgs) -> Result<Door, Failure> {
    let backend = Backend::from(args.ports.backend);
    Ok(Door {
        backend,
        config: Config {
            midi: shared::midi_choice(
                args.stand_in.is_some(),
                args.ports.midi.as_deref(),
                backend,
            )?,
            audio: args.ports.audio.clone(),
            period: args.sound.buffer,
            // Whoever sits at the screen sees what is missing, and may take all the time there is.
            patience: is_seen(args).then_some(Duration::MAX),
            ..Config::default()
        },
        has_stand_in: args.stand_in.is_some(),
        pace: Pace::RealTime,
        kept: kept_latencies(args)?,
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

/// In the logbook; in a file where one is named, or where the logbook is not wanted.
fn keep<'a>(args: &'a PlayArgs, line: &Line, source: String) -> Result<KeepTake<'a>, Failure> {
    if args.no_logbook {
        return Ok(Box::new(|number| {
            let file = match &args.take {
                Some(path) => numbered(path, number),
                None => new_take_path(&args.line).map_err(Failure::input)?,
            };
            Ok(Keeping {
                file: Some(file),
                logbook: None,
            })
        }));
    }
    let open = || {
        let hint = "--no-logbook keeps the take in a file of its own";
        args.logbook.open().map_err(|error| error.with_hint(hint))
    };
    let player = player(args, &open()?)?;
    let line = line.clone();
    Ok(Box::new(move |number| {
        Ok(Keeping {
            file: args.take.as_ref().map(|path| numbered(path, number)),
            logbook: Some(InLogbook {
                logbook: open()?,
                player: player.clone(),
                line: line.clone(),
                source: source.clone(),
            }),
        })
    }))
}

fn player(args: &PlayArgs, logbook: &crate::logbook::Logbook) -> Result<String, Failure> {
    match (&args.player, &args.stand_in) {
        (Some(player), _) => Ok(player.trim().to_string()),
        (None, Some(_)) => Ok(STAND_IN.to_string()),
        (None, None) => logbook
            .usual_player()
            .map_err(|error| Failure::input(error.of(logbook.path()))),
    }
}

/// `night.mid`, then `night-2.mid`, `night-3.mid`.
fn numbered(path: &Path, number: u32) -> PathBuf {
    if number == 1 {
        return path.to_path_buf();
    }
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let extension = path
        .extension()
        .map(|extension| extension.to_string_lossy());
    path.with_file_name(match extension {
        Some(extension) => format!("{stem}-{number}.{extension}"),
        None => format!("{stem}-{number}"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_take_has_the_name_that_was_given_and_the_others_a_number() {
        let named = |path: &str, number| numbered(Path::new(path), number).display().to_string();
        assert_eq!(named("takes/night.v2.mid", 1), "takes/night.v2.mid");
        assert_eq!(named("takes/night.v2.mid", 2), "takes/night.v2-2.mid");
        assert_eq!(named("night", 13), "night-13");
    }
}
