//! The page: a line laid out for reading, with or without what was played for it.
//!
//! [`Page::of`] places everything in columns, systems and rows; [`text`] draws that in characters. What draws on a screen
//! takes the same page: a [`Cell`] knows the expected note that it belongs to.
//!
//! Inside a bar a column is as far to the right as its time is late (swing left out, to the nearest character), so that equal
//! times have equal distances. All bars of a system share that scale.

mod content;
mod counts;
pub mod heading;
mod heard;
mod sign;
mod spacing;
mod systems;
mod tablature;
pub mod text;

pub(crate) use content::bars_heard;
pub(crate) use heard::{Heard, offset};
pub use sign::Sign;

use crate::expected::Expected;
use crate::fingering::Fingering;
use crate::judge::Judgement;
use crate::line::Line;
use crate::line::bar_range::BarRange;
use crate::units::Ticks;
use spacing::Scale;
use std::cmp::Reverse;
use std::collections::BTreeSet;
use std::ops::Range;

/// What a page is made from.
#[derive(Clone, Copy)]
pub struct Source<'a> {
    /// The line.
    pub line: &'a Line,
    /// The same line, unrolled.
    pub expected: &'a Expected,
    /// Where its notes are played.
    pub fingering: &'a Fingering,
    /// What was played for it; readings may be missing at the end, where a take was stopped.
    pub judgement: Option<&'a Judgement>,
}

/// Which times through the sections are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Passes {
    /// One of them, from 1; sections with fewer are left out.
    One(u32),
    /// All, one after the other.
    All,
}

/// How a page is laid out.
#[derive(Clone, Debug)]
pub struct Layout {
    /// Characters in a row, [`Page::NARROWEST`] at the least.
    pub width: usize,
    /// Which passes.
    pub passes: Passes,
    /// Only these bars of the line.
    pub bars: Option<BarRange>,
    /// Rows that are left out.
    pub without: BTreeSet<RowKind>,
    /// Characters kept free under each note, in a row of [`RowKind::Ms`], for what is drawn there later; 0 for none.
    pub room: usize,
}

/// A line laid out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Page {
    /// From top to bottom.
    pub systems: Vec<System>,
    /// The signs that occur on it.
    pub signs: BTreeSet<Sign>,
    /// How much of the strings rests on the likely fingering and not on the line.
    pub strings: Strings,
}

/// Where the strings of a page come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Strings {
    /// The line names all of them.
    Written,
    /// The line names some.
    SomeLikely,
    /// The line names none.
    Likely,
}

/// Bars side by side. Positions are characters from the end of the labels.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct System {
    /// What stands above it, where a section or a pass begins.
    pub heading: Option<String>,
    /// Characters that the labels take, the space after them included.
    pub label_width: usize,
    /// Characters that a quarter note takes.
    pub quarter: usize,
    /// Its bars, or what of a bar fits.
    pub spans: Vec<Span>,
    /// Its rows from top to bottom; those that would be empty are not there.
    pub rows: Vec<Row>,
}

/// A bar, or a part of one, in a system.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Span {
    /// Index into [`Expected::bars`].
    pub bar: u32,
    /// From its first character, which is the bar line where it begins the bar, to the one after its last.
    pub columns: Range<usize>,
    /// What it has of the bar, as written positions there.
    pub at: Range<Ticks>,
    /// Whether it begins with the bar's beginning.
    pub begins: bool,
    /// Whether it ends with the bar's end, so that a bar line follows.
    pub ends: bool,
}

/// One row of a system.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// What it tells.
    pub kind: RowKind,
    /// What stands before it.
    pub label: String,
    /// What stands in it, from left to right, never overlapping.
    pub cells: Vec<Cell>,
    /// On a string: where a note is held.
    pub holds: Vec<Range<usize>>,
}

/// Something at a column.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cell {
    /// Its first character.
    pub column: usize,
    /// Its characters.
    pub text: String,
    /// Index into [`Expected::bars`].
    pub bar: u32,
    /// Its written position there.
    pub at: Ticks,
    /// Index of the expected note that it tells about; of several struck together the lowest, except on strings.
    pub note: Option<u32>,
}

/// What a row tells. They stand on the page in this order.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum RowKind {
    /// Chord symbols.
    Chord,
    /// Counts.
    Count,
    /// Signs for entries, mutes, accents, short and full notes.
    Mark,
    /// A string by its number: frets, dead notes, rests.
    String(u8),
    /// Note names.
    Note,
    /// Degrees of the key.
    Degree,
    /// Fretting fingers.
    Finger,
    /// Strokes.
    Stroke,
    /// How far a phrase is from its place.
    Moved,
    /// Played notes, where they are not the written ones.
    Played,
    /// Signed offsets in ms, by how many of the notes struck together are lower: the upper ones come first.
    Ms(Reverse<u8>),
}

impl System {
    /// The column of a written position of the bar that a span of this system has, to the nearest character.
    pub fn column(&self, span: &Span, at: Ticks) -> usize {
        let lead = spacing::lead(span.begins);
        let into = Scale(self.quarter).column(span.at.start, at.clamp(span.at.start, span.at.end));
        (span.columns.start + lead + into).min(span.columns.end)
    }
}

impl Page {
    /// The narrowest width that a page is laid out for.
    pub const NARROWEST: usize = 40;

    /// Lays out a line. O(n) for n notes.
    pub fn of(source: Source<'_>, layout: &Layout) -> Page {
        let contents = content::contents(source, layout);
        let systems = systems::lay_out(source, &contents, layout.width.max(Page::NARROWEST));
        let signs = contents.iter().flat_map(|bar| bar.signs.iter().copied());
        Page {
            systems,
            signs: signs.collect(),
            strings: content::strings(&contents),
        }
    }
}
