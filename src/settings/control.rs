//! The table `[control]`: what is bound to a foot switch or to two quick notes, and what is wrong with it.

use super::file::SettingsFile;
use super::mistake::{Mistake, MistakeAt, line_of};
use super::read::Broken;
use crate::line::document::{recovered, type_name};
use crate::line::nearest::nearest;
use crate::practice::Command;
use crate::practice::control::mapping::{TwoNotesSetting, string_label};
use crate::practice::control::trigger::LAST_CONTROL;
use crate::practice::control::{Mapping, Trigger};
use serde::Deserialize;
use serde::de::IntoDeserializer;
use std::collections::BTreeMap;
use std::ops::{Range, RangeInclusive};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The table's name.
pub const CONTROL: &str = "control";
/// Its key that is no command.
pub const TWO_NOTES: &str = "two-notes";

const TWO_NOTES_EXAMPLE: &str = "two-notes = { string = \"G\", command = \"again\" }";

/// What the table says.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Control {
    /// What is bound, without the entries that are wrong.
    pub mapping: Mapping,
    /// The line of each key that is bound, from 1.
    pub lines: BTreeMap<String, usize>,
    /// In no order.
    pub mistakes: Vec<MistakeAt>,
}

/// Reads the table. What is wrong elsewhere in the file is not told.
pub fn read(file: &SettingsFile) -> Control {
    let (_, errors) = recovered(file.text());
    let broken = Broken::of(file.text(), &errors);
    let mut reader = Reader::default();
    let mut keys = BTreeMap::new();
    for (key, value) in file.reserved(CONTROL).unwrap_or_default().iter() {
        let name: &str = key.get_ref();
        let (at, before) = (key.span(), reader.control.mistakes.len());
        if broken.has(&at) || broken.has(&value.span()) {
            continue;
        }
        reader.entry(name, at.clone(), value);
        if reader.control.mistakes.len() == before {
            let line = line_of(file.text(), at.start);
            reader.control.lines.insert(name.to_owned(), line);
            keys.insert(name.to_owned(), at);
        }
    }
    reader.same_switches(&keys);
    reader.control
}

#[derive(Default)]
struct Reader {
    control: Control,
}

impl Reader {
    fn wrong(&mut self, mistake: Mistake, span: Range<usize>) {
        self.control.mistakes.push(MistakeAt { mistake, span });
    }

    fn entry(&mut self, name: &str, at: Range<usize>, value: &Spanned<DeValue<'_>>) {
        if name == TWO_NOTES {
            self.control.mapping.two_notes = self.right(|reader| reader.two_notes(value));
        } else if let Ok(command) = name.parse::<Command>() {
            *self.control.mapping.slot(command) = self.right(|reader| reader.trigger(name, value));
        } else {
            let keys = Command::ALL.map(Command::name);
            let keys: Vec<&str> = keys.into_iter().chain([TWO_NOTES]).collect();
            self.unknown_key(CONTROL, name, &keys, at);
        }
    }

    /// What is read, unless something is wrong with it.
    fn right<T>(&mut self, read: impl FnOnce(&mut Self) -> Option<T>) -> Option<T> {
        let before = self.control.mistakes.len();
        read(self).filter(|_| self.control.mistakes.len() == before)
    }

    fn trigger(&mut self, name: &str, value: &Spanned<DeValue<'_>>) -> Option<Trigger> {
        let example = format!("{name} = {{ control = 64, channel = 1 }}");
        let table = self.table(name, value, &example)?;
        let before = self.control.mistakes.len();
        for (key, value) in table.iter() {
            match key.get_ref().as_ref() {
                "control" => self.number("control = 64", value, 0..=LAST_CONTROL, "controls"),
                "program" => self.number("program = 3", value, 0..=127, "programs"),
                "channel" => self.number("channel = 1", value, 1..=16, "channels"),
                "press" => self.press(value),
                other => {
                    let keys = ["control", "program", "channel", "press"];
                    self.unknown_key(&format!("{CONTROL}.{name}"), other, &keys, key.span());
                }
            }
        }
        if self.control.mistakes.len() > before {
            return None;
        }
        match Trigger::deserialize(value.clone().into_deserializer()) {
            Ok(trigger) => Some(trigger),
            // Each of its entries is right, but not all of them together.
            Err(error) => {
                let mistake = Mistake::Reserved {
                    message: format!("`{name}` is no switch"),
                    label: error.message().to_owned(),
                    help: format!("something like `{example}`; `leadsman learn {name}` writes it"),
                };
                self.wrong(mistake, value.span());
                None
            }
        }
    }

    /// `example` begins with the key.
    fn number(
        &mut self,
        example: &str,
        value: &Spanned<DeValue<'_>>,
        range: RangeInclusive<u8>,
        numbers: &str,
    ) {
        let (key, _) = example.split_once(' ').unwrap_or((example, ""));
        let written = match value.get_ref() {
            DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str(),
            _ => return self.wrong_type(key, value, "a whole number", example),
        };
        if !written
            .parse()
            .is_ok_and(|number: u8| range.contains(&number))
        {
            let why = format!("{numbers} are {} to {}", range.start(), range.end());
            self.wrong_value(key, written, why, example, value.span());
        }
    }

    fn press(&mut self, value: &Spanned<DeValue<'_>>) {
        const EXAMPLE: &str = "press = \"each\"";
        match value.get_ref() {
            DeValue::String(text) if matches!(text.as_ref(), "rise" | "each") => {}
            DeValue::String(text) => {
                let why = "it is one of rise, each".to_owned();
                self.wrong_value("press", &quoted(text), why, EXAMPLE, value.span());
            }
            _ => self.wrong_type("press", value, "a quoted text", EXAMPLE),
        }
    }

    fn two_notes(&mut self, value: &Spanned<DeValue<'_>>) -> Option<TwoNotesSetting> {
        let table = self.table(TWO_NOTES, value, TWO_NOTES_EXAMPLE)?;
        let (mut string, mut command) = (None, Some(Command::Again));
        for (key, value) in table.iter() {
            match key.get_ref().as_ref() {
                "string" => string = Some(self.string(value)),
                "command" => command = self.command(value),
                other => {
                    let place = format!("{CONTROL}.{TWO_NOTES}");
                    self.unknown_key(&place, other, &["string", "command"], key.span());
                }
            }
        }
        let Some(string) = string else {
            let mistake = Mistake::Reserved {
                message: format!("`{TWO_NOTES}` names no string"),
                label: "no `string` in it".to_owned(),
                help: format!("something like `{TWO_NOTES_EXAMPLE}`"),
            };
            self.wrong(mistake, value.span());
            return None;
        };
        Some(TwoNotesSetting {
            string: string?,
            command: command?,
        })
    }

    fn string(&mut self, value: &Spanned<DeValue<'_>>) -> Option<String> {
        const EXAMPLE: &str = "string = \"G\"";
        let DeValue::String(text) = value.get_ref() else {
            self.wrong_type("string", value, "a quoted text", EXAMPLE);
            return None;
        };
        let label = string_label(text);
        label
            .map_err(|why| {
                let why = why.to_string();
                self.wrong_value("string", &quoted(text), why, EXAMPLE, value.span());
            })
            .ok()
    }

    fn command(&mut self, value: &Spanned<DeValue<'_>>) -> Option<Command> {
        const EXAMPLE: &str = "command = \"again\"";
        let DeValue::String(text) = value.get_ref() else {
            self.wrong_type("command", value, "a quoted text", EXAMPLE);
            return None;
        };
        let command = text.parse::<Command>();
        command
            .map_err(|why| {
                let why = why.to_string();
                self.wrong_value("command", &quoted(text), why, EXAMPLE, value.span());
            })
            .ok()
    }

    /// Commands that are bound to one switch; the later of the two is told.
    fn same_switches(&mut self, keys: &BTreeMap<String, Range<usize>>) {
        for (one, other) in self.control.mapping.clashes() {
            let mut both = [one, other].map(|command| (keys[command.name()].clone(), command));
            both.sort_by_key(|(at, _)| at.start);
            let [(_, first), (at, later)] = both;
            let trigger = self.control.mapping.trigger(later);
            let mistake = Mistake::Reserved {
                message: format!("`{later}` is the same switch as `{first}`"),
                label: trigger.map_or_else(String::new, |trigger| trigger.to_string()),
                help: format!(
                    "take one of the two away, or bind another: `leadsman learn {later}`"
                ),
            };
            self.wrong(mistake, at);
        }
    }

    fn table<'v, 't>(
        &mut self,
        key: &str,
        value: &'v Spanned<DeValue<'t>>,
        example: &str,
    ) -> Option<&'v DeTable<'t>> {
        match value.get_ref() {
            DeValue::Table(table) => Some(table),
            _ => {
                self.wrong_type(key, value, "a table", example);
                None
            }
        }
    }

    fn wrong_type(
        &mut self,
        key: &str,
        value: &Spanned<DeValue<'_>>,
        wanted: &'static str,
        example: &str,
    ) {
        let mistake = Mistake::WrongType {
            key: key.to_owned(),
            found: type_name(value.get_ref()),
            wanted,
            example: example.to_owned(),
        };
        self.wrong(mistake, value.span());
    }

    fn wrong_value(
        &mut self,
        key: &str,
        value: &str,
        why: String,
        example: &str,
        span: Range<usize>,
    ) {
        let mistake = Mistake::WrongValue {
            key: key.to_owned(),
            value: value.to_owned(),
            why,
            example: example.to_owned(),
        };
        self.wrong(mistake, span);
    }

    fn unknown_key(&mut self, table: &str, key: &str, keys: &[&str], span: Range<usize>) {
        let mistake = Mistake::UnknownKey {
            key: key.to_owned(),
            table: table.to_owned(),
            nearest: nearest(key, keys.iter().copied()).map(str::to_owned),
            elsewhere: Vec::new(),
            keys: keys.iter().map(ToString::to_string).collect(),
        };
        self.wrong(mistake, span);
    }
}

/// As the file has it.
fn quoted(text: &str) -> String {
    toml::Value::from(text).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    fn file(table: &str) -> SettingsFile {
        SettingsFile::of_text(Path::new("s.toml"), &format!("[control]\n{table}"))
    }

    /// What is said of a table, without the marked text.
    #[track_caller]
    fn said(table: &str, words: &[&str]) {
        let file = file(table);
        let mistakes = file.mistakes(read(&file).mistakes);
        assert_eq!(mistakes.iter().count(), 1, "{mistakes}");
        let said = mistakes.to_string();
        for word in words {
            assert!(said.contains(word), "no {word:?} in {said}");
        }
    }

    #[test]
    fn what_is_right_is_bound_and_has_its_line() {
        let table = "again = { control = 64, channel = 1 }\n# mine\ntwo-notes = { string = \"e\" }\n\
                     [control.next]\nprogram = 3\n";
        let control = read(&file(table));
        let written = "[again]\ncontrol = 64\nchannel = 1\n\n[next]\nprogram = 3\n\n\
                       [two-notes]\nstring = \"E\"\ncommand = \"again\"\n";
        assert_eq!(toml::to_string(&control.mapping).unwrap(), written);
        let lines = [("again", 2), ("next", 5), ("two-notes", 4)];
        let lines = lines.map(|(key, line)| (key.to_owned(), line));
        assert_eq!(control.lines, BTreeMap::from(lines));
        assert_eq!(control.mistakes, []);
        let none = SettingsFile::of_text(Path::new("s.toml"), "[play]\nwindow = 3");
        assert_eq!(read(&none), Control::default());
    }

    #[test]
    fn a_key_or_value_that_is_wrong_is_told_with_its_place_and_what_would_be_right() {
        said(
            "agian = { control = 64 }",
            &[
                "s.toml:2:1",
                "no key `agian` in `[control]`",
                "did you mean `again`?",
            ],
        );
        said(
            "shuffle = 1",
            &["keys here are again, next, slower, faster, stop, two-notes"],
        );
        said(
            "again = 64",
            &[
                "s.toml:2:9",
                "`again` is a table",
                "write `again = { control = 64, channel = 1 }`",
            ],
        );
        said(
            "again = { contrl = 64 }",
            &[
                "s.toml:2:11",
                "`[control.again]`",
                "did you mean `control`?",
            ],
        );
        said(
            "again = { control = 120 }",
            &["s.toml:2:21", "cannot be 120", "controls are 0 to 119"],
        );
        said(
            "stop = { program = -1 }",
            &["s.toml:2:20", "programs are 0 to 127"],
        );
        said(
            "stop = { program = 1, channel = 1000 }",
            &["s.toml:2:33", "channels are 1 to 16"],
        );
        said(
            "stop = { program = \"1\" }",
            &["`program` is a whole number", "write `program = 3`"],
        );
        said(
            "stop = { control = 1, press = \"long\" }",
            &["s.toml:2:31", "one of rise, each"],
        );
        said(
            "stop = { control = 1, press = 1 }",
            &["write `press = \"each\"`"],
        );
    }

    #[test]
    fn entries_that_are_right_alone_may_be_wrong_together() {
        said(
            "again = { control = 64, program = 3 }",
            &[
                "s.toml:2:9",
                "`again` is no switch",
                "either a control (0 to 119)",
            ],
        );
        said("again = {}", &["either a control (0 to 119)"]);
        said(
            "again = { program = 3, press = \"each\" }",
            &["press belongs to a control"],
        );
    }

    #[test]
    fn two_notes_need_a_string_and_a_command_there_is() {
        said(
            "two-notes = { command = \"stop\" }",
            &["s.toml:2:13", "names no string", "string = \"G\""],
        );
        said(
            "two-notes = { string = \"Q\" }",
            &["s.toml:2:24", "the string's letter"],
        );
        said("two-notes = { string = 1 }", &["write `string = \"G\"`"]);
        said(
            "two-notes = { string = \"G\", command = \"agian\" }",
            &["s.toml:2:39", "again, next, slower, faster or stop"],
        );
        said(
            "two-notes = { string = \"G\", comand = \"next\" }",
            &["did you mean `command`?"],
        );
        said("two-notes = \"G\"", &[TWO_NOTES_EXAMPLE]);
    }

    #[test]
    fn of_two_commands_on_one_switch_the_later_is_told() {
        said(
            "stop = { control = 64 }\nagain = { control = 64, channel = 3 }",
            &[
                "s.toml:3:1",
                "`again` is the same switch as `stop`",
                "control change 64 on channel 3",
                "leadsman learn again",
            ],
        );
    }

    #[test]
    fn what_is_wrong_is_not_bound_and_the_rest_is() {
        let file = file("again = { control = 640 }\nstop = = 3\nnext = { control = 64 }\n");
        let control = read(&file);
        let bound = control.mapping.bound();
        assert_eq!(bound.into_keys().collect::<Vec<_>>(), [Command::Next]);
        // The line that is not TOML is told by whoever reads the whole file.
        assert_eq!(control.mistakes.len(), 1);
    }
}
