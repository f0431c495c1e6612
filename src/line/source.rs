//! The text of a valid line file: where its keys, bars, notes and comments stand.

use super::mistake::document::Table;
use super::mistakes::{Position, Report};
use super::piece::Piece;
use super::{Line, layers};
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};
use toml_parser::Source as Tokens;
use toml_parser::lexer::TokenKind;

/// The text and what stands where in it, in bytes.
pub struct Source<'t> {
    /// The text.
    pub text: &'t str,
    /// In their order.
    pub comments: Vec<Range<usize>>,
    /// The head of the line, then its sections.
    pub(super) tables: Vec<TableSource>,
}

/// A table of the file.
pub(super) struct TableSource {
    /// Where the header ends that the table's comments belong to; in a table written in line, its brace.
    pub header: Range<usize>,
    /// In the order of [`Table::keys`].
    pub entries: Vec<EntrySource>,
}

/// A key and its value.
pub(super) struct EntrySource {
    pub key: &'static str,
    /// From the key to the end of the value.
    pub span: Range<usize>,
    value: Range<usize>,
    /// The value, where it is a text.
    text: Option<String>,
}

impl<'t> Source<'t> {
    /// Reads a text that [`parse`](super::parse::parse) has accepted; of any other, what can be found in it.
    pub fn of(text: &'t str) -> Source<'t> {
        let (root, _) = DeTable::parse_recoverable(text);
        let mut tables = vec![TableSource {
            header: 0..0,
            entries: entries(root.get_ref(), Table::Line),
        }];
        let sections = root.get_ref().get("section").map(Spanned::get_ref);
        if let Some(DeValue::Array(items)) = sections {
            tables.extend(items.iter().filter_map(|item| section(item, text)));
        }
        Source {
            text,
            comments: comments(text),
            tables,
        }
    }

    /// Line and column of a byte.
    pub fn position(&self, at: usize) -> Position {
        let before = &self.text[..at.min(self.text.len())];
        let start = before.rfind('\n').map_or(0, |newline| newline + 1);
        Position {
            line: before.matches('\n').count() + 1,
            column: before[start..].chars().count() + 1,
        }
    }

    /// Where a key of the head stands, or of the section with that index; else the section's header; else the file's
    /// beginning.
    pub fn key(&self, section: Option<usize>, key: &str) -> usize {
        let Some(table) = self.tables.get(section.map_or(0, |index| index + 1)) else {
            return 0;
        };
        let found = table.entries.iter().find(|entry| entry.key == key);
        found.map_or(table.header.start, |entry| entry.span.start)
    }

    /// Where each written note of a section stands, bar by bar; the section is counted from 0.
    pub fn notes(&self, line: &Line, section: usize) -> Vec<Vec<usize>> {
        let found = self.tables.get(section + 1).and_then(|table| {
            let entry = table.entries.iter().find(|entry| entry.key == "notes")?;
            let bars = line.sections.get(section)?.bars.len();
            let starts = |bar: Piece<'_>| bar.words().map(|word| word.span().start).collect();
            Some(self.cells(entry, bars)?.into_iter().map(starts).collect())
        });
        found.unwrap_or_default()
    }

    /// The cells of a layer of bars.
    pub(super) fn cells<'s>(&self, entry: &'s EntrySource, bars: usize) -> Option<Vec<Piece<'s>>> {
        let text = entry.text.as_deref()?;
        let piece = Piece::of_value(text, entry.value.clone(), self.text);
        layers::cells(piece.trimmed(), entry.key, bars, &mut Report::default())
    }
}

fn section(item: &Spanned<DeValue<'_>>, text: &str) -> Option<TableSource> {
    let DeValue::Table(table) = item.get_ref() else {
        return None;
    };
    let mut header = item.span();
    if text[header.clone()].starts_with('{') {
        header.end = header.start + 1;
    }
    Some(TableSource {
        header,
        entries: entries(table, Table::Section),
    })
}

fn entries(table: &DeTable<'_>, kind: Table) -> Vec<EntrySource> {
    let found = kind.keys().iter().filter(|key| **key != "section");
    let entry = |key: &&'static str| {
        let (written, value) = table.get_key_value(*key)?;
        Some(EntrySource {
            key,
            span: written.span().start..value.span().end,
            value: value.span(),
            text: match value.get_ref() {
                DeValue::String(text) => Some(text.to_string()),
                _ => None,
            },
        })
    };
    found.filter_map(entry).collect()
}

fn comments(text: &str) -> Vec<Range<usize>> {
    Tokens::new(text)
        .lex()
        .filter(|token| token.kind() == TokenKind::Comment)
        .map(|token| token.span().start()..token.span().end())
        .collect()
}
