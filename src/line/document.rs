//! Walking the TOML document: keys, types, and where the values stand.

use super::mistake::document::{DocumentMistake, Table};
use super::mistakes::{Report, on_characters, whole_lines};
use super::nearest::nearest;
use super::piece::Piece;
use super::thousandths;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

const TEXT: &str = "a quoted text";
const NUMBER: &str = "a plain number";
const TRUTH: &str = "true or false";

/// A parsed file with what its syntax errors have made unreadable.
pub(super) struct Document<'t> {
    pub text: &'t str,
    root: Spanned<DeTable<'t>>,
    /// The whole lines of every syntax error.
    broken: Vec<Range<usize>>,
}

/// One table of a document.
#[derive(Clone)]
pub(super) struct Fields<'d> {
    text: &'d str,
    entries: &'d DeTable<'d>,
    table: Table,
    /// Where to point when a key is missing.
    span: Range<usize>,
    broken: &'d [Range<usize>],
}

/// A number as written.
pub(super) struct Number<'d> {
    pub text: &'d str,
    pub span: Range<usize>,
}

impl<'t> Document<'t> {
    /// Reads what can be read and reports every syntax error.
    pub fn read(text: &'t str, report: &mut Report) -> Document<'t> {
        let (root, errors) = recovered(text);
        let mut broken = Vec::new();
        for (message, span) in errors {
            broken.push(whole_lines(text, &span));
            report.add(syntax_mistake(text, &message, &span), span);
        }
        Document { text, root, broken }
    }

    /// The head of the file.
    pub fn head(&self) -> Fields<'_> {
        let first_line = self.text.find('\n').unwrap_or(self.text.len());
        Fields {
            text: self.text,
            entries: self.root.get_ref(),
            table: Table::Line,
            span: 0..first_line.min(self.text.len()),
            broken: &self.broken,
        }
    }
}

impl<'d> Fields<'d> {
    /// Where the table begins.
    pub fn span(&self) -> Range<usize> {
        self.span.clone()
    }

    /// Reports keys that the table does not have.
    pub fn check_keys(&self, report: &mut Report) {
        for key in self.entries.keys() {
            let known = self.table.keys();
            let name: &str = key.get_ref();
            if known.contains(&name) || self.is_broken(&key.span()) {
                continue;
            }
            let other = match self.table {
                Table::Line => Table::Section,
                Table::Section => Table::Line,
            };
            let mistake = DocumentMistake::UnknownKey {
                key: name.to_owned(),
                table: self.table,
                nearest: nearest(name, known.iter().copied()),
                elsewhere: other.keys().contains(&name),
            };
            report.add(mistake, key.span());
        }
    }

    /// The `[[section]]` tables.
    pub fn sections(&self, report: &mut Report) -> Vec<Fields<'d>> {
        let Some(value) = self.value("section") else {
            if self.broken.is_empty() {
                report.add(DocumentMistake::NoSection, self.span());
            }
            return Vec::new();
        };
        let DeValue::Array(items) = value.get_ref() else {
            self.wrong_type(
                "section",
                value,
                "a list of sections",
                "[[section]]",
                report,
            );
            return Vec::new();
        };
        if items.is_empty() {
            report.add(DocumentMistake::NoSection, value.span());
        }
        let mut sections = Vec::new();
        for item in items.iter() {
            match item.get_ref() {
                DeValue::Table(entries) => sections.push(Fields {
                    entries,
                    table: Table::Section,
                    span: item.span(),
                    ..self.clone()
                }),
                _ => self.wrong_type("section", item, "a table", "[[section]]", report),
            }
        }
        sections
    }

    /// A quoted text.
    pub fn text(
        &self,
        key: &'static str,
        example: &'static str,
        report: &mut Report,
    ) -> Option<Piece<'d>> {
        let value = self.value(key)?;
        match value.get_ref() {
            DeValue::String(text) => Some(Piece::of_value(text, value.span(), self.text)),
            _ => {
                self.wrong_type(key, value, TEXT, example, report);
                None
            }
        }
    }

    /// A quoted text that has to be there.
    pub fn required_text(
        &self,
        key: &'static str,
        example: &'static str,
        report: &mut Report,
    ) -> Option<Piece<'d>> {
        self.require(key, example, report);
        self.text(key, example, report)
    }

    /// Reports a key that is absent.
    pub fn require(&self, key: &'static str, example: &'static str, report: &mut Report) {
        // After a syntax error nobody can say whether the key is absent.
        if self.broken.is_empty() && !self.entries.contains_key(key) {
            let table = self.table;
            report.add(
                DocumentMistake::MissingKey {
                    key,
                    table,
                    example,
                },
                self.span(),
            );
        }
    }

    /// A decimal number as written.
    pub fn number(
        &self,
        key: &'static str,
        example: &'static str,
        report: &mut Report,
    ) -> Option<Number<'d>> {
        let value = self.value(key)?;
        let text = match value.get_ref() {
            DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str(),
            DeValue::Float(float) => float.as_str(),
            _ => {
                self.wrong_type(key, value, NUMBER, example, report);
                return None;
            }
        };
        let span = value.span();
        Some(Number { text, span })
    }

    /// `true` or `false`.
    pub fn truth(&self, key: &'static str, report: &mut Report) -> Option<(bool, Range<usize>)> {
        let value = self.value(key)?;
        match value.get_ref() {
            DeValue::Boolean(truth) => Some((*truth, value.span())),
            _ => {
                self.wrong_type(key, value, TRUTH, "pickup = true", report);
                None
            }
        }
    }

    /// A list of whole numbers as written, with the span of the list.
    pub fn integers(
        &self,
        key: &'static str,
        example: &'static str,
        report: &mut Report,
    ) -> Option<(Vec<Number<'d>>, Range<usize>)> {
        let value = self.value(key)?;
        let DeValue::Array(items) = value.get_ref() else {
            self.wrong_type(key, value, "a list of whole numbers", example, report);
            return None;
        };
        let mut numbers = Vec::new();
        for item in items.iter() {
            match item.get_ref() {
                DeValue::Integer(integer) if integer.radix() == 10 => numbers.push(Number {
                    text: integer.as_str(),
                    span: item.span(),
                }),
                _ => self.wrong_type(key, item, "whole numbers", example, report),
            }
        }
        (numbers.len() == items.len()).then(|| (numbers, value.span()))
    }

    /// The value as it should be, where only its quotes are too many or missing.
    fn requoted(&self, key: &str, value: &Spanned<DeValue<'_>>, wanted: &str) -> Option<String> {
        match value.get_ref() {
            DeValue::String(text) if wanted == NUMBER && thousandths::read(text).is_ok() => {
                Some(format!("{key} = {text}"))
            }
            DeValue::String(text) if wanted == TRUTH && matches!(&**text, "true" | "false") => {
                Some(format!("{key} = {text}"))
            }
            DeValue::Integer(_) | DeValue::Float(_) if wanted == TEXT => {
                let raw = self.text.get(value.span())?;
                Some(format!("{key} = \"{raw}\""))
            }
            _ => None,
        }
    }

    fn value(&self, key: &str) -> Option<&'d Spanned<DeValue<'d>>> {
        let value = self.entries.get(key)?;
        // The span of a table is that of its header only.
        let readable = key == "section" || !self.is_broken(&value.span());
        readable.then_some(value)
    }

    fn is_broken(&self, span: &Range<usize>) -> bool {
        let touches = |broken: &Range<usize>| span.start <= broken.end && broken.start <= span.end;
        // A value that the reader has made up in place of a broken one stands nowhere.
        (span.is_empty() && !self.broken.is_empty()) || self.broken.iter().any(touches)
    }

    fn wrong_type(
        &self,
        key: &str,
        value: &Spanned<DeValue<'_>>,
        wanted: &'static str,
        example: &str,
        report: &mut Report,
    ) {
        if self.is_broken(&value.span()) {
            return;
        }
        let mistake = DocumentMistake::WrongType {
            key: key.to_owned(),
            found: type_name(value.get_ref()),
            wanted,
            example: self
                .requoted(key, value, wanted)
                .unwrap_or_else(|| example.to_owned()),
        };
        report.add(mistake, value.span());
    }
}

/// What can be read of a text, and each syntax error with its place: one a line at the most.
pub(crate) fn recovered(text: &str) -> (Spanned<DeTable<'_>>, Vec<(String, Range<usize>)>) {
    let (root, errors) = DeTable::parse_recoverable(text);
    let mut broken = Vec::new();
    let mut first = Vec::new();
    for error in errors {
        let span = on_characters(text, error.span().unwrap_or(0..0));
        let lines = whole_lines(text, &span);
        // One slip makes the reader stumble several times; the first time is the one that helps.
        if !broken.contains(&lines) {
            broken.push(lines);
            first.push((error.message().to_owned(), span));
        }
    }
    (root, first)
}

fn syntax_mistake(text: &str, message: &str, span: &Range<usize>) -> DocumentMistake {
    if message == "duplicate key" {
        let key = text[span.clone()].to_owned();
        return DocumentMistake::DuplicateKey { key };
    }
    let message = message.to_owned();
    DocumentMistake::TomlSyntax { message }
}

pub(crate) fn type_name(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => TEXT,
        DeValue::Integer(integer) if integer.radix() != 10 => "a number in another base",
        DeValue::Integer(_) => "a whole number",
        DeValue::Float(_) => "a decimal number",
        DeValue::Boolean(_) => TRUTH,
        DeValue::Datetime(_) => "a date or time",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}
