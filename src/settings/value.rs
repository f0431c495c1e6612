//! From a value of the file to what would be typed for the option, and what clap says of it.

use super::no_key::names_a_file;
use clap::error::{ContextKind, ContextValue};
use clap::{Arg, ArgAction, Command};
use std::any::TypeId;
use std::error::Error;
use toml::Spanned;
use toml::de::DeValue;

/// What a key may be set to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// `true` or `false`.
    Truth,
    /// A number.
    Number,
    /// A quoted text.
    Text,
    /// A quoted text: the name of a file.
    File,
    /// A word in quotes, or a number where it is one.
    Word,
    /// A list of any of these.
    List,
}

impl Kind {
    /// What the option's values are.
    pub fn of(arg: &Arg) -> Kind {
        match arg.get_action() {
            ArgAction::SetTrue | ArgAction::SetFalse => Kind::Truth,
            ArgAction::Append => Kind::List,
            _ => Kind::of_one(arg),
        }
    }

    /// What one of the option's values is.
    pub fn of_one(arg: &Arg) -> Kind {
        let its_type = arg.get_value_parser().type_id();
        let numbers = [
            TypeId::of::<f64>(),
            TypeId::of::<f32>(),
            TypeId::of::<usize>(),
            TypeId::of::<u64>(),
            TypeId::of::<u32>(),
            TypeId::of::<u16>(),
            TypeId::of::<u8>(),
            TypeId::of::<i64>(),
            TypeId::of::<i32>(),
            TypeId::of::<i8>(),
        ];
        if numbers.iter().any(|number| its_type == *number) {
            Kind::Number
        } else if names_a_file(arg) {
            Kind::File
        } else if its_type == TypeId::of::<String>() {
            Kind::Text
        } else {
            Kind::Word
        }
    }

    /// What is to be written, in words.
    pub fn wanted(self) -> &'static str {
        match self {
            Kind::Truth => "true or false",
            Kind::Number => "a plain number",
            Kind::Text | Kind::File => "a quoted text",
            Kind::Word => "a quoted text or a plain number",
            Kind::List => "a list",
        }
    }
}

/// What would be typed for this value: several for a list. `Err` is the value that is of the wrong type, and what is
/// wanted of it.
pub fn typed<'v, 't>(
    arg: &Arg,
    kind: Kind,
    value: &'v Spanned<DeValue<'t>>,
) -> Result<Vec<String>, (&'v Spanned<DeValue<'t>>, Kind)> {
    match (kind, value.get_ref()) {
        (Kind::List, DeValue::Array(items)) => {
            let one = Kind::of_one(arg);
            let items = items
                .iter()
                .map(|item| text_of(one, item).ok_or((item, one)));
            items.collect()
        }
        _ => match text_of(kind, value) {
            Some(text) => Ok(vec![text]),
            None => Err((value, kind)),
        },
    }
}

fn text_of(kind: Kind, value: &Spanned<DeValue<'_>>) -> Option<String> {
    match (kind, value.get_ref()) {
        (Kind::Truth, DeValue::Boolean(truth)) => Some(truth.to_string()),
        (Kind::Text | Kind::File | Kind::Word, DeValue::String(text)) => Some(text.to_string()),
        (Kind::Number | Kind::Word, DeValue::Integer(integer)) if integer.radix() == 10 => {
            Some(integer.as_str().to_owned())
        }
        (Kind::Number | Kind::Word, DeValue::Float(float)) => Some(float.as_str().to_owned()),
        _ => None,
    }
}

/// What clap has against this value of the option, in words; `None` where it takes it.
pub fn refusal(arg: &Arg, typed: &str) -> Option<String> {
    const NAME: &str = "value";
    // Alone, so that nothing but the value is judged.
    let alone = Arg::new(NAME)
        .long(NAME)
        .value_parser(arg.get_value_parser().clone())
        .action(ArgAction::Set)
        .num_args(1)
        .require_equals(true);
    let error = Command::new("settings")
        .arg(alone)
        .try_get_matches_from(["settings", &format!("--{NAME}={typed}")])
        .err()?;
    let possible = match error.get(ContextKind::ValidValue) {
        Some(ContextValue::Strings(names)) if !names.is_empty() => Some(names.clone()),
        _ => None,
    };
    Some(match (possible, error.source()) {
        (Some(names), _) => format!("it is one of {}", names.join(", ")),
        (None, Some(why)) => in_words(&why.to_string(), typed),
        (None, None) => "a value is needed".to_owned(),
    })
}

/// What Rust says of a whole number, as a player would say it.
fn in_words(why: &str, typed: &str) -> String {
    let negative = typed.strip_prefix('-').is_some_and(is_number);
    match why {
        "invalid digit found in string" if negative => "must not be negative".to_owned(),
        "invalid digit found in string" => "must be a whole number".to_owned(),
        other => other.to_owned(),
    }
}

/// The value as the file would have it.
pub fn written(arg: &Arg, kind: Kind, typed: &[String]) -> String {
    let one = |kind: Kind, text: &String| match kind {
        Kind::Truth | Kind::Number => text.clone(),
        Kind::Word if is_number(text) => text.clone(),
        _ => toml::Value::String(text.clone()).to_string(),
    };
    match kind {
        Kind::List => {
            let of_one = Kind::of_one(arg);
            let items = typed.iter().map(|text| one(of_one, text));
            format!("[{}]", items.collect::<Vec<_>>().join(", "))
        }
        _ => typed
            .first()
            .map_or_else(String::new, |text| one(kind, text)),
    }
}

/// Whether TOML reads it as a number that stays as it is written.
fn is_number(text: &str) -> bool {
    let plain = |c: char| c.is_ascii_digit() || "+-.".contains(c);
    text.chars().all(plain)
        && matches!(
            text.parse::<toml::Value>(),
            Ok(toml::Value::Integer(_) | toml::Value::Float(_))
        )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::settings::keys::Known;
    use clap::CommandFactory;

    fn arg(name: &str) -> (Arg, Kind) {
        let known = Known::of(&crate::cli::Cli::command());
        let table = known.with_key(name).next().unwrap();
        let key = table.key(name).unwrap();
        (key.arg.clone(), key.kind)
    }

    #[test]
    fn the_type_of_an_option_says_what_is_to_be_written() {
        for (name, kind) in [
            ("window", Kind::Number),
            ("count-in", Kind::Number),
            ("all", Kind::Truth),
            ("midi", Kind::Text),
            ("logbook", Kind::File),
            ("click", Kind::Word),
            ("speed", Kind::Word),
            ("keep", Kind::List),
        ] {
            assert_eq!(arg(name).1, kind, "{name}");
        }
    }

    #[test]
    fn clap_says_what_is_wrong_with_a_value() {
        let refused = |name: &str, text: &str| refusal(&arg(name).0, text);
        assert_eq!(refused("window", "30"), None);
        assert_eq!(
            refused("window", "-1").as_deref(),
            Some("must not be negative")
        );
        assert!(refused("count-in", "9").unwrap().contains("0..=8"));
        assert!(refused("click", "sometimes").unwrap().contains("upbeats"));
        let whole = refused("count-in", "1.5");
        assert_eq!(whole.as_deref(), Some("must be a whole number"));
        let signed = refused("seed", "-1");
        assert_eq!(signed.as_deref(), Some("must not be negative"));
        assert_eq!(refused("player", "Nadia"), None);
        assert!(refused("player", " ").is_some());
        assert!(refused("player", "").is_some());
    }

    #[test]
    fn a_value_is_written_as_the_file_has_it() {
        let shown = |name: &str, typed: &[&str]| {
            let (arg, kind) = arg(name);
            let typed: Vec<String> = typed.iter().map(ToString::to_string).collect();
            written(&arg, kind, &typed)
        };
        assert_eq!(shown("window", &["30"]), "30");
        assert_eq!(shown("speed", &["85"]), "85");
        assert_eq!(shown("speed", &["85%"]), "\"85%\"");
        assert_eq!(shown("midi", &["7"]), "\"7\"");
        assert_eq!(shown("midi", &["say \"bass\""]).matches("bass").count(), 1);
        assert_eq!(shown("keep", &[]), "[]");
    }
}
