//! The measures of the score: each pass in its own key written out, and passes in one key as a repeat.

use crate::expected::{Expected, ExpectedNote};
use crate::line::length::NoteLength;
use crate::line::pitch::Pitch;
use crate::line::tuning::StringNumber;
use crate::line::{Bar, Line, Marks, Note, Place, Section, Stroke};
use crate::units::Ticks;
use std::collections::HashMap;

/// One measure of the score.
pub(super) struct Measure<'a> {
    /// Its number; 0 is a pickup.
    pub(super) number: u32,
    /// Index into [`Expected::bars`]: the bar of the first pass that is written here.
    pub(super) bar: usize,
    /// Its section.
    pub(super) section: &'a Section,
    /// The section's name, where it begins here.
    pub(super) mark: Option<&'a str>,
    /// Whether a repeat opens before it.
    pub(super) opens: bool,
    /// How it ends.
    pub(super) end: MeasureEnd,
    /// What is in it.
    pub(super) figures: Vec<Figure>,
}

/// The bar line after a measure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum MeasureEnd {
    /// The next one goes on.
    Plain,
    /// A pass ends.
    Pass,
    /// The passage is played this many times.
    Repeat(usize),
    /// The line ends.
    Line,
}

/// A written note, double stop or rest.
pub(super) struct Figure {
    /// From the start of the measure.
    pub(super) at: Ticks,
    pub(super) length: NoteLength,
    /// None for a rest, several for a double stop, lowest first.
    pub(super) heads: Vec<Head>,
    /// Whether it is tied to the one before, and so not struck.
    pub(super) tied_in: bool,
    /// Whether it is tied to the next.
    pub(super) tied_out: bool,
    pub(super) dead: bool,
    pub(super) marks: Marks,
    pub(super) stroke: Option<Stroke>,
    pub(super) finger: Option<u8>,
}

/// A note head.
#[derive(Clone, Copy)]
pub(super) struct Head {
    /// As it sounds; where a dead note stands.
    pub(super) pitch: Pitch,
    pub(super) string: Option<u8>,
    pub(super) fret: Option<u8>,
}

/// Passes after each other that are played in the same key.
struct Run {
    /// The first of them, from 1.
    pass: u32,
    times: usize,
}

/// The notes struck in each pass of each section, and its first bar.
#[derive(Default)]
struct Played<'a> {
    strikes: HashMap<(u16, u32), Vec<&'a [ExpectedNote]>>,
    bars: HashMap<(u16, u32), usize>,
}

/// The measures of a line in the order of the score; `expected` is the same line, unrolled.
pub(super) fn measures<'a>(line: &'a Line, expected: &Expected) -> Vec<Measure<'a>> {
    let played = Played::of(expected);
    let mut measures: Vec<Measure<'a>> = Vec::new();
    let mut number = line.bar_range().first;
    for (index, section) in (0..).zip(&line.sections) {
        let pickup = line.pickup && index == 0;
        for run in runs(section, pickup) {
            let first = measures.len();
            let skipped = usize::from(pickup && run.pass > 1);
            let mut writer = PassWriter::new(line, &played, (index, run.pass));
            for (bar, written) in (0..).zip(&section.bars[skipped..]) {
                measures.push(Measure {
                    number,
                    bar: writer.first_bar + bar,
                    section,
                    mark: (run.pass == 1 && bar == 0).then_some(section.name.as_str()),
                    opens: false,
                    end: MeasureEnd::Plain,
                    figures: writer.bar(&written.notes),
                });
                number += 1;
            }
            let opens = first + usize::from(pickup && run.pass == 1);
            if let (Some(measure), true) = (measures.get_mut(opens), run.times > 1) {
                measure.opens = true;
            }
            if let Some(last) = measures.last_mut() {
                last.end = match run.times {
                    1 => MeasureEnd::Pass,
                    times => MeasureEnd::Repeat(times),
                };
            }
        }
    }
    if let Some(last) = measures
        .last_mut()
        .filter(|last| last.end == MeasureEnd::Pass)
    {
        last.end = MeasureEnd::Line;
    }
    measures
}

/// A pickup that is held into the first bar is held into it only once, which no repeat can say.
fn runs(section: &Section, pickup: bool) -> Vec<Run> {
    let ties = |bar: &Bar| bar.notes.last().is_some_and(|note| note.tie);
    let apart = pickup && section.bars.first().is_some_and(ties);
    let alike = |one: &i8, other: &i8| one == other && !apart;
    let mut pass = 1;
    let run = |shifts: &[i8]| {
        let run = Run {
            pass,
            times: shifts.len(),
        };
        pass += shifts.len() as u32;
        run
    };
    section.passes.chunk_by(alike).map(run).collect()
}

impl<'a> Played<'a> {
    fn of(expected: &'a Expected) -> Played<'a> {
        let mut played = Played::default();
        for strike in expected.notes.chunk_by(|one, next| one.group == next.group) {
            let pass = (strike[0].section, strike[0].pass);
            played.strikes.entry(pass).or_default().push(strike);
        }
        for (index, bar) in expected.bars.iter().enumerate() {
            played.bars.entry((bar.section, bar.pass)).or_insert(index);
        }
        played
    }
}

/// Writes the bars of one pass, note by note.
struct PassWriter<'a, 'p> {
    line: &'a Line,
    strikes: std::slice::Iter<'p, &'p [ExpectedNote]>,
    first_bar: usize,
    /// What is held into the next note.
    held: Option<&'p [ExpectedNote]>,
}

impl<'a, 'p> PassWriter<'a, 'p> {
    fn new(line: &'a Line, played: &'p Played<'p>, pass: (u16, u32)) -> PassWriter<'a, 'p> {
        let strikes = played.strikes.get(&pass).map_or(&[][..], Vec::as_slice);
        PassWriter {
            line,
            strikes: strikes.iter(),
            first_bar: played.bars.get(&pass).copied().unwrap_or_default(),
            held: None,
        }
    }

    fn bar(&mut self, notes: &[Note]) -> Vec<Figure> {
        let mut at = Ticks(0);
        let mut figures = Vec::with_capacity(notes.len());
        for note in notes {
            let figure = self.figure(note, at);
            at += note.length.ticks();
            figures.push(figure);
        }
        figures
    }

    fn figure(&mut self, note: &Note, at: Ticks) -> Figure {
        let held = self.held.take();
        let struck = match (&note.place, held) {
            (Place::Rest, _) => &[][..],
            (_, Some(held)) => held,
            (_, None) => self.strikes.next().copied().unwrap_or_default(),
        };
        let tied_out = note.tie && !struck.is_empty();
        self.held = tied_out.then_some(struck);
        let first = struck.first().filter(|_| held.is_none());
        Figure {
            at,
            length: note.length,
            heads: struck.iter().filter_map(|note| self.head(note)).collect(),
            tied_in: held.is_some(),
            tied_out,
            dead: first.is_some_and(|note| note.is.dead),
            marks: if held.is_some() {
                Marks::default()
            } else {
                note.marks
            },
            stroke: first.and_then(|note| note.stroke),
            finger: first.and_then(|note| note.finger),
        }
    }

    /// A dead note stands where its open string does, the lowest where none is named.
    fn head(&self, note: &ExpectedNote) -> Option<Head> {
        if note.is.dead {
            let tuning = &self.line.tuning;
            let named = note
                .string
                .map(|string| tuning.open_string(StringNumber(string)));
            return Some(Head {
                pitch: named.unwrap_or(tuning.open.first().copied())?,
                string: note.string,
                fret: note.string.map(|_| 0),
            });
        }
        note.key?;
        Some(Head {
            pitch: note.name().parse().ok()?,
            string: note.string.filter(|_| note.fret.is_some()),
            fret: note.fret,
        })
    }
}
