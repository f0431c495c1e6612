//! Engraving: the line as a printed part, a staff in bass clef with its tablature below.
//!
//! [`Sheet::of`] lays a line out: every sign has its place, in staff spaces. [`svg`] and [`html`] draw it. The part is written as
//! bass guitar parts are: an octave above where it sounds. What is common practice is named so where it is done; it is written from
//! memory of the trade's rules and of no one book.

mod accidentals;
mod breaking;
mod columns;
mod describe;
mod figures;
pub mod glyph;
mod groups;
pub mod html;
mod placed;
mod prefix;
mod rows;
pub mod shape;
mod staff;
mod stems;
pub mod svg;
mod system;
mod tablature;
mod take;
mod ties;

use crate::expected::ExpectedBar;
use crate::expected::chord_names::{ChordName, chord_names};
use crate::fingering;
use crate::line::bar_range::BarRange;
use crate::line::meter::Meter;
use crate::page::heading::{in_words, passes};
use crate::page::{Passes, RowKind, Sign, Source, Strings};
use crate::report::words::shortest;
use crate::units::Ticks;
use columns::Words;
use figures::{Figure, FiguredBar};
use placed::Grouping;
use prefix::Prefix;
use shape::{Item, text_width};
use std::collections::BTreeSet;
use system::{Draft, Frame, Heading, SystemEnd};

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

/// Lays out section by section.
struct Writer<'a> {
    source: Source<'a>,
    part: &'a Part,
    systems: Vec<System>,
    /// What the section before had: meter and the words about its time.
    last: Option<(Meter, (String, String))>,
}

impl<'a> Writer<'a> {
    fn draft<'n>(
        &self,
        figured: FiguredBar,
        names: &'n [ChordName],
    ) -> (Draft<'n>, BTreeSet<Sign>) {
        let bar = &self.source.expected.bars[figured.bar as usize];
        let grouping = Grouping::of(&figured, bar);
        let (spoken, signs) = take::spoken(self.source, &figured);
        let from = names.partition_point(|name| name.bar < figured.bar);
        let to = names.partition_point(|name| name.bar <= figured.bar);
        let chords: Vec<&ChordName> = names[from..to].iter().collect();
        let words = |index: usize| {
            let figure: &Figure = &figured.figures[index];
            let frets = figure
                .heads
                .iter()
                .map(|head| (tablature::fret(figure, head), columns::FRET_SIZE));
            let spoken = spoken.iter().filter(|one| one.figure == index);
            let spoken = spoken.map(|one| (one.text.clone(), columns::OFFSET_SIZE));
            Words {
                centred: frets.chain(spoken).collect(),
            }
        };
        let words: Vec<Words> = (0..figured.figures.len()).map(words).collect();
        let beamed: Vec<bool> = (0..words.len())
            .map(|index| grouping.is_beamed(index))
            .collect();
        let wide = |chord: &&ChordName| {
            let next = figured
                .figures
                .partition_point(|figure| figure.at <= chord.at);
            let width = text_width(
                &accidental_signs(&chord.symbol.to_string()),
                system::CHORD_SIZE,
            );
            (next.saturating_sub(1), width + 0.8)
        };
        let mut widths: Vec<(usize, f64)> = Vec::new();
        for (index, width) in chords.iter().map(wide) {
            match widths.last_mut().filter(|last| last.0 == index) {
                Some(last) => last.1 += width,
                None => widths.push((index, width)),
            }
        }
        let columns = columns::columns(&figured, &grouping.directions, &beamed, &words, &widths);
        let draft = Draft {
            figured,
            grouping,
            columns,
            chords,
            spoken,
        };
        (draft, signs)
    }

    fn section(&mut self, drafts: &[Draft<'_>], end: SystemEnd) {
        let bar = &self.source.expected.bars[drafts[0].figured.bar as usize];
        let (meter, time) = (bar.meter(), self.time(bar));
        let is_new = self.last.as_ref().is_none_or(|last| last.1 != time);
        let heading = self.heading(bar, is_new.then(|| time.clone()));
        let said = self.last.as_ref().is_none_or(|last| last.0 != meter);
        self.last = Some((meter, time));
        let prefix = |first: bool| self.prefix(bar, (first && said).then_some(meter));
        let rooms = [true, false].map(|first| PAGE_WIDTH - prefix(first).width());
        let columns: Vec<Vec<columns::Column>> =
            drafts.iter().map(|draft| draft.columns.clone()).collect();
        let counts = breaking::breaks(&columns, rooms, bar.offset > Ticks(0));
        let mut heading = Some(heading);
        let mut start = 0;
        for count in counts {
            let bars = &drafts[start..start + count];
            start += count;
            let is_last = start == drafts.len();
            let frame = Frame {
                source: self.source,
                prefix: self.prefix(bar, (heading.is_some() && said).then_some(meter)),
                heading: heading.take(),
                width: PAGE_WIDTH,
                end: if is_last { end } else { SystemEnd::Plain },
                is_last,
                has_fingers: self.part.shows(RowKind::Finger),
                has_strokes: self.part.shows(RowKind::Stroke),
            };
            self.systems.push(system::lay_out(&frame, bars));
        }
    }

    fn prefix(&self, bar: &ExpectedBar, meter: Option<Meter>) -> Prefix {
        let section = &self.source.line.sections[usize::from(bar.section)];
        let shift = section.passes[bar.pass as usize - 1];
        let key = section.key.or(self.source.line.key);
        Prefix {
            key: key.map(|key| key.shifted(shift)),
            meter,
            strings: self.source.expected.strings.clone(),
        }
    }

    /// `= 126` and how it swings.
    fn time(&self, bar: &ExpectedBar) -> (String, String) {
        let section = &self.source.line.sections[usize::from(bar.section)];
        let changes = self.source.expected.tempo_map.changes();
        let rate = changes
            .take_while(|(start, _, _)| *start <= bar.start.max(Ticks(0)))
            .last();
        let rate = rate.map(|(_, _, rate)| shortest(rate.quarters_per_minute()));
        let swing = section.swing.or(self.source.line.swing);
        let swung = section.swung.unwrap_or(self.source.line.swung);
        let swing = swing.map(|swing| in_words(swing.long, swing.short, swung));
        (
            format!("= {}", rate.unwrap_or_default()),
            swing.unwrap_or_default(),
        )
    }

    fn heading(&self, bar: &ExpectedBar, tempo: Option<(String, String)>) -> Heading {
        let section = &self.source.line.sections[usize::from(bar.section)];
        let shift = section.passes[bar.pass as usize - 1];
        let several = (section.passes.len() > 1).then(|| passes(&section.passes, bar.pass));
        let key = section.key.or(self.source.line.key);
        let key = key.map(|key| accidental_signs(&key.shifted(shift).to_string()));
        let words: Vec<String> = [several, key].into_iter().flatten().collect();
        Heading {
            section: section.name.clone(),
            words: words.join(" · "),
            tempo,
        }
    }
}

/// A chord symbol with ♯ and ♭ where the letters stand for them.
fn accidental_signs(symbol: &str) -> String {
    let letters: Vec<char> = symbol.chars().collect();
    let sign = |(index, letter): (usize, &char)| {
        let before = index.checked_sub(1).and_then(|index| letters.get(index));
        let after = letters.get(index + 1);
        let is_name = before
            .is_some_and(|before| "ABCDEFG♭".contains(*before) || (*before == 'b' && index == 2));
        match letter {
            '#' => '♯',
            'b' if is_name || after.is_some_and(char::is_ascii_digit) => '♭',
            other => *other,
        }
    };
    letters.iter().enumerate().map(sign).collect()
}
