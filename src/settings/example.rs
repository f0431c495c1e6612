//! What a key could be set to: what holds without it, where that can be written down.

use super::keys::Key;
use super::value::{Kind, refusal, written};

/// What holds where the key is not set, in the words of the option's help: `[default: the only one there is]`.
pub fn default_in_words(key: &Key) -> Option<String> {
    bracketed(&key.help())
}

fn bracketed(help: &str) -> Option<String> {
    let (_, after) = help.rsplit_once("[default: ")?;
    Some(after.strip_suffix(']')?.to_owned())
}

/// What clap puts where the option is not given; for a list, nothing.
pub fn default_typed(key: &Key) -> Option<Vec<String>> {
    let values = key.arg.get_default_values();
    let typed = values.iter().map(|value| value.to_string_lossy().into());
    match key.kind {
        Kind::Truth => Some(vec!["false".to_owned()]),
        Kind::List => Some(typed.collect()),
        _ if values.is_empty() => None,
        _ => Some(typed.collect()),
    }
}

/// A value that the key takes, as it is written in the file: its default, else one that its help names, else one that
/// serves.
///
/// `None` where none is found: the option's help lacks a `such as`.
pub fn example(key: &Key) -> Option<String> {
    let taken = |text: &String| refusal(&key.arg, text).is_none();
    let typed = default_typed(key).or_else(|| {
        let help = key.help();
        let named = [bracketed(&help), such_as(&help)].into_iter().flatten();
        let possible = key.arg.get_possible_values();
        let possible = possible.iter().map(|value| value.get_name().to_owned());
        let place = key.arg.get_value_names().and_then(|names| names.first());
        let place = place.map(ToString::to_string);
        let named = named.filter(|_| !matches!(key.kind, Kind::Text | Kind::File));
        let numbers = ["1", "0", "100"].map(str::to_owned);
        let mut any = named
            .chain(possible)
            .chain(numbers_for(key, numbers))
            .chain(place);
        any.find(taken).map(|text| vec![text])
    })?;
    Some(written(&key.arg, key.kind, &typed))
}

/// The key set to something, as it is written in the file: a list has an entry.
pub fn set_to_something(key: &Key) -> String {
    let first = key.arg.get_possible_values().into_iter().next();
    let value = match first.filter(|_| key.kind == Kind::List) {
        Some(value) => Some(written(&key.arg, key.kind, &[value.get_name().to_owned()])),
        None => example(key),
    };
    format!("{} = {}", key.name, value.unwrap_or_default())
}

/// Numbers say something only where a number is wanted.
fn numbers_for(key: &Key, numbers: [String; 3]) -> impl Iterator<Item = String> {
    let wanted = matches!(key.kind, Kind::Number | Kind::Word);
    numbers.into_iter().filter(move |_| wanted)
}

/// The word after `such as`.
fn such_as(help: &str) -> Option<String> {
    let (_, after) = help.split_once("such as ")?;
    let quoted = after
        .strip_prefix('"')
        .and_then(|after| after.split('"').next());
    let word = quoted.or_else(|| after.split([' ', ';', ')', ',']).next())?;
    Some(word.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cli::Cli;
    use crate::settings::keys::Known;
    use clap::CommandFactory;

    fn of(name: &str) -> Key {
        let known = Known::of(&Cli::command());
        let table = known.with_key(name).next().unwrap();
        table.key(name).unwrap().clone()
    }

    #[test]
    fn the_default_comes_from_clap_or_from_the_help() {
        assert_eq!(example(&of("click")).unwrap(), "\"beats\"");
        assert_eq!(example(&of("level")).unwrap(), "-18");
        assert_eq!(example(&of("window")).unwrap(), "30");
        assert_eq!(example(&of("silent")).unwrap(), "\"3:1\"");
        assert_eq!(example(&of("keep")).unwrap(), "[]");
        assert_eq!(example(&of("all")).unwrap(), "false");
        assert_eq!(example(&of("midi")).unwrap(), "\"NAME\"");
        let midi = default_in_words(&of("midi")).unwrap();
        assert_eq!(midi, "the only one there is");
        assert_eq!(default_typed(&of("midi")), None);
    }

    #[test]
    fn every_key_has_an_example_that_it_takes() {
        for table in Known::of(&Cli::command()).tables() {
            for key in &table.keys {
                let found = example(key);
                assert!(
                    found.is_some(),
                    "{}.{}: its help needs a \"such as\"",
                    table.name(),
                    key.name
                );
            }
        }
    }
}
