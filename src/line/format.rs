//! Bringing a line file into the one layout: what it means and every comment stay as they are.
//!
//! A comment belongs to what it stands behind, else to what it stands above, and goes with it; comments inside a list go
//! above its key. The file's first comments, up to the last blank line before the first key, stay at its head.

use super::layout::{self, Comment, Entry, Remarks, Sheet, TableSheet, Value};
use super::mistakes::Mistakes;
use super::parse::parse;
use super::source::{EntrySource, Source};
use super::{Line, print};
use std::ops::Range;

/// Why a file was not formatted.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum FormatError {
    /// The file is not a valid line.
    #[error(transparent)]
    Mistakes(#[from] Mistakes),
    /// The new text would not be the same line with the same comments: a bug, and the file is better left alone.
    #[error(
        "{0}: left as it is, since the formatted text would not mean the same; please report this"
    )]
    WouldChange(String),
}

/// The text in the one layout. `file` is the name that mistakes are reported under. What comes out, formatted again,
/// is the same text.
pub fn format(text: &str, file: &str) -> Result<String, FormatError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let line = parse(text, file)?;
    let source = Source::of(text);
    let formatted = layout::write(&sheet(&source, &line));
    if parse(&formatted, file).as_ref() == Ok(&line)
        && sorted_comments(&source) == sorted_comments(&Source::of(&formatted))
    {
        Ok(formatted)
    } else {
        Err(FormatError::WouldChange(file.to_owned()))
    }
}

fn sorted_comments<'t>(source: &Source<'t>) -> Vec<&'t str> {
    let comments = source.comments.iter();
    let mut comments: Vec<&str> = comments
        .map(|span| source.text[span.clone()].trim_end())
        .collect();
    comments.sort_unstable();
    comments
}

fn sheet(source: &Source<'_>, line: &Line) -> Sheet {
    let anchors = anchors(source);
    let mut remarks = Attached::of(source, &anchors);
    let mut tables: Vec<TableSheet> = Vec::new();
    for (table, written) in source.tables.iter().enumerate() {
        let header = (table > 0).then(|| remarks.take(&written.header));
        let entries = written.entries.iter().map(|entry| Entry {
            key: entry.key,
            value: value(source, line, table, entry),
            remarks: remarks.take(&entry.span),
        });
        tables.push(TableSheet {
            header,
            entries: entries.collect(),
        });
    }
    Sheet {
        head: remarks.head,
        tables,
        tail: remarks.tail,
    }
}

/// The value as it is written in the one layout.
fn value(source: &Source<'_>, line: &Line, table: usize, entry: &EntrySource) -> Value {
    let Some(index) = table.checked_sub(1) else {
        return Value::Plain(print::head_value(line, entry.key).unwrap_or_default());
    };
    let section = &line.sections[index];
    if let Some(cells) = print::cells(line, section, entry.key) {
        let breaks = source.cells(entry, cells.len()).unwrap_or_default();
        let breaks: Vec<bool> = breaks
            .windows(2)
            .map(|pair| broken(pair[0].text, pair[1].text))
            .collect();
        let mut lines: Vec<Vec<String>> = vec![Vec::new()];
        for (index, cell) in cells.into_iter().enumerate() {
            if index > 0 && breaks.get(index - 1) == Some(&true) {
                lines.push(Vec::new());
            }
            lines.last_mut().expect("it began with one").push(cell);
        }
        return Value::Bars(layout::regrouped(lines, line.pickup && index == 0));
    }
    let pickup = (line.pickup && index == 0).to_string();
    let plain = print::section_value(section, entry.key);
    Value::Plain(plain.unwrap_or(pickup))
}

/// Whether the author has broken the line between two cells.
fn broken(before: &str, after: &str) -> bool {
    let behind = &before[before.trim_end().len()..];
    let ahead = &after[..after.len() - after.trim_start().len()];
    // In a cell of white space alone, the break counts before it.
    let behind = if before.trim().is_empty() { "" } else { behind };
    behind.contains('\n') || ahead.contains('\n')
}

/// What comments can belong to, in the order of the text.
fn anchors(source: &Source<'_>) -> Vec<Range<usize>> {
    let mut anchors: Vec<Range<usize>> = Vec::new();
    for (index, table) in source.tables.iter().enumerate() {
        if index > 0 {
            anchors.push(table.header.clone());
        }
        anchors.extend(table.entries.iter().map(|entry| entry.span.clone()));
    }
    anchors.sort_by_key(|anchor| (anchor.start, anchor.end));
    anchors
}

/// The comments of a file with what they belong to.
struct Attached {
    head: Vec<Comment>,
    /// By where the anchor begins.
    remarks: Vec<(usize, Remarks)>,
    tail: Vec<Comment>,
}

impl Attached {
    fn of(source: &Source<'_>, anchors: &[Range<usize>]) -> Attached {
        let mut comments = source.comments.iter().peekable();
        let mut head = Vec::new();
        let mut remarks: Vec<(usize, Remarks)> = Vec::new();
        // Where the last thing ended that a blank line may follow.
        let mut end = 0;
        for (index, anchor) in anchors.iter().enumerate() {
            let mut own = Remarks::default();
            while let Some(comment) = comments.next_if(|comment| comment.start < anchor.start) {
                own.above.push(source.comment(comment, end));
                end = comment.end;
            }
            own.parted = !own.above.is_empty() && source.blank_line(end..anchor.start);
            if index == 0 {
                head = take_head(&mut own);
            }
            while let Some(inside) = comments.next_if(|comment| comment.start < anchor.end) {
                // What stands in a list is not parted from what stood above it.
                let text = source.text[inside.clone()].trim_end().to_owned();
                own.above.push(Comment {
                    text,
                    parted: false,
                });
                own.parted = false;
            }
            let next = anchors.get(index + 1).map_or(usize::MAX, |next| next.start);
            let follows = |comment: &&Range<usize>| {
                comment.start < next && !source.text[anchor.end..comment.start].contains('\n')
            };
            end = anchor.end;
            if let Some(behind) = comments.next_if(follows) {
                own.behind = Some(source.text[behind.clone()].trim_end().to_owned());
                end = behind.end;
            }
            remarks.push((anchor.start, own));
        }
        let tail = comments.map(|comment| {
            let written = source.comment(comment, end);
            end = comment.end;
            written
        });
        let tail = tail.collect();
        Attached {
            head,
            remarks,
            tail,
        }
    }

    fn take(&mut self, anchor: &Range<usize>) -> Remarks {
        let found = self
            .remarks
            .iter_mut()
            .find(|(start, _)| *start == anchor.start);
        found.map_or_else(Remarks::default, |(_, remarks)| std::mem::take(remarks))
    }
}

/// The comments up to the last blank line before the first key.
fn take_head(first: &mut Remarks) -> Vec<Comment> {
    if first.parted {
        first.parted = false;
        return std::mem::take(&mut first.above);
    }
    let last = first
        .above
        .iter()
        .skip(1)
        .rposition(|comment| comment.parted);
    let rest = last.map_or(0, |index| index + 1);
    let above = first.above.split_off(rest);
    let head = std::mem::replace(&mut first.above, above);
    // The blank line goes with the head.
    if let Some(comment) = first.above.first_mut() {
        comment.parted = false;
    }
    head
}

impl Source<'_> {
    fn comment(&self, span: &Range<usize>, after: usize) -> Comment {
        Comment {
            text: self.text[span.clone()].trim_end().to_owned(),
            parted: self.blank_line(after..span.start),
        }
    }

    /// Whether a blank line stands between two things.
    fn blank_line(&self, between: Range<usize>) -> bool {
        self.text[between].matches('\n').count() > 1
    }
}
