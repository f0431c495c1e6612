//! From the text of the settings to what is set, with every mistake on the way.

use super::example::set_to_something;
use super::file::SettingsFile;
use super::keys::{Key, Known, RESERVED, Table};
use super::mistake::{Mistake, MistakeAt, line_of};
use super::value::{Kind, refusal, typed, written};
use crate::line::document::{recovered, type_name};
use crate::line::mistakes::whole_lines;
use crate::line::nearest::nearest;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// One key that is set to a value its option takes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// The table.
    pub table: Vec<String>,
    /// The key.
    pub key: String,
    /// What would be typed for the option; several for a list.
    pub typed: Vec<String>,
    /// The line that it stands in, from 1.
    pub line: usize,
    /// Where the key stands, in bytes of the text.
    pub span: Range<usize>,
}

impl Entry {
    /// Whether it asks for something: a flag that is `false` does not.
    pub fn asks(&self) -> bool {
        self.typed != ["false"] && !self.typed.is_empty()
    }
}

/// What a file sets, and all that is wrong with it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Read {
    /// Without those that are wrong.
    pub entries: Vec<Entry>,
    /// In no order.
    pub mistakes: Vec<MistakeAt>,
}

/// Reads what is known; mistakes are left out of what is set.
pub fn read(file: &SettingsFile, known: &Known) -> Read {
    let (root, errors) = recovered(file.text());
    let mut reader = Reader {
        text: file.text(),
        known,
        broken: Broken::of(file.text(), &errors),
        read: Read::default(),
    };
    for (message, span) in errors {
        reader.wrong(Mistake::Syntax { message }, span);
    }
    reader.root(root.get_ref());
    reader.read
}

struct Reader<'a> {
    text: &'a str,
    known: &'a Known,
    broken: Broken,
    read: Read,
}

/// The whole lines of every syntax error: what is read there may be no more than half of what was meant.
pub(super) struct Broken(Vec<Range<usize>>);

impl Broken {
    pub(super) fn of(text: &str, errors: &[(String, Range<usize>)]) -> Broken {
        let lines = errors.iter().map(|(_, span)| whole_lines(text, span));
        Broken(lines.collect())
    }

    /// Whether these bytes are in one of them.
    pub(super) fn has(&self, span: &Range<usize>) -> bool {
        let touches = |broken: &Range<usize>| span.start <= broken.end && broken.start <= span.end;
        self.0.iter().any(touches)
    }
}

impl Reader<'_> {
    fn wrong(&mut self, mistake: Mistake, span: Range<usize>) {
        self.read.mistakes.push(MistakeAt { mistake, span });
    }

    fn root(&mut self, root: &DeTable<'_>) {
        for (key, value) in root.iter() {
            let name: &str = key.get_ref();
            let reserved = RESERVED.contains(&name);
            if self.broken.has(&key.span()) {
                continue;
            }
            match value.get_ref() {
                DeValue::Table(_) if reserved => {}
                DeValue::Table(entries) if self.is_table(&[name.to_owned()]) => {
                    self.table(&[name.to_owned()], key.span(), entries);
                }
                DeValue::Table(_) => self.wrong(self.unknown_table(name), key.span()),
                _ if reserved || self.is_table(&[name.to_owned()]) => {
                    self.wrong(not_a_table(name), value.span());
                }
                _ => self.wrong(self.outside_table(name), key.span()),
            }
        }
    }

    fn is_table(&self, path: &[String]) -> bool {
        self.known.table(path).is_some()
    }

    fn table(&mut self, path: &[String], at: Range<usize>, entries: &DeTable<'_>) {
        let known = self.known;
        let Some(table) = known.table(path) else {
            return;
        };
        if !known.has_keys(path) {
            let name = table.name();
            self.wrong(Mistake::NoKeys { name }, at);
            return;
        }
        for (key, value) in entries.iter() {
            let name: &str = key.get_ref();
            if self.broken.has(&key.span()) {
                continue;
            }
            let below = [path, &[name.to_owned()]].concat();
            match (value.get_ref(), table.key(name)) {
                (DeValue::Table(entries), _) if self.is_table(&below) => {
                    self.table(&below, key.span(), entries);
                }
                (_, Some(known)) => self.entry(table, known, key.span(), value),
                (_, None) if self.is_table(&below) => {
                    self.wrong(not_a_table(&below.join(".")), value.span());
                }
                (_, None) => self.wrong(self.unknown_key(table, name), key.span()),
            }
        }
        self.excluded(table);
    }

    fn entry(&mut self, table: &Table, key: &Key, at: Range<usize>, value: &Spanned<DeValue<'_>>) {
        let typed = match typed(&key.arg, key.kind, value) {
            Ok(typed) => typed,
            Err((value, _)) if self.broken.has(&value.span()) => return,
            Err((value, wanted)) => {
                let mistake = Mistake::WrongType {
                    key: key.name.clone(),
                    found: type_name(value.get_ref()),
                    wanted: wanted.wanted(),
                    example: set_to_something(key),
                };
                return self.wrong(mistake, value.span());
            }
        };
        let mut refused = typed
            .iter()
            .enumerate()
            .filter_map(|(index, text)| Some((index, refusal(&key.arg, text)?)));
        if let Some((index, why)) = refused.next() {
            let place = match value.get_ref() {
                DeValue::Array(items) => items.get(index).map_or(value.span(), Spanned::span),
                _ => value.span(),
            };
            let mistake = Mistake::WrongValue {
                key: key.name.clone(),
                value: written(&key.arg, Kind::of_one(&key.arg), &typed[index..=index]),
                why,
                example: set_to_something(key),
            };
            return self.wrong(mistake, place);
        }
        self.read.entries.push(Entry {
            table: table.path.clone(),
            key: key.name.clone(),
            typed,
            line: line_of(self.text, at.start),
            span: at,
        });
    }

    /// Keys of one table that exclude each other.
    fn excluded(&mut self, table: &Table) {
        let own = |entry: &&Entry| entry.table == table.path;
        let asked = self.read.entries.iter().filter(own).filter(|e| e.asks());
        let mut asked: Vec<Entry> = asked.cloned().collect();
        asked.sort_by_key(|entry| entry.span.start);
        for (index, later) in asked.iter().enumerate() {
            let against = asked[..index]
                .iter()
                .find(|earlier| table.excludes(&earlier.key, &later.key));
            if let Some(earlier) = against {
                let mistake = Mistake::Excluded {
                    key: later.key.clone(),
                    other: earlier.key.clone(),
                };
                self.wrong(mistake, later.span.clone());
            }
        }
    }

    fn unknown_table(&self, name: &str) -> Mistake {
        let known = self.known;
        let roots = known.tables().filter(|table| table.path.len() == 1);
        let roots = roots.filter(|table| known.has_keys(&table.path));
        let names: Vec<&str> = roots
            .map(|table| table.path[0].as_str())
            .chain(RESERVED.iter().copied())
            .collect();
        Mistake::UnknownTable {
            name: name.to_owned(),
            nearest: nearest(name, names.iter().copied()).map(str::to_owned),
            tables: names.into_iter().map(str::to_owned).collect(),
        }
    }

    fn outside_table(&self, key: &str) -> Mistake {
        let with_key = self.known.tables().filter(|table| table.key(key).is_some());
        Mistake::OutsideTable {
            key: key.to_owned(),
            tables: with_key.map(Table::name).collect(),
        }
    }

    fn unknown_key(&self, table: &Table, key: &str) -> Mistake {
        let refused = table.no_keys.iter().find(|(name, _)| name == key);
        let key = key.to_owned();
        if let Some((_, reason)) = refused {
            return Mistake::NoKey { key, reason };
        }
        let elsewhere = self.known.with_key(&key).map(Table::name).collect();
        let names = || table.keys.iter().map(|key| key.name.as_str());
        Mistake::UnknownKey {
            nearest: nearest(&key, names()).map(str::to_owned),
            keys: names().map(str::to_owned).collect(),
            table: table.name(),
            elsewhere,
            key,
        }
    }
}

fn not_a_table(name: &str) -> Mistake {
    let name = name.to_owned();
    Mistake::NotATable { name }
}
