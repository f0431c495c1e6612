//! Advice on a line that is valid: what a teacher or a copyist would say before it is handed out.
//!
//! Every kind of advice has an id and is given where no hand, or no reader, could do what is written; what is merely hard
//! is left alone. The limits on hands are set well outside what is played, so that whoever plays it can; their sources
//! stand beside them, and all of them are from memory.

use crate::expected::tempo_map::Speed;
use crate::expected::{Expected, ExpectedNote, unroll};
use crate::fingering::Fingering;
use crate::line::mistakes::Position;
use crate::line::source::Source;
use crate::line::{Line, Note};
use crate::units::{Nanos, Ticks};
use serde::Serialize;
use std::collections::HashSet;
use std::ops::Range;

mod hands;
mod harmony;
mod lengths;
mod plucking;
mod writing;

/// One thing that is said about a line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Advice {
    /// The kind, one of [`IDS`].
    pub id: &'static str,
    /// The section, where it is about one.
    pub section: Option<String>,
    /// The bar's number, from 1 through the whole line.
    pub bar: Option<u32>,
    /// The beat in the bar, from 1; the and of one is 1.5.
    pub beat: Option<f64>,
    /// The file's line, from 1.
    pub line: usize,
    /// The column in characters, from 1.
    pub column: usize,
    /// What is the matter.
    pub text: String,
    /// What would be better.
    pub better: String,
    /// At how many further places of the section the same is the matter.
    pub more: usize,
}

/// Every kind of advice.
pub const IDS: [&str; 19] = [
    "hand-leap",
    "wide-stop",
    "high-fret",
    "finger-misfit",
    "fast-notes",
    "same-stroke",
    "cut-too-soon",
    "tied-cut",
    "no-gap",
    "off-key",
    "spelling",
    "no-key",
    "chords-missing",
    "name-twice",
    "repeated-section",
    "swing-unused",
    "accent-ghost",
    "no-comment",
    "no-notes",
];

/// What there is to say about a line, in the order of the file. `source` is the text that the line was read from.
pub fn advise(line: &Line, source: &Source<'_>) -> Vec<Advice> {
    let expected = unroll(line, Speed::WRITTEN);
    let ground = Ground {
        line,
        source,
        starts: (0..line.sections.len())
            .map(|section| source.notes(line, section))
            .collect(),
        first_numbers: (0..line.sections.len())
            .map(|section| first_number(&expected, section))
            .collect(),
        fingering: Fingering::of(&expected),
        expected,
    };
    let kinds = [
        hands::advise,
        plucking::advise,
        lengths::advise,
        harmony::advise,
        writing::advise,
    ];
    let all = kinds.iter().flat_map(|kind| kind(&ground));
    ground.gathered(all.collect())
}

/// What advice is made from: the line, its text, and the line unrolled at its own tempo.
struct Ground<'a> {
    line: &'a Line,
    source: &'a Source<'a>,
    /// Where each written note stands in the file: by section, bar and note.
    starts: Vec<Vec<Vec<usize>>>,
    /// The number of each section's first bar.
    first_numbers: Vec<u32>,
    expected: Expected,
    fingering: Fingering,
}

/// Advice before its place is written out.
struct Remark {
    id: &'static str,
    spot: Spot,
    text: String,
    better: String,
}

/// A place in the line and in its file.
#[derive(Clone, Copy)]
struct Spot {
    section: Option<usize>,
    bar: Option<u32>,
    beat: Option<f64>,
    /// The byte in the file.
    at: usize,
}

impl Remark {
    fn new(id: &'static str, spot: Spot, text: String, better: impl Into<String>) -> Remark {
        let better = better.into();
        Remark {
            id,
            spot,
            text,
            better,
        }
    }
}

impl Ground<'_> {
    /// What a key of the head says.
    fn at_head(&self, key: &str) -> Spot {
        Spot {
            section: None,
            bar: None,
            beat: None,
            at: self.source.key(None, key),
        }
    }

    /// What a key of a section says.
    fn at_key(&self, section: usize, key: &str) -> Spot {
        Spot {
            section: Some(section),
            at: self.source.key(Some(section), key),
            ..self.at_head(key)
        }
    }

    /// A written note: by section, bar of the section and note of the bar, all from 0.
    fn at_written(&self, section: usize, bar: usize, note: usize) -> Spot {
        let number = self.first_numbers[section] + bar as u32;
        let notes = &self.line.sections[section].bars[bar].notes;
        let before = notes[..note].iter().map(|note| note.length.ticks().0).sum();
        let bars = &self.expected.bars;
        let first = bars.partition_point(|bar| usize::from(bar.section) < section);
        let expected = bars.get(first + bar);
        Spot {
            section: Some(section),
            bar: Some(number),
            beat: expected.map(|bar| bar.beat_number(Ticks(before))),
            at: *self.starts[section]
                .get(bar)
                .and_then(|bar| bar.get(note))
                .unwrap_or(&self.source.key(Some(section), "notes")),
        }
    }

    /// An expected note, in whichever pass.
    fn at_note(&self, note: &ExpectedNote) -> Spot {
        match self.written(note) {
            Some((section, bar, index, _)) => self.at_written(section, bar, index),
            None => self.at_key(usize::from(note.section), "notes"),
        }
    }

    /// The written note that an expected one begins with: section, bar, note, all from 0, and the note itself.
    fn written(&self, note: &ExpectedNote) -> Option<(usize, usize, usize, &Note)> {
        let section = usize::from(note.section);
        let number = self.expected.bars.get(note.bar as usize)?.number;
        let bar = (number - self.first_numbers[section]) as usize;
        let notes = &self.line.sections[section].bars.get(bar)?.notes;
        let mut start = Ticks(0);
        let index = notes.iter().position(|written| {
            let found = start == note.at;
            start += written.length.ticks();
            found
        })?;
        Some((section, bar, index, &notes[index]))
    }

    /// Indices of the lowest note of each strike.
    fn strikes(&self) -> impl Iterator<Item = usize> + '_ {
        let notes = &self.expected.notes;
        (0..notes.len())
            .filter(|index| *index == 0 || notes[*index].group != notes[index - 1].group)
    }

    /// By how many semitones the pass of a note is shifted.
    fn shift(&self, note: &ExpectedNote) -> i8 {
        let passes = &self.line.sections[usize::from(note.section)].passes;
        passes.get(note.pass as usize - 1).copied().unwrap_or(0)
    }

    /// Indices of the notes that are struck together with one.
    fn struck_with(&self, index: usize) -> Range<usize> {
        let notes = &self.expected.notes;
        let group = notes[index].group;
        let first = notes.partition_point(|note| note.group < group);
        first..first + notes[first..].partition_point(|note| note.group == group)
    }

    /// One piece of advice a kind and section, at the first of its places, in the order of the file.
    fn gathered(&self, mut remarks: Vec<Remark>) -> Vec<Advice> {
        remarks.sort_by_key(|remark| remark.spot.at);
        // Each pass comes upon the same written note again.
        let mut seen: HashSet<(&str, usize)> = HashSet::new();
        let mut advice: Vec<(Advice, Option<usize>)> = Vec::new();
        for remark in remarks {
            if !seen.insert((remark.id, remark.spot.at)) {
                continue;
            }
            let same = |(other, section): &&mut (Advice, Option<usize>)| {
                other.id == remark.id && *section == remark.spot.section
            };
            match advice.iter_mut().find(same) {
                Some((first, _)) => first.more += 1,
                None => advice.push((self.placed(&remark), remark.spot.section)),
            }
        }
        advice.into_iter().map(|(advice, _)| advice).collect()
    }

    fn placed(&self, remark: &Remark) -> Advice {
        let Position { line, column } = self.source.position(remark.spot.at);
        let section = remark
            .spot
            .section
            .and_then(|at| self.line.sections.get(at));
        Advice {
            id: remark.id,
            section: section.map(|section| section.name.clone()),
            bar: remark.spot.bar,
            beat: remark.spot.beat,
            line,
            column,
            text: remark.text.clone(),
            better: remark.better.clone(),
            more: 0,
        }
    }
}

/// The number of a section's first bar; 0 where that is a pickup.
fn first_number(expected: &Expected, section: usize) -> u32 {
    let bars = &expected.bars;
    let first = bars.partition_point(|bar| usize::from(bar.section) < section);
    bars.get(first).map_or(0, |bar| bar.number)
}

/// Whole milliseconds, as they are said.
fn ms(span: Nanos) -> String {
    format!("{:.0} ms", span.ms())
}
