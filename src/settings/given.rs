//! What a command is given: by its options, else by the settings, else by default.
//!
//! The command line is read twice. The first time tells which command it is and what was typed; then the values of the
//! file become the defaults of that command's options, but for those that clap does not take together with what was
//! typed, and the line is read again. So a value of the file never clashes with one that was typed, and asks for no
//! other option, as no default does.

use super::file::{Place, SettingsFile};
use super::keys::{ALL, Key, Known, Table};
use super::mistake::Mistakes;
use super::no_key::reads_settings;
use super::read::{Entry, read};
use super::value::Kind;
use crate::cli::Cli;
use clap::parser::ValueSource;
use clap::{ArgAction, ArgMatches, Command, CommandFactory, FromArgMatches, Id};
use etcetera::HomeDirError;
use std::ffi::OsString;
use std::path::{Path, PathBuf};

/// Why a command line is not followed.
#[derive(Debug)]
pub enum Refused {
    /// Clap has something to say: a mistake in the line, or the help that was asked for.
    Line(Box<clap::Error>),
    /// The settings cannot be read.
    Unreadable(String),
    /// The settings are wrong.
    Settings(Mistakes),
}

impl From<clap::Error> for Refused {
    fn from(error: clap::Error) -> Refused {
        Refused::Line(Box::new(error))
    }
}

/// Reads a command line, and the settings beneath it. The first argument is the program's name.
///
/// # Errors
/// A line or settings that are wrong; every mistake of the settings, whichever command they are about.
pub fn parse(line: Vec<OsString>) -> Result<Cli, Refused> {
    let program = deniable(Cli::command());
    let typed = program
        .clone()
        .try_get_matches_from(&line)
        .map_err(|error| as_documented(error, &line))?;
    let matches = match typed.subcommand_name() {
        Some(command) if reads_settings(command) => {
            let settings = settings(typed.get_one::<PathBuf>("settings").map(PathBuf::as_path))?;
            settings
                .beneath(program, &[], &typed)
                .try_get_matches_from(&line)?
        }
        _ => typed,
    };
    Ok(Cli::from_arg_matches(&matches)?)
}

fn settings(named: Option<&Path>) -> Result<Settings, Refused> {
    let place = match Place::of(named) {
        Ok(place) => place,
        // Without a home there are no settings.
        Err(_) => return Ok(Settings::default()),
    };
    let file = place
        .read()
        .map_err(|error| Refused::Unreadable(error.to_string()))?;
    let (settings, mistakes) = Settings::of(&file, Known::of(&Cli::command()));
    match mistakes.is_empty() {
        true => Ok(settings),
        false => Err(Refused::Settings(mistakes)),
    }
}

/// The error in the words of the program as it is documented: that a flag can be denied (`--all=false`) is not spelt
/// out at each of them.
fn as_documented(error: clap::Error, line: &[OsString]) -> clap::Error {
    match Cli::command().try_get_matches_from(line) {
        Err(documented) if documented.kind() == error.kind() => documented,
        _ => error,
    }
}

/// The same program, but flags that are keys can be denied: `--all=false`, where the settings say `all = true`.
fn deniable(program: Command) -> Command {
    let known = Known::of(&program);
    deniable_below(program, &[], &known)
}

fn deniable_below(command: Command, path: &[String], known: &Known) -> Command {
    let keys = known.table(path).map_or(&[][..], |table| &table.keys);
    let flags = keys.iter().filter(|key| key.kind == Kind::Truth);
    let mut command = flags.fold(command, |command, flag| {
        command.mut_arg(flag.arg.get_id(), |arg| {
            arg.action(ArgAction::Set)
                .value_parser(clap::value_parser!(bool))
                .num_args(0..=1)
                .require_equals(true)
                .default_value("false")
                .default_missing_value("true")
                .value_name("false")
        })
    });
    let names: Vec<String> = command
        .get_subcommands()
        .map(|below| below.get_name().to_owned())
        .collect();
    for name in names {
        let path = [path, std::slice::from_ref(&name)].concat();
        command = command.mut_subcommand(&name, |below| deniable_below(below, &path, known));
    }
    command
}

/// What the settings say.
#[derive(Clone, Debug, Default)]
pub struct Settings {
    known: Option<Known>,
    entries: Vec<Entry>,
    /// Where names of files begin that do not say.
    folder: PathBuf,
}

impl Settings {
    /// What the file says that can be understood, and its mistakes.
    pub fn of(file: &SettingsFile, known: Known) -> (Settings, Mistakes) {
        let read = read(file, &known);
        let folder = file.path().parent().unwrap_or(Path::new(""));
        let settings = Settings {
            known: Some(known),
            entries: read.entries,
            folder: folder.to_path_buf(),
        };
        (settings, file.mistakes(read.mistakes))
    }

    /// What holds for a key of a command: its own entry, else that of [`ALL`].
    pub fn entry(&self, table: &Table, key: &Key) -> Option<&Entry> {
        let of = |path: &[String]| {
            let mut entries = self.entries.iter();
            entries.find(|entry| entry.table == path && entry.key == key.name)
        };
        of(&table.path).or_else(|| of(&[ALL.to_owned()]))
    }

    /// The entries that hold for a command where these were typed: none that excludes one of them, nor one that beats it.
    pub fn holding<'s>(&'s self, table: &'s Table, typed: &Typed) -> Vec<(&'s Key, &'s Entry)> {
        let untyped = |key: &&Key| !typed.given.contains(key.arg.get_id());
        let found = table
            .keys
            .iter()
            .filter(untyped)
            .filter_map(|key| Some((key, self.entry(table, key)?)));
        let mut found: Vec<_> = found.collect();
        found.sort_by_key(|(_, entry)| entry.table != table.path);
        let mut asked = typed.asked.clone();
        found.retain(|(key, entry)| {
            let id = key.arg.get_id();
            let excluded = asked.iter().any(|other| table.excludes_ids(id, other));
            if entry.asks() && !excluded {
                asked.push(id.clone());
            }
            !(entry.asks() && excluded)
        });
        found
    }

    /// The command with what holds for it as defaults, all the way down to the one that was typed.
    fn beneath(&self, mut command: Command, path: &[String], typed: &ArgMatches) -> Command {
        let table = self.known.as_ref().and_then(|known| known.table(path));
        if let Some(table) = table {
            for (key, entry) in self.holding(table, &Typed::of(typed)) {
                let values = self.values(key, entry);
                command = command.mut_arg(key.arg.get_id(), |arg| arg.default_values(values));
            }
        }
        match typed.subcommand() {
            Some((name, typed)) => {
                let path = [path, &[name.to_owned()]].concat();
                command.mut_subcommand(name, |below| self.beneath(below, &path, typed))
            }
            None => command,
        }
    }

    /// What is set, as it would be typed in any folder.
    fn values(&self, key: &Key, entry: &Entry) -> Vec<String> {
        let typed = entry.typed.iter();
        match key.kind {
            Kind::File => typed
                .map(|text| self.file(text).display().to_string())
                .collect(),
            _ => typed.cloned().collect(),
        }
    }

    /// A file named in the settings: `~/` is the user's home, and a name that does not begin at the root begins at the
    /// folder of the settings.
    fn file(&self, text: &str) -> PathBuf {
        let at_home =
            |rest: &str| -> Result<PathBuf, HomeDirError> { Ok(etcetera::home_dir()?.join(rest)) };
        match text.strip_prefix("~/").map(at_home) {
            Some(Ok(path)) => path,
            _ => self.folder.join(text),
        }
    }
}

/// What was typed: clap's ids.
#[derive(Clone, Debug, Default)]
pub struct Typed {
    /// All of it.
    given: Vec<Id>,
    /// The same but for flags that were denied.
    asked: Vec<Id>,
}

impl Typed {
    fn of(typed: &ArgMatches) -> Typed {
        let given = |id: &&Id| typed.value_source(id.as_str()) == Some(ValueSource::CommandLine);
        let denied = |id: &Id| {
            let value = typed.try_get_one::<bool>(id.as_str());
            matches!(value, Ok(Some(false)))
        };
        let given: Vec<Id> = typed.ids().filter(given).cloned().collect();
        Typed {
            asked: given.iter().filter(|id| !denied(id)).cloned().collect(),
            given,
        }
    }
}
