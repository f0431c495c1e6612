//! Bars into systems: as many whole ones as fit, a longer one broken at a beat.

use super::content::Content;
use super::heading::heading;
use super::spacing::{self, Piece, Scale};
use super::{Cell, Row, RowKind, Source, Span, System};
use crate::expected::ExpectedBar;
use crate::units::Ticks;
use std::collections::BTreeSet;

/// From this width on labels are whole words.
const ROOMY: usize = 60;

/// The systems of the bars, from top to bottom, none wider than `width`.
pub(super) fn lay_out(source: Source<'_>, contents: &[Content], width: usize) -> Vec<System> {
    let labels = Labels::new(source, contents, width);
    // The bar line at the end.
    let free = width - labels.width - 1;
    let bar_of = |content: &Content| &source.expected.bars[content.bar as usize];
    let stretch = |content: &Content| (bar_of(content).section, bar_of(content).pass);
    let mut drafts = Vec::new();
    for contents in contents.chunk_by(|a, b| stretch(a) == stretch(b)) {
        let pieces = contents
            .iter()
            .flat_map(|content| pieces(content, bar_of(content), free));
        let first = drafts.len();
        drafts.extend(draft(pieces.collect(), free));
        drafts[first].heading = contents
            .first()
            .map(|content| heading(source, bar_of(content)));
    }
    let common = drafts.iter().map(|draft| draft.scale).max();
    let placed = drafts.into_iter().map(|mut draft| {
        let most = common.unwrap_or(draft.scale);
        draft.scale = spacing::widest(&draft.pieces, draft.scale, most, free);
        draft.place(&labels, free)
    });
    placed.collect()
}

/// The bar as pieces that each fit: as few as can be, of about as many beats each.
fn pieces<'a>(content: &'a Content, bar: &ExpectedBar, free: usize) -> Vec<Piece<'a>> {
    let longest = broken(content, bar, free, bar.length);
    let beats = (bar.length.0 as u64).div_ceil(bar.beat.0 as u64 * longest.len() as u64) as i64;
    let alike = broken(content, bar, free, Ticks(beats * bar.beat.0));
    if alike.len() == longest.len() {
        alike
    } else {
        longest
    }
}

/// The bar as pieces that each fit and are no longer than `most`, from the first on as long as they may be.
fn broken<'a>(content: &'a Content, bar: &ExpectedBar, free: usize, most: Ticks) -> Vec<Piece<'a>> {
    let beats = (1..).map(|beat| Ticks(beat * bar.beat.0 - bar.offset.0 % bar.beat.0));
    let beats: Vec<Ticks> = beats.take_while(|at| *at < bar.length).collect();
    let places: BTreeSet<Ticks> = content.marks.iter().map(|mark| mark.at).collect();
    let places: Vec<Ticks> = places.into_iter().collect();
    let mut pieces = Vec::new();
    let mut from = Ticks(0);
    while from < bar.length {
        let piece = |to: Ticks| Piece::new(content, from, to, bar.length);
        let longest = |ends: &[Ticks]| {
            let ends = ends.iter().chain([&bar.length]).filter(|at| **at > from);
            let short = ends.filter(|at| **at - from <= most);
            short
                .rev()
                .find(|at| is_fitting(&piece(**at), free))
                .copied()
        };
        let next = places.iter().find(|at| **at > from);
        // A word that is wider than the page is cut when it is placed.
        let to = longest(&beats).or_else(|| longest(&places));
        let to = to.unwrap_or(next.copied().unwrap_or(bar.length));
        pieces.push(piece(to));
        from = to;
    }
    pieces
}

fn is_fitting(piece: &Piece<'_>, free: usize) -> bool {
    spacing::narrowest(std::slice::from_ref(piece), free).is_some()
}

/// A system before its columns.
struct Draft<'a> {
    heading: Option<String>,
    pieces: Vec<Piece<'a>>,
    scale: Scale,
}

/// As many pieces a system as fit; a piece that begins inside a bar begins a system.
fn draft(pieces: Vec<Piece<'_>>, free: usize) -> Vec<Draft<'_>> {
    let mut drafts: Vec<Draft<'_>> = Vec::new();
    for piece in pieces {
        let last = drafts.last_mut().filter(|_| piece.begins());
        let joined = last.and_then(|last| {
            last.pieces.push(piece.clone());
            let scale = spacing::narrowest(&last.pieces, free);
            match scale {
                Some(scale) => last.scale = scale,
                None => drop(last.pieces.pop()),
            }
            scale
        });
        if joined.is_none() {
            let scale = spacing::narrowest(std::slice::from_ref(&piece), free);
            drafts.push(Draft {
                heading: None,
                scale: scale.unwrap_or_else(|| spacing::fullest(&piece, free)),
                pieces: vec![piece],
            });
        }
    }
    drafts
}

impl Draft<'_> {
    fn place(self, labels: &Labels<'_>, free: usize) -> System {
        let mut spans = Vec::new();
        let mut column = 0;
        for piece in &self.pieces {
            let width = piece.width(self.scale).min(free - column);
            spans.push(Span {
                bar: piece.content.bar,
                columns: column..column + width,
                at: piece.from..piece.to,
                begins: piece.begins(),
                ends: piece.ends,
            });
            column += width;
        }
        let kinds = self
            .pieces
            .iter()
            .flat_map(Piece::marks)
            .map(|mark| mark.row);
        let strings = (1..)
            .take(labels.source.expected.strings.len())
            .map(RowKind::String);
        // The counts' label is the bar's number, also where counts are left out.
        let always = strings.chain([RowKind::Count]);
        let kinds: BTreeSet<RowKind> = kinds.chain(always).collect();
        let rows = kinds.into_iter().map(|kind| self.row(kind, &spans, labels));
        System {
            heading: self.heading.clone(),
            label_width: labels.width,
            quarter: self.scale.0,
            rows: rows.collect(),
            spans,
        }
    }

    fn row(&self, kind: RowKind, spans: &[Span], labels: &Labels<'_>) -> Row {
        let (mut cells, mut holds) = (Vec::new(), Vec::new());
        for (piece, span) in self.pieces.iter().zip(spans) {
            let at = |at: Ticks| {
                let column = span.columns.start + piece.lead() + self.scale.column(piece.from, at);
                column.min(span.columns.end)
            };
            let marks: Vec<_> = piece.marks().filter(|mark| mark.row == kind).collect();
            for (index, mark) in marks.iter().enumerate() {
                let next = marks
                    .get(index + 1)
                    .map_or(span.columns.end, |next| at(next.at));
                cells.push(Cell {
                    column: at(mark.at),
                    text: cut(&mark.text, next - at(mark.at)),
                    bar: piece.content.bar,
                    at: mark.at,
                    note: mark.note,
                });
            }
            let held = piece.content.holds.iter();
            let held = held.filter(|hold| kind == RowKind::String(hold.string));
            let held = held.filter(|hold| hold.at.start < piece.to && hold.at.end > piece.from);
            let inside = held.map(|hold| {
                let tied_in = hold.is_tied && hold.at.start == Ticks(0);
                let from = match hold.at.start {
                    start if start < piece.from || tied_in => {
                        span.columns.start + usize::from(piece.begins())
                    }
                    start => at(start),
                };
                from..at(hold.at.end.clamp(piece.from, piece.to))
            });
            holds.extend(inside.filter(|hold| !hold.is_empty()));
        }
        Row {
            kind,
            label: labels.of(kind, self.pieces[0].content.bar),
            cells,
            holds,
        }
    }
}

/// A word in so many characters; what is cut off shows as `~`.
fn cut(text: &str, characters: usize) -> String {
    if text.chars().count() <= characters {
        return text.into();
    }
    let kept = text.chars().take(characters.saturating_sub(1));
    kept.chain(['~']).take(characters).collect()
}

/// What stands before the rows.
struct Labels<'a> {
    source: Source<'a>,
    are_whole: bool,
    width: usize,
}

impl<'a> Labels<'a> {
    fn new(source: Source<'a>, contents: &[Content], width: usize) -> Labels<'a> {
        let mut labels = Labels {
            source,
            are_whole: width >= ROOMY,
            width: 0,
        };
        let marks = contents.iter().flat_map(|bar| &bar.marks);
        let mut kinds: BTreeSet<RowKind> = marks.map(|mark| mark.row).collect();
        kinds.extend(
            (1..)
                .take(source.expected.strings.len())
                .map(RowKind::String),
        );
        kinds.insert(RowKind::Count);
        let last = contents
            .iter()
            .max_by_key(|content| source.expected.bars[content.bar as usize].number);
        let last = last.map_or(0, |content| content.bar);
        let widths = kinds
            .iter()
            .map(|kind| labels.of(*kind, last).chars().count());
        labels.width = widths.max().unwrap_or(0) + 1;
        labels
    }

    /// The label of a row in a system that begins with a bar.
    fn of(&self, kind: RowKind, bar: u32) -> String {
        let (whole, short) = match kind {
            RowKind::Chord => ("chord", "ch"),
            RowKind::Count => {
                let number = self
                    .source
                    .expected
                    .bars
                    .get(bar as usize)
                    .map_or(0, |bar| bar.number);
                let name = if self.are_whole { "bar " } else { "b" };
                return format!("{name}{number}");
            }
            RowKind::Mark => ("mark", "mark"),
            RowKind::String(number) => {
                let strings = &self.source.expected.strings;
                return strings
                    .get(usize::from(number) - 1)
                    .cloned()
                    .unwrap_or_default();
            }
            RowKind::Note => ("note", "note"),
            RowKind::Degree => ("degree", "deg"),
            RowKind::Finger => ("finger", "fing"),
            RowKind::Stroke => ("stroke", "strk"),
            RowKind::Moved => ("moved", "mvd"),
            RowKind::Played => ("played", "play"),
            RowKind::Ms(_) => ("ms", "ms"),
        };
        if self.are_whole { whole } else { short }.into()
    }
}
