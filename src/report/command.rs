//! The command that sets a practice up, ready to be entered.

use super::{LineFacts, LineSource};
use crate::click::Pattern;
use crate::findings::practice::Practice;
use crate::line::bar_range::BarRange;
use std::borrow::Cow;

/// `leadsman play lines/x.toml --bars 3-6 --speed 80 --click upbeats`; what holds without saying is left out.
pub fn command(line: &LineFacts, practice: &Practice) -> String {
    let program = match line.source {
        LineSource::File => play(&line.file),
        LineSource::BuiltIn => "leadsman demo".to_string(),
    };
    let mut words = program + &stretch(Some(practice.bars.into()), practice.speed);
    if practice.click != Pattern::default() {
        words += &format!(" --click {}", practice.click.name());
    }
    words
}

/// The same for bars of a line's file, or all of it.
pub fn command_of(file: &str, bars: Option<BarRange>, speed: f64) -> String {
    play(file) + &stretch(bars, speed)
}

fn play(file: &str) -> String {
    format!("leadsman play {}", quoted(file))
}

fn stretch(bars: Option<BarRange>, speed: f64) -> String {
    let mut words = match bars {
        None => String::new(),
        Some(BarRange { first, last }) if first == last => format!(" --bars {first}"),
        Some(BarRange { first, last }) => format!(" --bars {first}-{last}"),
    };
    if speed != 100.0 {
        words += &format!(" --speed {speed}");
    }
    words
}

/// A path as a shell takes it for one word that is no option. A path with a NUL, which no file has, stays as it is.
fn quoted(path: &str) -> Cow<'_, str> {
    let path = if path.starts_with('-') {
        Cow::from(format!("./{path}"))
    } else {
        Cow::from(path)
    };
    shlex::try_quote(&path)
        .map(|quoted| Cow::from(quoted.into_owned()))
        .unwrap_or(path)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::{Cli, Command, TakeArgs};
    use crate::expected::tempo_map::Speed;
    use clap::Parser;

    fn line(file: &str, source: LineSource) -> LineFacts {
        LineFacts {
            title: "a".into(),
            file: file.into(),
            tempo: 120.0,
            speed: 100.0,
            bars: None,
            notes: 1,
            source,
        }
    }

    fn practice(bars: [u32; 2], speed: f64, click: Pattern) -> Practice {
        Practice { bars, speed, click }
    }

    /// The command through a shell's division into words and the program's own parser.
    fn parsed(command: &str) -> (Option<String>, TakeArgs) {
        let words = shlex::split(command).expect("quotes in pairs");
        match Cli::try_parse_from(words).expect("a command").command {
            Command::Play(args) => (Some(args.line.display().to_string()), args.shared),
            Command::Demo(args) => (
                args.line.map(|line| line.display().to_string()),
                args.shared,
            ),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn what_holds_without_saying_is_left_out() {
        let of = |practice| command(&line("lines/x.toml", LineSource::File), &practice);
        assert_eq!(
            of(practice([3, 6], 80.0, Pattern::Upbeats)),
            "leadsman play lines/x.toml --bars 3-6 --speed 80 --click upbeats"
        );
        assert_eq!(
            of(practice([0, 0], 100.0, Pattern::Beats)),
            "leadsman play lines/x.toml --bars 0"
        );
    }

    #[test]
    fn a_line_that_is_no_file_is_set_up_with_the_demo() {
        let built_in = line("lines/x.toml", LineSource::BuiltIn);
        let command = command(&built_in, &practice([3, 4], 60.0, Pattern::Beats));
        assert_eq!(command, "leadsman demo --bars 3-4 --speed 60");
        assert_eq!(parsed(&command).0, None);
    }

    #[test]
    fn the_program_takes_every_command_whatever_the_file_is_called() {
        let files = [
            "x.toml",
            "the car deck/Éva's line.toml",
            "-x.toml",
            "$(x);y",
            "a\"b",
        ];
        let clicks = [
            Pattern::Beats,
            Pattern::TwoAndFour,
            Pattern::Bar,
            Pattern::Upbeats,
        ];
        for (file, click) in files
            .iter()
            .flat_map(|file| clicks.map(|click| (file, click)))
        {
            let practice = practice([2, 5], 67.5, click);
            let (taken, args) = parsed(&command(&line(file, LineSource::File), &practice));
            assert_eq!(taken.expect("a file").trim_start_matches("./"), *file);
            assert_eq!(Pattern::from(args.to.click), click);
            assert_eq!(args.to.speed, Speed(67_500));
            assert_eq!(args.to.excerpt.bars, Some([2, 5].into()));
        }
    }
}
