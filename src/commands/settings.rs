//! `leadsman settings`: where they are, what holds, and a file to fill in.

use super::{Failure, Outcome, colour};
use crate::cli::Cli;
use crate::cli::settings::SettingsArgs;
use crate::draft::{self, Existing};
use crate::practice::Command;
use crate::settings::blank::blank;
use crate::settings::control::{self, CONTROL, Control, TWO_NOTES};
use crate::settings::file::{Place, SettingsFile};
use crate::settings::given::Settings;
use crate::settings::holds::held;
use crate::settings::keys::{Known, Table};
use clap::CommandFactory;
use std::io::{self, Write};
use std::path::Path;

/// Runs the command on the settings that were named, or the usual ones.
pub fn run(args: &SettingsArgs, named: Option<&Path>) -> Outcome {
    let place = Place::of(named).map_err(Failure::input)?;
    let known = Known::of(&Cli::command());
    if args.write {
        return begin(place.path(), &known);
    }
    let chosen = chosen(&known, &args.of)?;
    let file = place.read().map_err(Failure::input)?;
    let (settings, mistakes) = Settings::of(&file, known.clone());
    let control = control::read(&file);
    let mut out = io::BufWriter::new(io::stdout().lock());
    say_place(&file, &mut out)?;
    for table in chosen {
        say_table(&settings, table, &mut out)?;
    }
    if args.of.is_empty() || HAVE_CONTROL.iter().any(|command| args.of == [*command]) {
        say_control(&control, &mut out)?;
    }
    out.flush()?;
    let all = mistakes.iter().cloned().chain(control.mistakes);
    let mistakes = file.mistakes(all.collect());
    if mistakes.is_empty() {
        return Ok(());
    }
    // What can be understood has been said; what cannot stops every other command.
    Err(Failure::WrongInput(mistakes.render(colour::on_stderr())))
}

/// The commands that the table `[control]` is for.
const HAVE_CONTROL: [&str; 2] = ["play", "learn"];

/// The tables with keys that were asked for.
fn chosen<'k>(known: &'k Known, of: &[String]) -> Result<Vec<&'k Table>, Failure> {
    let below = |table: &&Table| table.path.starts_with(of);
    if !known.commands.iter().any(|table| below(&table)) {
        let name = of.join(" ");
        return Err(Failure::input(format!("there is no command `{name}`")));
    }
    let tables = known.commands.iter().filter(below);
    Ok(tables.filter(|table| !table.keys.is_empty()).collect())
}

/// In a comment, so that all that is printed is TOML.
fn say_place(file: &SettingsFile, out: &mut impl Write) -> io::Result<()> {
    write!(out, "# {}", file.path().display())?;
    if !file.is_there() {
        write!(out, " (not there; `leadsman settings --write` begins it)")?;
    }
    writeln!(out)
}

fn say_table(settings: &Settings, table: &Table, out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "\n[{}]", table.name())?;
    let all = held(settings, table);
    let shown = |key: &str, value: &Option<String>| match value {
        Some(value) => format!("{key} = {value}"),
        None => format!("#{key}"),
    };
    let lines: Vec<(String, String)> = all
        .into_iter()
        .map(|held| (shown(&held.key, &held.value), held.from))
        .collect();
    say_lines(&lines, out)
}

/// What is bound, in words behind each.
fn say_control(control: &Control, out: &mut impl Write) -> io::Result<()> {
    writeln!(out, "\n[{CONTROL}]")?;
    let entries = control.mapping.entries().map_err(io::Error::other)?;
    let shown = |key: &str, words: Option<String>| match (entries.get(key), words) {
        (Some(value), Some(words)) => {
            let line = control.lines.get(key);
            let line = line.map_or_else(String::new, |line| format!(" (the file, line {line})"));
            (format!("{key} = {value}"), words + &line)
        }
        _ => (format!("#{key}"), "not set".to_owned()),
    };
    let switches = Command::ALL.into_iter().map(|command| {
        let trigger = control.mapping.trigger(command);
        shown(command.name(), trigger.map(|trigger| trigger.to_string()))
    });
    let two_notes = control.mapping.two_notes.as_ref();
    let two_notes = two_notes.map(|two| format!("{two}: {}", two.command));
    let lines: Vec<_> = switches.chain([shown(TWO_NOTES, two_notes)]).collect();
    say_lines(&lines, out)
}

/// Lines and what is said behind each, one below the other.
fn say_lines(lines: &[(String, String)], out: &mut impl Write) -> io::Result<()> {
    const WIDEST: usize = 40;
    let widths = lines.iter().map(|(line, _)| line.chars().count());
    let width = widths.max().unwrap_or(0).min(WIDEST);
    lines
        .iter()
        .try_for_each(|(line, from)| writeln!(out, "{line:width$}  # {from}"))
}

fn begin(path: &Path, known: &Known) -> Outcome {
    let shown = path.display();
    let cannot = |error: io::Error| {
        Failure::input(match error.kind() {
            io::ErrorKind::AlreadyExists => {
                format!("{shown} is there already, and is left as it is")
            }
            _ => format!("cannot write {shown}: {error}"),
        })
    };
    if let Some(folder) = path.parent().filter(|folder| *folder != Path::new("")) {
        std::fs::create_dir_all(folder).map_err(cannot)?;
    }
    draft::write(path, blank(known), Existing::Kept).map_err(cannot)?;
    Ok(writeln!(
        io::stdout(),
        "{shown} begins: every key is in it, commented out"
    )?)
}
