//! A file of settings to fill in: every key with its help, commented out at its default.

use super::example::example;
use super::keys::{Key, Known, Table};
use textwrap::Options;

const WIDTH: usize = 90;

/// The first lines of the file.
const HEAD: &str = "\
# Settings of leadsman. To set a key, take the # before it away.
#
# An option that is typed beats this file, and this file beats what holds without it. A flag that is set here is taken
# back by typing it with =false, such as --all=false. `leadsman settings` says what holds, and from where.
";

/// The last lines.
const TAIL: &str = "
# A table [control] is kept by leadsman itself: what it has learned of your foot switch (`leadsman learn`).
";

/// The whole text. Lines of words begin with `# `, keys with `#` alone.
pub fn blank(known: &Known) -> String {
    let tables = known.tables().filter(|table| !table.keys.is_empty());
    let text: String = tables.map(of_table).collect();
    format!("{HEAD}{text}{TAIL}")
}

fn of_table(table: &Table) -> String {
    let keys: String = table.keys.iter().map(of_key).collect();
    let about = comment(&format!("{}.", table.about));
    format!("\n{about}[{}]\n{keys}", table.name())
}

fn of_key(key: &Key) -> String {
    let mut text = format!("\n{}", comment(&key.help()));
    for value in key.arg.get_possible_values() {
        let help = value.get_help().map(|help| format!(": {help}"));
        text += &comment(&format!(
            "- {}{}",
            value.get_name(),
            help.unwrap_or_default()
        ));
    }
    // What has no example is found by a test.
    let value = example(key).unwrap_or_default();
    format!("{text}#{} = {value}\n", key.name)
}

fn comment(text: &str) -> String {
    let options = Options::new(WIDTH)
        .initial_indent("# ")
        .subsequent_indent("# ")
        .break_words(false);
    textwrap::fill(text, options) + "\n"
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::Cli;
    use crate::settings::file::SettingsFile;
    use crate::settings::read::read;
    use clap::CommandFactory;
    use std::path::Path;

    #[test]
    fn with_every_key_set_it_is_accepted() {
        let known = Known::of(&Cli::command());
        let text = blank(&known);
        let (set, excluded) = set(&text, &known);
        let read = |text: &str| read(&SettingsFile::of_text(Path::new("s.toml"), text), &known);
        let all = read(&set);
        let file = SettingsFile::of_text(Path::new("s.toml"), &set);
        assert!(all.mistakes.is_empty(), "{}", file.mistakes(all.mistakes));
        let keys: usize = known.tables().map(|table| table.keys.len()).sum();
        assert_eq!(all.entries.len() + excluded, keys);
        assert!(excluded < 12, "{excluded}");
        let none = read(&text);
        assert_eq!((none.entries.len(), none.mistakes.len()), (0, 0));
    }

    /// The keys' lines without their comment signs, but for those that a key before them excludes; and how many these are.
    fn set(text: &str, known: &Known) -> (String, usize) {
        let (mut set, mut excluded) = (String::new(), 0);
        let mut table = None;
        let mut before: Vec<&str> = Vec::new();
        for line in text.lines() {
            if let Some(name) = line
                .strip_prefix('[')
                .and_then(|rest| rest.strip_suffix(']'))
            {
                table = known.tables().find(|table| table.name() == name);
                before.clear();
            }
            let key = line
                .strip_prefix('#')
                .filter(|rest| rest.starts_with(|c: char| c.is_alphanumeric()));
            let name = key.and_then(|key| key.split(' ').next());
            let clashes = |name: &str| {
                let excludes = |before: &&str| table.is_some_and(|t| t.excludes(before, name));
                before.iter().any(excludes)
            };
            if name.is_some_and(clashes) {
                excluded += 1;
                continue;
            }
            before.extend(name);
            set += key.unwrap_or(line);
            set.push('\n');
        }
        (set, excluded)
    }
}
