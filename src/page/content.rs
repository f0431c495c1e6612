//! What stands in each bar, by written position, before it has a column.

use super::heard::Heard;
use super::{Layout, Passes, RowKind, Sign, Source, Strings, counts};
use crate::expected::chord_names::chord_names;
use crate::expected::{ExpectedBar, ExpectedNote};
use crate::line::bar_range::BarRange;
use crate::line::{Gate, Stroke};
use crate::units::Ticks;
use std::cmp::Reverse;
use std::collections::BTreeSet;
use std::ops::Range;

/// A bar's marks and holds.
#[derive(Clone, Debug)]
pub(super) struct Content {
    /// Index into [`crate::expected::Expected::bars`].
    pub(super) bar: u32,
    pub(super) marks: Vec<Mark>,
    pub(super) holds: Vec<Hold>,
    pub(super) signs: BTreeSet<Sign>,
    /// Where notes and rests begin.
    pub(super) places: BTreeSet<Ticks>,
    /// Whether it has strings that the line names, and such that are likely.
    pub(super) names_strings: bool,
    pub(super) has_likely: bool,
}

/// A word at a place of a bar.
#[derive(Clone, Debug)]
pub(crate) struct Mark {
    pub(super) at: Ticks,
    pub(crate) row: RowKind,
    pub(crate) text: String,
    pub(crate) note: Option<u32>,
}

/// A string that sounds.
#[derive(Clone, Debug)]
pub(super) struct Hold {
    pub(super) string: u8,
    pub(super) at: Range<Ticks>,
    /// Whether it was struck in a bar before.
    pub(super) is_tied: bool,
}

/// The bars of the passes asked for. Where a take was stopped, those before its end.
pub(super) fn contents(source: Source<'_>, layout: &Layout) -> Vec<Content> {
    let mut writer = Writer::new(source);
    let groups = source.expected.notes.chunk_by(|a, b| a.group == b.group);
    let (mut first, mut silent_from) = (0, None);
    for group in groups {
        let start = writer.start(group);
        let from = silent_from.unwrap_or(writer.line_start());
        writer.rests(from..start);
        writer.group(first, group);
        silent_from = Some(start + group[0].length);
        first += group.len();
    }
    let from = silent_from.unwrap_or(writer.line_start());
    writer.rests(from..writer.line_end());
    writer.chords();
    writer.counts();
    writer.room(layout.room);
    let Writer { mut bars, .. } = writer;
    bars.truncate(bars_heard(source, bars.len()));
    bars.retain(|content| {
        let bar = &source.expected.bars[content.bar as usize];
        let is_in = |range: BarRange| (range.first..=range.last).contains(&bar.number);
        let is_pass = match layout.passes {
            Passes::All => true,
            Passes::One(pass) => bar.pass == pass,
        };
        is_pass && layout.bars.is_none_or(is_in)
    });
    for content in &mut bars {
        let is_shown = |row: RowKind| !layout.without.contains(&row);
        content.marks.retain(|mark| is_shown(mark.row));
        content.signs.retain(|sign| sign.row().is_none_or(is_shown));
        content.marks.sort_by_key(|mark| (mark.row, mark.at));
    }
    bars
}

/// Where the strings of these bars come from.
pub(super) fn strings(contents: &[Content]) -> Strings {
    let named = contents.iter().any(|bar| bar.names_strings);
    match contents.iter().any(|bar| bar.has_likely) {
        false => Strings::Written,
        true if named => Strings::SomeLikely,
        true => Strings::Likely,
    }
}

/// How many bars, from the first, a take has come to.
pub(crate) fn bars_heard(source: Source<'_>, all: usize) -> usize {
    let notes = &source.expected.notes;
    let Some(judgement) = source.judgement else {
        return all;
    };
    match judgement.readings.len() {
        heard if heard >= notes.len() => all,
        0 => 0,
        heard => notes[heard - 1].bar as usize + 1,
    }
}

/// The bars being filled.
pub(super) struct Writer<'a> {
    pub(super) source: Source<'a>,
    pub(super) bars: Vec<Content>,
    /// The string before, for a note that has none.
    pub(super) string: u8,
}

impl<'a> Writer<'a> {
    fn new(source: Source<'a>) -> Writer<'a> {
        let empty = |bar| Content {
            bar,
            marks: Vec::new(),
            holds: Vec::new(),
            signs: BTreeSet::new(),
            places: BTreeSet::new(),
            names_strings: false,
            has_likely: false,
        };
        Writer {
            source,
            bars: (0..source.expected.bars.len() as u32).map(empty).collect(),
            string: source.expected.strings.len() as u8,
        }
    }

    pub(super) fn bar(&self, bar: u32) -> &'a ExpectedBar {
        &self.source.expected.bars[bar as usize]
    }

    pub(super) fn start(&self, group: &[ExpectedNote]) -> Ticks {
        self.bar(group[0].bar).start + group[0].at
    }

    fn line_start(&self) -> Ticks {
        self.source
            .expected
            .bars
            .first()
            .map_or(Ticks(0), |bar| bar.start)
    }

    fn line_end(&self) -> Ticks {
        let last = self.source.expected.bars.last();
        last.map_or(Ticks(0), |bar| bar.start + bar.length)
    }

    /// What a span of the line is in each of its bars, as positions there.
    pub(super) fn by_bar(&self, span: &Range<Ticks>) -> Vec<(u32, Range<Ticks>)> {
        let bars = &self.source.expected.bars;
        let first = bars.partition_point(|bar| bar.start + bar.length <= span.start);
        let touched = (first as u32..).zip(&bars[first..]);
        let touched = touched.take_while(|(_, bar)| bar.start < span.end);
        let inside = touched.map(|(index, bar)| {
            let from = (span.start - bar.start).max(Ticks(0));
            (index, from..(span.end - bar.start).min(bar.length))
        });
        inside.collect()
    }

    fn group(&mut self, first: usize, group: &[ExpectedNote]) {
        let lead = &group[0];
        self.bars[lead.bar as usize].places.insert(lead.at);
        let strings = self.strings(first, group);
        for ((index, note), string) in (first..).zip(group).zip(&strings) {
            self.fret(index, note, *string);
        }
        self.hold(group, &strings);
        let mark = |row, text: String| Mark {
            at: lead.at,
            row,
            text,
            note: Some(first as u32),
        };
        let degrees = group.iter().filter_map(|note| note.degree);
        let degrees: Vec<String> = degrees.map(|degree| degree.to_string()).collect();
        let names: Vec<String> = group.iter().map(name).collect();
        let stroke = lead.stroke.map(|stroke| match stroke {
            Stroke::Down => Sign::Down,
            Stroke::Up => Sign::Up,
        });
        let signs = self.signs(lead);
        let shapes: String = signs.iter().map(|sign| sign.shape()).collect();
        let finger = lead.finger.map(|finger| finger.to_string());
        let texts = [
            (RowKind::Mark, shapes),
            (RowKind::Note, names.join("+")),
            (RowKind::Degree, degrees.join("+")),
            (RowKind::Finger, finger.unwrap_or_default()),
            (RowKind::Stroke, stroke.map_or("", Sign::shape).to_string()),
        ];
        let written = texts.into_iter().filter(|(_, text)| !text.is_empty());
        let content = &mut self.bars[lead.bar as usize];
        content
            .marks
            .extend(written.map(|(row, text)| mark(row, text)));
        content.signs.extend(signs.into_iter().chain(stroke));
        if let Some(judgement) = self.source.judgement {
            let heard = Heard::new(self.source.expected, judgement);
            let (marks, signs) = heard.marks(first, group);
            content.marks.extend(marks);
            content.signs.extend(signs);
        }
    }

    fn signs(&self, note: &ExpectedNote) -> Vec<Sign> {
        let section = &self.source.line.sections[usize::from(note.section)];
        let gate = section.gate.unwrap_or(self.source.line.gate);
        let is_full = gate < Gate::FULL && note.sounding == note.written;
        let all = [
            (note.is.entry, Sign::Entry),
            (note.is.accent, Sign::Accent),
            (note.is.short, Sign::Short),
            (note.is.muted, Sign::Muted),
            (is_full, Sign::Full),
        ];
        let held = all.into_iter().filter(|(holds, _)| *holds);
        held.map(|(_, sign)| sign).collect()
    }

    /// What is free for each group of notes.
    fn room(&mut self, characters: usize) {
        if characters == 0 {
            return;
        }
        let mut first = 0;
        for group in self
            .source
            .expected
            .notes
            .chunk_by(|a, b| a.group == b.group)
        {
            self.bars[group[0].bar as usize].marks.push(Mark {
                at: group[0].at,
                row: RowKind::Ms(Reverse(0)),
                text: " ".repeat(characters),
                note: Some(first),
            });
            first += group.len() as u32;
        }
    }

    fn chords(&mut self) {
        for name in chord_names(self.source.line, self.source.expected) {
            self.bars[name.bar as usize].marks.push(Mark {
                at: name.at,
                row: RowKind::Chord,
                text: name.symbol.to_string(),
                note: None,
            });
        }
    }

    fn counts(&mut self) {
        for content in &mut self.bars {
            let bar = &self.source.expected.bars[content.bar as usize];
            for (at, text) in counts::counts(bar, &content.places) {
                content.signs.extend(counts::sign(&text));
                content.marks.push(Mark {
                    at,
                    row: RowKind::Count,
                    text,
                    note: None,
                });
            }
        }
    }
}

/// The note's name without its octave, which string and fret tell.
fn name(note: &ExpectedNote) -> String {
    match (note.key, note.spelled) {
        (None, _) => Sign::Dead.shape().into(),
        (Some(_), Some(class)) => class.to_string(),
        (Some(key), None) => {
            let octave = |c: char| c.is_ascii_digit() || c == '-';
            key.to_string().trim_end_matches(octave).into()
        }
    }
}
