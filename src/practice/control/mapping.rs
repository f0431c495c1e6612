//! Which switch means what.

use super::trigger::Trigger;
use crate::line::pitch::PitchClass;
use crate::practice::command::Command;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fmt;

/// Triggers by command: the table `[control]` of the settings file, its keys the names of the commands.
///
/// ```toml
/// [control]
/// again = { control = 64, channel = 1 }
/// next = { program = 3, channel = 1 }
/// two-notes = { string = "G", command = "again" }
/// ```
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Mapping {
    #[serde(skip_serializing_if = "Option::is_none")]
    again: Option<Trigger>,
    #[serde(skip_serializing_if = "Option::is_none")]
    next: Option<Trigger>,
    #[serde(skip_serializing_if = "Option::is_none")]
    slower: Option<Trigger>,
    #[serde(skip_serializing_if = "Option::is_none")]
    faster: Option<Trigger>,
    #[serde(skip_serializing_if = "Option::is_none")]
    stop: Option<Trigger>,
    /// What two quick notes on an open string mean; `None`: nothing.
    #[serde(rename = "two-notes", skip_serializing_if = "Option::is_none")]
    pub two_notes: Option<TwoNotesSetting>,
}

/// Two quick notes on an open string, as they stand in the settings file.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TwoNotesSetting {
    /// The string's label, as the page has it: `E`, `A`, `D`, `G`, or a number where letters repeat.
    pub string: String,
    /// What they mean.
    #[serde(default = "again")]
    pub command: Command,
}

fn again() -> Command {
    Command::Again
}

/// The text is no label of a string.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("write the string's letter, such as G, or its number where letters repeat")]
pub struct NotAString;

/// A string's label as the page has it, from a text that may be in small letters: a letter (`G`, `Eb`) or a number (`1`).
pub fn string_label(text: &str) -> Result<String, NotAString> {
    let text = text.trim();
    if let Ok(number @ 1..) = text.parse::<u8>() {
        return Ok(number.to_string());
    }
    let (letter, rest) = text.split_at_checked(1).ok_or(NotAString)?;
    let class: PitchClass = (letter.to_uppercase() + rest)
        .parse()
        .map_err(|_| NotAString)?;
    Ok(class.to_string())
}

/// A binding, and what it did away with.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Bound {
    /// What is bound.
    pub command: Command,
    /// To what.
    pub trigger: Trigger,
    /// What the same switch meant before.
    pub instead_of: Vec<Command>,
    /// What the command was bound to before.
    pub replaced: Option<Trigger>,
}

/// Two notes that mean something now, and what they did away with: there is one such pair.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BoundTwoNotes {
    /// What is bound.
    pub two_notes: TwoNotesSetting,
    /// What was bound before.
    pub replaced: Option<TwoNotesSetting>,
}

/// What a command was bound to before it was unbound.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unbound {
    /// The command.
    pub command: Command,
    /// Its switch.
    pub trigger: Option<Trigger>,
    /// Its two notes.
    pub two_notes: Option<TwoNotesSetting>,
}

impl Mapping {
    /// What a command is bound to.
    pub fn trigger(&self, command: Command) -> Option<Trigger> {
        match command {
            Command::Again => self.again,
            Command::Next => self.next,
            Command::Slower => self.slower,
            Command::Faster => self.faster,
            Command::Stop => self.stop,
        }
    }

    /// All that is bound.
    pub fn bound(&self) -> BTreeMap<Command, Trigger> {
        let bound = |command: Command| Some((command, self.trigger(command)?));
        Command::ALL.into_iter().filter_map(bound).collect()
    }

    /// The entries of the table `[control]` that say so.
    ///
    /// # Errors
    /// None that this could have: small tables of numbers and texts.
    pub fn entries(&self) -> Result<toml::Table, toml::ser::Error> {
        toml::Table::try_from(self)
    }

    /// Binds a command. A switch means one thing: what it meant before has none then.
    pub fn bind(&mut self, command: Command, trigger: Trigger) -> Bound {
        let clashes = |other: &Command| {
            let bound = self.trigger(*other);
            *other != command && bound.is_some_and(|bound| bound.clashes(trigger))
        };
        let instead_of: Vec<Command> = Command::ALL.into_iter().filter(clashes).collect();
        for other in &instead_of {
            *self.slot(*other) = None;
        }
        let replaced = self.slot(command).replace(trigger);
        Bound {
            command,
            trigger,
            instead_of,
            replaced: replaced.filter(|replaced| *replaced != trigger),
        }
    }

    /// Has two notes mean something.
    pub fn bind_two_notes(&mut self, two_notes: TwoNotesSetting) -> BoundTwoNotes {
        let replaced = self.two_notes.replace(two_notes.clone());
        BoundTwoNotes {
            replaced: replaced.filter(|replaced| *replaced != two_notes),
            two_notes,
        }
    }

    /// Takes a command's switch and its two notes away from it.
    pub fn unbind(&mut self, command: Command) -> Unbound {
        Unbound {
            command,
            trigger: self.slot(command).take(),
            two_notes: self.two_notes.take_if(|two| two.command == command),
        }
    }

    /// Commands that a hand-written table binds to one switch; the first of the two is what the switch means.
    pub fn clashes(&self) -> Vec<(Command, Command)> {
        let bound: Vec<(Command, Trigger)> = self.bound().into_iter().collect();
        let mut clashes = Vec::new();
        for (at, (one, trigger)) in bound.iter().enumerate() {
            let others = bound[at + 1..].iter();
            let same = others.filter(|(_, other)| other.clashes(*trigger));
            clashes.extend(same.map(|(other, _)| (*one, *other)));
        }
        clashes
    }

    /// Where a command's switch stands, whatever else it means.
    pub(crate) fn slot(&mut self, command: Command) -> &mut Option<Trigger> {
        match command {
            Command::Again => &mut self.again,
            Command::Next => &mut self.next,
            Command::Slower => &mut self.slower,
            Command::Faster => &mut self.faster,
            Command::Stop => &mut self.stop,
        }
    }
}

impl fmt::Display for Bound {
    /// `"again" is now control change 64 on channel 1, which meant "next": "next" has no switch now.`
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "\"{}\" is now {}", self.command, self.trigger)?;
        let named: Vec<String> = self
            .instead_of
            .iter()
            .map(|command| format!("\"{command}\""))
            .collect();
        let named = named.join(" and ");
        match (self.instead_of.len(), self.replaced) {
            (0, None) => f.write_str("."),
            (0, Some(replaced)) => write!(f, ", no longer {replaced}."),
            (1, _) => write!(f, ", which meant {named}: {named} has no switch now."),
            (_, _) => write!(f, ", which meant {named}: they have no switch now."),
        }
    }
}

impl fmt::Display for TwoNotesSetting {
    /// `two quick notes on the open G string`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("two quick notes on ")?;
        match self.string.parse::<u8>() {
            Ok(number) => write!(f, "open string {number}"),
            Err(_) => write!(f, "the open {} string", self.string),
        }
    }
}

impl fmt::Display for BoundTwoNotes {
    /// `"again" is now two quick notes on the open G string.`, and what is no longer so.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let now = &self.two_notes;
        write!(f, "\"{}\" is now {now}", now.command)?;
        match &self.replaced {
            None => f.write_str("."),
            Some(replaced) if replaced.command == now.command => {
                write!(f, ", no longer {replaced}.")
            }
            Some(replaced) => write!(f, "; \"{}\" is no longer {replaced}.", replaced.command),
        }
    }
}

impl fmt::Display for Unbound {
    /// `"again" is no longer control change 64 on channel 1.`
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "\"{}\" ", self.command)?;
        match (self.trigger, &self.two_notes) {
            (None, None) => f.write_str("had no switch."),
            (Some(trigger), None) => write!(f, "is no longer {trigger}."),
            (None, Some(two_notes)) => write!(f, "is no longer {two_notes}."),
            (Some(trigger), Some(two_notes)) => {
                write!(f, "is no longer {trigger}, nor {two_notes}.")
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::trigger::Press;
    use super::*;

    fn pedal(number: u8, channel: Option<u8>) -> Trigger {
        Trigger::Control {
            number,
            channel,
            press: Press::Rise,
        }
    }

    #[test]
    fn a_switch_means_one_thing_and_what_it_meant_is_said() {
        let mut mapping = Mapping::default();
        let said = mapping.bind(Command::Next, pedal(64, Some(0))).to_string();
        assert_eq!(said, "\"next\" is now control change 64 on channel 1.");
        let said = mapping.bind(Command::Again, pedal(64, Some(0))).to_string();
        let words = "\"again\" is now control change 64 on channel 1, which meant \"next\": \
                     \"next\" has no switch now.";
        assert_eq!(said, words);
        assert_eq!(mapping.trigger(Command::Next), None);
        let said = mapping.bind(Command::Again, pedal(65, Some(0))).to_string();
        let words = "\"again\" is now control change 65 on channel 1, no longer control change 64 on channel 1.";
        assert_eq!(said, words);
        mapping.bind(Command::Stop, pedal(64, Some(1)));
        mapping.bind(Command::Next, pedal(64, Some(2)));
        let said = mapping.bind(Command::Faster, pedal(64, None));
        assert_eq!(said.instead_of, [Command::Next, Command::Stop]);
        assert!(said.to_string().ends_with("they have no switch now."));
    }

    #[test]
    fn the_same_once_more_is_no_change() {
        let mut mapping = Mapping::default();
        mapping.bind(Command::Stop, pedal(1, None));
        let again = mapping.bind(Command::Stop, pedal(1, None));
        assert_eq!((again.replaced, again.instead_of), (None, vec![]));
    }

    #[test]
    fn the_table_of_the_settings_file_is_read_and_written() {
        let text = "[again]\ncontrol = 64\nchannel = 1\n\n[next]\nprogram = 3\n\n\
                    [two-notes]\nstring = \"G\"\ncommand = \"stop\"\n";
        let mapping: Mapping = toml::from_str(text).expect("a mapping");
        assert_eq!(toml::to_string(&mapping).expect("TOML"), text);
        assert_eq!(mapping.bound().len(), 2);
        let short: Mapping = toml::from_str("two-notes = { string = \"E\" }").expect("a mapping");
        assert_eq!(short.two_notes.expect("two notes").command, Command::Again);
        assert!(toml::from_str::<Mapping>("agian = { control = 1 }").is_err());
    }

    #[test]
    fn a_table_that_binds_one_switch_twice_is_told() {
        let text = "again = { control = 64 }\nstop = { control = 64, channel = 3 }\nnext = { control = 65 }";
        let mapping: Mapping = toml::from_str(text).expect("a mapping");
        assert_eq!(mapping.clashes(), [(Command::Again, Command::Stop)]);
    }

    #[test]
    fn two_notes_mean_one_thing_and_what_they_meant_is_said() {
        let on = |string: &str, command| TwoNotesSetting {
            string: string.into(),
            command,
        };
        let mut mapping = Mapping::default();
        let mut said = |two_notes| mapping.bind_two_notes(two_notes).to_string();
        assert_eq!(
            said(on("G", Command::Again)),
            "\"again\" is now two quick notes on the open G string."
        );
        assert_eq!(
            said(on("G", Command::Again)),
            "\"again\" is now two quick notes on the open G string."
        );
        assert_eq!(
            said(on("1", Command::Again)),
            "\"again\" is now two quick notes on open string 1, \
             no longer two quick notes on the open G string."
        );
        assert_eq!(
            said(on("E", Command::Next)),
            "\"next\" is now two quick notes on the open E string; \
             \"again\" is no longer two quick notes on open string 1."
        );
    }

    #[test]
    fn what_is_unbound_is_said() {
        let mut mapping = Mapping::default();
        mapping.bind(Command::Next, pedal(64, Some(0)));
        let two_notes = TwoNotesSetting {
            string: "G".into(),
            command: Command::Next,
        };
        mapping.bind_two_notes(two_notes.clone());
        assert_eq!(
            mapping.unbind(Command::Stop).to_string(),
            "\"stop\" had no switch."
        );
        assert_eq!(
            mapping.unbind(Command::Next).to_string(),
            "\"next\" is no longer control change 64 on channel 1, nor two quick notes on the open G string."
        );
        assert_eq!(mapping, Mapping::default());
        mapping.bind_two_notes(two_notes);
        assert_eq!(
            mapping.unbind(Command::Next).to_string(),
            "\"next\" is no longer two quick notes on the open G string."
        );
        mapping.bind(Command::Next, pedal(64, None));
        assert_eq!(
            mapping.unbind(Command::Next).to_string(),
            "\"next\" is no longer control change 64 on any channel."
        );
    }

    #[test]
    fn a_string_is_a_letter_or_a_number() {
        for (text, label) in [
            ("G", "G"),
            (" e ", "E"),
            ("eb", "Eb"),
            ("F#", "F#"),
            ("1", "1"),
        ] {
            assert_eq!(string_label(text).as_deref(), Ok(label));
        }
        for text in ["", "0", "H", "G2", "é", "-1"] {
            assert_eq!(string_label(text), Err(NotAString), "{text}");
        }
    }
}
