//! Options that are no keys of the settings, each with its reason: the one list of them.

use clap::{Arg, ValueHint};

const EACH_TIME: &str = "it differs from run to run";
const OF_THE_FILE: &str = "it depends on the file that is read";
const ONE_FILE: &str = "it names a file of one run";
const REQUIRED: &str = "the command asks for it each time";
const ASKED: &str = "nothing is replaced or thrown away unless it is asked for there and then";
const PROGRAM: &str = "a program that reads JSON or a table asks for it when it runs leadsman";
const WHICH_TAKES: &str = "which takes are meant is said each time";

/// In every command.
const OPTIONS: &[(&str, &str)] = &[
    ("settings", "the settings cannot say where they are"),
    ("json", PROGRAM),
    ("force", ASKED),
    ("bars", EACH_TIME),
    ("section", EACH_TIME),
    ("pass", EACH_TIME),
    ("start", EACH_TIME),
    ("title", EACH_TIME),
    ("part", EACH_TIME),
    ("voice", EACH_TIME),
    ("track", EACH_TIME),
    (
        "stand-in",
        "a stand-in plays only when it is asked for there and then",
    ),
];

/// In one command.
const OPTIONS_OF: &[(&str, &str, &str)] = &[
    (
        "demo",
        "logbook",
        "invented takes come into a logbook only when it is named there and then",
    ),
    ("check", "speed", EACH_TIME),
    ("show", "speed", EACH_TIME),
    ("import", "channel", OF_THE_FILE),
    ("import", "grid", OF_THE_FILE),
    ("import", "octave", OF_THE_FILE),
    ("import", "swing", OF_THE_FILE),
    ("format", "check", EACH_TIME),
    (
        "latency measure",
        "keep-anyway",
        "what is not plausible is kept only when you say so there and then",
    ),
    (
        "latency tap",
        "keep",
        "your own lean is kept as a latency only when you say so there and then",
    ),
    (
        "logbook merge",
        "player",
        "other people's takes become one player's only when you say so there and then",
    ),
    (
        "learn",
        "two-notes",
        "what is learned stands in `[control]`",
    ),
    ("learn", "forget", ASKED),
    ("ports", "backend", "`ports` lists all there is"),
    ("takes", "line", WHICH_TAKES),
    ("takes", "player", WHICH_TAKES),
    ("takes", "session", WHICH_TAKES),
    ("takes", "removed", WHICH_TAKES),
    ("takes list", "line", WHICH_TAKES),
    ("takes list", "player", WHICH_TAKES),
    ("takes list", "session", WHICH_TAKES),
    ("takes list", "removed", WHICH_TAKES),
    ("takes note", "remove", ASKED),
    ("takes remove", "yes", ASKED),
    ("takes tidy", "yes", ASKED),
    ("sessions", "player", WHICH_TAKES),
    ("sessions list", "player", WHICH_TAKES),
    ("sessions note", "remove", ASKED),
    ("progress", "player", WHICH_TAKES),
    ("progress", "speed", WHICH_TAKES),
    ("progress", "csv", PROGRAM),
    ("check", "csv", PROGRAM),
    ("check", "summary", PROGRAM),
    ("compare", "csv", PROGRAM),
    ("compare", "speed", WHICH_TAKES),
    ("report", "line", WHICH_TAKES),
    ("report", "session", WHICH_TAKES),
    ("report", "player", WHICH_TAKES),
    ("report", "speed", EACH_TIME),
    ("rejudge", "all", WHICH_TAKES),
    ("rejudge", "line", WHICH_TAKES),
    ("rejudge", "session", WHICH_TAKES),
];

/// Commands, each with the commands below it.
const COMMANDS: &[(&str, &str)] = &[
    ("latency forget", ASKED),
    ("settings", "the settings are what it is about"),
    ("completions", "it does not read the settings"),
    ("man", "it does not read the settings"),
];

/// Files that belong to no single run.
const LASTING_FILES: &[&str] = &["logbook"];

/// Why this option of this command (`latency measure`) is no key; `None` where it is one.
pub fn reason(command: &str, arg: &Arg) -> Option<&'static str> {
    let name = arg.get_long()?;
    let of_command = COMMANDS.iter().find(|(without, _)| *without == command);
    let of_one = OPTIONS_OF
        .iter()
        .find(|(its, option, _)| *its == command && *option == name);
    let of_any = OPTIONS.iter().find(|(option, _)| *option == name);
    of_command
        .map(|(_, why)| *why)
        .or(of_one.map(|(.., why)| *why))
        .or(of_any.map(|(_, why)| *why))
        .or((names_a_file(arg) && !LASTING_FILES.contains(&name)).then_some(ONE_FILE))
        .or(arg.is_required_set().then_some(REQUIRED))
}

/// Whether the command reads the settings when it is run: those that do not are never stopped by a mistake in them.
pub fn reads_settings(command: &str) -> bool {
    !matches!(command, "settings" | "completions" | "man")
}

/// Whether the option's value is the name of a file or folder.
pub(super) fn names_a_file(arg: &Arg) -> bool {
    matches!(
        arg.get_value_hint(),
        ValueHint::AnyPath | ValueHint::FilePath | ValueHint::DirPath
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::Cli;
    use clap::{Command, CommandFactory};

    /// The command of these names, and those below it.
    fn find(names: &str) -> Option<Command> {
        let program = Cli::command();
        let found = names
            .split(' ')
            .try_fold(&program, |command, name| command.find_subcommand(name));
        found.cloned()
    }

    fn has(command: &Command, option: &str) -> bool {
        let mut options = command.get_arguments().filter_map(Arg::get_long);
        options.any(|name| name == option)
            || command.get_subcommands().any(|below| has(below, option))
    }

    #[test]
    fn what_is_listed_is_an_option_or_a_command_there_is() {
        for (option, _) in OPTIONS {
            assert!(has(&Cli::command(), option), "{option}");
        }
        for (command, option, _) in OPTIONS_OF {
            let found = find(command).unwrap_or_else(|| panic!("{command}"));
            assert!(has(&found, option), "{command} {option}");
        }
        for (command, _) in COMMANDS {
            assert!(find(command).is_some(), "{command}");
        }
    }
}
