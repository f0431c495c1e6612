//! Which keys the settings may have: the options of the commands, as clap knows them.

use super::no_key;
use super::value::Kind;
use clap::{Arg, Command, Id};

/// The table whose keys hold for several commands.
pub const ALL: &str = "all";

/// Tables that are no command's: they are handed on as they are written.
pub const RESERVED: &[&str] = &["control"];

/// The keys of [`ALL`]: options that mean the same in every command that has them.
const SHARED: &[&str] = &[
    "midi",
    "audio",
    "backend",
    "logbook",
    "count-in",
    "click",
    "silent",
    "window",
    "lean",
    "length-window",
    "length-percent",
    "ring-window",
];

/// One key.
#[derive(Clone, Debug)]
pub struct Key {
    /// Its name: that of the long option.
    pub name: String,
    /// The option.
    pub arg: Arg,
    /// What it may be set to.
    pub kind: Kind,
}

/// The keys of one command.
#[derive(Clone, Debug)]
pub struct Table {
    /// The command's names, such as `latency` and `measure`.
    pub path: Vec<String>,
    /// What the command does.
    pub about: String,
    /// In the order of the command's help.
    pub keys: Vec<Key>,
    /// Its options that are no keys, with the reason.
    pub no_keys: Vec<(String, &'static str)>,
    /// Options, or what stands without a name, that clap does not take together: the ids, one way round.
    exclusions: Vec<(Id, Id)>,
}

/// Every key there is.
#[derive(Clone, Debug)]
pub struct Known {
    /// What several commands share.
    pub all: Table,
    /// In the order of the program's help; those without keys as well.
    pub commands: Vec<Table>,
}

impl Key {
    fn of(arg: &Arg) -> Option<Key> {
        Some(Key {
            name: arg.get_long()?.to_owned(),
            kind: Kind::of(arg),
            arg: arg.clone(),
        })
    }

    /// What the option's help says.
    pub fn help(&self) -> String {
        self.arg
            .get_help()
            .map(ToString::to_string)
            .unwrap_or_default()
    }
}

impl Table {
    /// As it stands in the file, without its brackets.
    pub fn name(&self) -> String {
        self.path.join(".")
    }

    /// The key of this name.
    pub fn key(&self, name: &str) -> Option<&Key> {
        self.keys.iter().find(|key| key.name == name)
    }

    /// Whether the two keys exclude each other.
    pub fn excludes(&self, key: &str, other: &str) -> bool {
        let id = |name: &str| self.key(name).map(|key| key.arg.get_id());
        id(key)
            .zip(id(other))
            .is_some_and(|(a, b)| self.excludes_ids(a, b))
    }

    /// The same of clap's ids, of whatever the command takes.
    pub fn excludes_ids(&self, a: &Id, b: &Id) -> bool {
        let mut pairs = self.exclusions.iter();
        pairs.any(|(one, other)| (one, other) == (a, b) || (one, other) == (b, a))
    }

    fn of(path: Vec<String>, command: &Command) -> Table {
        let options = || command.get_arguments().filter(|arg| !arg.is_positional());
        let reason = |arg: &Arg| no_key::reason(&path.join(" "), arg);
        let about = command.get_about().map(ToString::to_string);
        Table {
            about: about.unwrap_or_default(),
            keys: options()
                .filter(|arg| reason(arg).is_none())
                .filter_map(Key::of)
                .collect(),
            no_keys: options()
                .filter_map(|arg| Some((arg.get_long()?.to_owned(), reason(arg)?)))
                .collect(),
            exclusions: exclusions(command),
            path,
        }
    }
}

impl Known {
    /// The keys of a program that clap has not built yet: then an option stands at its own command only.
    pub fn of(program: &Command) -> Known {
        let mut commands = Vec::new();
        collect(program, &[], &mut commands);
        let shared = SHARED.iter().filter_map(|name| {
            let first = commands.iter().find_map(|table| table.key(name));
            first.cloned()
        });
        let all = Table {
            path: vec![ALL.to_owned()],
            about: "For every command that has the option; a command's own table beats it".into(),
            keys: shared.collect(),
            no_keys: Vec::new(),
            exclusions: Vec::new(),
        };
        Known { all, commands }
    }

    /// The table of this path.
    pub fn table(&self, path: &[String]) -> Option<&Table> {
        self.tables().find(|table| table.path == path)
    }

    /// Whether anything can be set in the table of this path, or below it.
    pub fn has_keys(&self, path: &[String]) -> bool {
        let mut below = self.tables().filter(|table| table.path.starts_with(path));
        below.any(|table| !table.keys.is_empty())
    }

    /// [`ALL`], then every command.
    pub fn tables(&self) -> impl Iterator<Item = &Table> {
        std::iter::once(&self.all).chain(&self.commands)
    }

    /// The commands that have this key.
    pub fn with_key(&self, name: &str) -> impl Iterator<Item = &Table> {
        let commands = self.commands.iter();
        commands.filter(move |table| table.key(name).is_some())
    }
}

fn exclusions(command: &Command) -> Vec<(Id, Id)> {
    let id = |arg: &Arg| arg.get_id().clone();
    let mut pairs = Vec::new();
    for arg in command.get_arguments() {
        let against = command.get_arg_conflicts_with(arg);
        pairs.extend(against.into_iter().map(|other| (id(arg), id(other))));
    }
    for group in command.get_groups() {
        // Asking a group whether it takes several takes a group that can be changed.
        if group.clone().is_multiple() {
            continue;
        }
        let members: Vec<&Id> = group.get_args().collect();
        for (index, one) in members.iter().enumerate() {
            let others = members[index + 1..].iter();
            pairs.extend(others.map(|other| ((*one).clone(), (*other).clone())));
        }
    }
    pairs
}

fn collect(command: &Command, path: &[String], tables: &mut Vec<Table>) {
    for below in command.get_subcommands() {
        let path = [path, &[below.get_name().to_owned()]].concat();
        tables.push(Table::of(path.clone(), below));
        collect(below, &path, tables);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::Cli;
    use clap::CommandFactory;

    fn known() -> Known {
        Known::of(&Cli::command())
    }

    #[test]
    fn no_command_has_the_name_of_a_table_that_is_no_commands() {
        for table in &known().commands {
            assert_ne!(table.path[0], ALL);
            assert!(!RESERVED.contains(&table.path[0].as_str()));
        }
    }

    #[test]
    fn what_commands_share_is_of_one_type_in_all_of_them() {
        let known = known();
        assert_eq!(known.all.keys.len(), SHARED.len());
        for shared in &known.all.keys {
            let mut commands = 0;
            for table in known.with_key(&shared.name) {
                let key = table.key(&shared.name).unwrap();
                let type_of = |key: &Key| key.arg.get_value_parser().type_id();
                assert_eq!(type_of(key), type_of(shared), "{}", shared.name);
                assert_eq!(key.kind, shared.kind, "{}", shared.name);
                commands += 1;
            }
            assert!(commands > 1, "{} is of one command only", shared.name);
        }
    }

    #[test]
    fn an_option_is_a_key_and_what_is_no_key_has_its_reason() {
        let known = known();
        let play = known.table(&["play".into()]).unwrap();
        assert!(play.key("level").is_some());
        assert!(play.key("bars").is_none());
        let no_keys: Vec<&str> = play.no_keys.iter().map(|(name, _)| name.as_str()).collect();
        for option in ["bars", "section", "stand-in", "take"] {
            assert!(no_keys.contains(&option), "{option}");
        }
        let measure = known.table(&["latency".into(), "measure".into()]).unwrap();
        assert_eq!(measure.name(), "latency.measure");
        assert!(measure.key("most").is_some());
    }
}
