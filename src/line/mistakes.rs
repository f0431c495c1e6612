//! All mistakes of one file, shown in its text.

use super::mistake::{Explanation, Mistake, MistakeAt};
use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use std::ops::Range;

/// The mistakes of a file in the order of its text; never empty when it is an error.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mistakes {
    file: String,
    text: String,
    /// The byte that each line begins with.
    line_starts: Vec<usize>,
    list: Vec<MistakeAt>,
}

/// How many mistakes are shown in full: a file that is no line at all need not be shown byte by byte.
const SHOWN: usize = 100;

/// Lines and columns count from 1, columns in characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Position {
    /// The line.
    pub line: usize,
    /// The column.
    pub column: usize,
}

impl Mistakes {
    pub(super) fn new(file: &str, text: &str, mut list: Vec<MistakeAt>) -> Mistakes {
        for mistake in &mut list {
            mistake.span = on_characters(text, mistake.span.clone());
        }
        list.sort_by_key(|mistake| (mistake.span.start, mistake.span.end));
        Mistakes {
            file: file.to_owned(),
            text: text.to_owned(),
            line_starts: std::iter::once(0)
                .chain(text.match_indices('\n').map(|(at, _)| at + 1))
                .collect(),
            list,
        }
    }

    /// The file's name as it was given.
    pub fn file(&self) -> &str {
        &self.file
    }

    /// In the order of the text.
    pub fn iter(&self) -> std::slice::Iter<'_, MistakeAt> {
        self.list.iter()
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.list.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// Where a mistake begins.
    pub fn position(&self, mistake: &MistakeAt) -> Position {
        let at = mistake.span.start;
        let line = self.line_starts.partition_point(|start| *start <= at);
        let start = self.line_starts.get(line - 1).copied().unwrap_or(0);
        let before = self.text.get(start..at).unwrap_or_default();
        Position {
            line,
            column: before.chars().count() + 1,
        }
    }

    /// Every mistake with its file, line, column, marked text and help; beyond the first hundred only their number.
    /// `colour` is for a terminal that wants it.
    pub fn render(&self, colour: bool) -> String {
        let renderer = if colour {
            Renderer::styled()
        } else {
            Renderer::plain()
        };
        let mut shown: Vec<String> = self
            .list
            .iter()
            .take(SHOWN)
            .map(|mistake| self.render_one(&renderer, mistake))
            .collect();
        if self.list.len() > SHOWN {
            shown.push(format!(
                "and {} more mistakes in {}",
                self.list.len() - SHOWN,
                self.file
            ));
        }
        shown.join("\n\n")
    }

    fn render_one(&self, renderer: &Renderer, at: &MistakeAt) -> String {
        let place = Place {
            file: &self.file,
            text: &self.text,
            line: self.position(at).line,
            span: &at.span,
        };
        shown(
            renderer,
            &place,
            &at.mistake.to_string(),
            at.mistake.explanation(),
        )
    }
}

/// What a mistake is about.
pub(crate) struct Place<'a> {
    pub file: &'a str,
    pub text: &'a str,
    /// The line that the span begins in, from 1.
    pub line: usize,
    /// Bytes of the text, on characters.
    pub span: &'a Range<usize>,
}

/// A mistake with its file, line, column, marked text and help.
pub(crate) fn shown(
    renderer: &Renderer,
    place: &Place<'_>,
    message: &str,
    explanation: Explanation,
) -> String {
    let lines = whole_lines(place.text, place.span);
    let marked = place.span.start - lines.start..place.span.end - lines.start;
    // The lines of the mistake alone, so that a thousand mistakes do not read the file a thousand times.
    let snippet = Snippet::source(&place.text[lines])
        .path(place.file)
        .line_start(place.line)
        .annotation(
            AnnotationKind::Primary
                .span(marked)
                .label(explanation.label),
        );
    let report: [Group<'_>; 1] = [Level::ERROR
        .primary_title(message)
        .id(explanation.id)
        .element(snippet)
        .element(Level::HELP.message(explanation.help))];
    renderer.render(&report)
}

impl<'m> IntoIterator for &'m Mistakes {
    type Item = &'m MistakeAt;
    type IntoIter = std::slice::Iter<'m, MistakeAt>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter()
    }
}

impl std::fmt::Display for Mistakes {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.render(false))
    }
}

impl std::error::Error for Mistakes {}

/// What is being reported while a file is read.
#[derive(Debug, Default)]
pub(super) struct Report {
    /// In the order of discovery.
    pub list: Vec<MistakeAt>,
}

impl Report {
    pub fn add(&mut self, mistake: impl Into<Mistake>, span: Range<usize>) {
        let mistake = mistake.into();
        self.list.push(MistakeAt { mistake, span });
    }
}

/// The span of the whole lines that a span touches, without the last newline.
pub(crate) fn whole_lines(text: &str, span: &Range<usize>) -> Range<usize> {
    let start = text[..span.start].rfind('\n').map_or(0, |at| at + 1);
    let end = text[span.end..]
        .find('\n')
        .map_or(text.len(), |at| span.end + at);
    start..end
}

/// The span cut to the text and widened to whole characters.
pub(crate) fn on_characters(text: &str, span: Range<usize>) -> Range<usize> {
    let mut start = span.start.min(text.len());
    let mut end = span.end.clamp(start, text.len());
    while !text.is_char_boundary(start) {
        start -= 1;
    }
    while !text.is_char_boundary(end) {
        end += 1;
    }
    start..end
}
