//! Engraving: the line as a printed part, a staff in bass clef with its tablature below.
//!
//! [`Sheet::of`] lays a line out: every sign has its place, in staff spaces. [`svg`] and [`html`] draw it. The part is written as
//! bass guitar parts are: an octave above where it sounds. What is common practice is named so where it is done; it is written from
//! memory of the trade's rules and of no one book.

mod accidentals;
mod beams;
mod breaking;
mod columns;
mod describe;
mod figures;
pub mod glyph;
mod groups;
pub mod html;
pub mod linked;
mod marks;
mod placed;
mod prefix;
mod rows;
mod sections;
pub mod shape;
mod sounding;
mod staff;
mod stems;
pub mod svg;
mod system;
mod tablature;
mod take;
mod ties;

use crate::expected::ExpectedBar;
use crate::expected::chord_names::chord_names;
use crate::fingering;
use crate::line::bar_range::BarRange;
use crate::page::{Passes, RowKind, Sign, Source, Strings};
use figures::FiguredBar;
use sections::Writer;
use shape::Item;
pub use sounding::Sounding;
use std::collections::BTreeSet;
use system::{Draft, SystemEnd};

/// Staff spaces across a page: 180 mm (A4 less its margins) with a staff 7 mm high.
pub const PAGE_WIDTH: f64 = 180.0 / 1.75;

/// What of a line is engraved.
#[derive(Clone, Debug)]
pub struct Part {
    /// Which times through the sections.
    pub passes: Passes,
    /// Only these bars.
    pub bars: Option<BarRange>,
    /// Rows that are left out: chords, fingers, strokes.
    pub without: BTreeSet<RowKind>,
    /// How the offsets and lengths of a take are shown.
    pub sounding: Sounding,
}

/// A line, engraved.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// From top to bottom.
    pub systems: Vec<System>,
    /// The signs on it that need a word.
    pub signs: BTreeSet<Sign>,
    /// Where its strings come from.
    pub strings: Strings,
}

/// Bars side by side.
#[derive(Clone, Debug, PartialEq)]
pub struct System {
    /// [`PAGE_WIDTH`], or more where one bar alone does not fit: it is then drawn smaller.
    pub width: f64,
    /// From the highest item to the lowest.
    pub height: f64,
    /// How far the top line of the staff is from the top.
    pub staff: f64,
    /// Where its bars are.
    pub bars: Vec<BarPlace>,
    /// Which bars they are.
    pub title: String,
    /// What is in them, in words.
    pub description: String,
    /// Everything that is drawn.
    pub items: Vec<Item>,
}

/// Where a bar is in a system.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BarPlace {
    /// Index into [`crate::expected::Expected::bars`].
    pub bar: u32,
    /// Where it begins.
    pub left: f64,
    /// Where its bar line ends it.
    pub right: f64,
}

impl Part {
    fn has(&self, bar: &ExpectedBar) -> bool {
        let is_pass = match self.passes {
            Passes::All => true,
            Passes::One(pass) => bar.pass == pass,
        };
        let is_in = |range: BarRange| (range.first..=range.last).contains(&bar.number);
        is_pass && self.bars.is_none_or(is_in)
    }

    fn shows(&self, row: RowKind) -> bool {
        !self.without.contains(&row)
    }
}

impl Sheet {
    /// Lays out a line. O(n) for n notes.
    pub fn of(source: Source<'_>, part: &Part) -> Sheet {
        let names = match part.shows(RowKind::Chord) {
            true => chord_names(source.line, source.expected),
            false => Vec::new(),
        };
        let bars = figures::figured(source, part);
        let mut signs: BTreeSet<Sign> = bars.iter().flat_map(own_signs).collect();
        let strings = strings(source, &bars);
        let mut writer = Writer {
            source,
            part,
            systems: Vec::new(),
            last: None,
        };
        let drafts = bars.into_iter().map(|bar| {
            let (draft, own) = writer.draft(bar, &names);
            signs.extend(own);
            draft
        });
        let drafts: Vec<Draft<'_>> = drafts.collect();
        let stretch = |draft: &Draft<'_>| {
            let bar = &source.expected.bars[draft.figured.bar as usize];
            (bar.section, bar.pass)
        };
        let sections: Vec<&[Draft<'_>]> =
            drafts.chunk_by(|a, b| stretch(a) == stretch(b)).collect();
        for (index, section) in sections.iter().enumerate() {
            let end = match index + 1 == sections.len() {
                true => SystemEnd::Line,
                false => SystemEnd::Section,
            };
            writer.section(section, end);
        }
        Sheet {
            systems: writer.systems,
            signs,
            strings,
        }
    }
}

/// What is on a bar that not every player knows.
fn own_signs(bar: &FiguredBar) -> Vec<Sign> {
    let figures = || bar.figures.iter();
    let heads = || figures().flat_map(|figure| &figure.heads);
    let all = [
        (figures().any(|figure| figure.marks.muted), Sign::Muted),
        (heads().any(|head| head.optional), Sign::Ghost),
        (heads().any(|head| head.dead), Sign::Dead),
    ];
    let held = all.into_iter().filter(|(holds, _)| *holds);
    held.map(|(_, sign)| sign).collect()
}

fn strings(source: Source<'_>, bars: &[FiguredBar]) -> Strings {
    let heads = bars
        .iter()
        .flat_map(|bar| &bar.figures)
        .flat_map(|figure| &figure.heads);
    let sources = heads.map(|head| source.fingering.places[head.note as usize].source);
    let sources: Vec<fingering::Source> = sources.collect();
    let named = sources.contains(&fingering::Source::Written);
    match sources.contains(&fingering::Source::Likely) {
        false => Strings::Written,
        true if named => Strings::SomeLikely,
        true => Strings::Likely,
    }
}
