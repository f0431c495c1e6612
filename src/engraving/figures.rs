//! The written figures of each bar: notes, double stops and rests, with the places of their heads on staff and strings.

use super::Part;
use super::accidentals::Accidentals;
use crate::expected::ExpectedNote;
use crate::line::length::NoteLength;
use crate::line::pitch::{Pitch, PitchClass};
use crate::line::tuning::StringNumber;
use crate::line::{Note, Place, Section, Stroke};
use crate::page::Source;
use crate::units::Ticks;

/// The written position of the bottom line of a bass clef, G2, in letters above C0 (from memory, common practice). Bass guitar
/// parts are written an octave above where they sound.
const BOTTOM_LINE: i32 = 2 * 7 + 4;

const WHOLE: NoteLength = NoteLength {
    value: 1,
    dots: 0,
    triplet: false,
};

/// A bar as written.
#[derive(Clone, Debug)]
pub(super) struct FiguredBar {
    /// Index into [`crate::expected::Expected::bars`].
    pub(super) bar: u32,
    pub(super) figures: Vec<Figure>,
    /// Nothing but rests: written as one whole rest in its middle, however long it is.
    pub(super) silent: bool,
}

/// A written note, double stop or rest.
#[derive(Clone, Debug)]
pub(super) struct Figure {
    /// From the start of the bar.
    pub(super) at: Ticks,
    pub(super) length: NoteLength,
    /// None for a rest; lowest first.
    pub(super) heads: Vec<Head>,
    /// Whether it is tied to the one before, and so not struck.
    pub(super) tied_in: bool,
    pub(super) tied_out: bool,
    /// How it is played; nothing where it is tied in.
    pub(super) marks: FigureMarks,
}

/// What stands around a figure.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct FigureMarks {
    pub(super) short: bool,
    pub(super) full: bool,
    pub(super) muted: bool,
    pub(super) accent: bool,
    pub(super) stroke: Option<Stroke>,
    pub(super) finger: Option<u8>,
}

/// A note head.
#[derive(Clone, Copy, Debug)]
pub(super) struct Head {
    /// Index of the expected note.
    pub(super) note: u32,
    /// Half spaces above the bottom line.
    pub(super) position: i32,
    /// Sharps that it needs a sign for, negative for flats.
    pub(super) accidental: Option<i8>,
    pub(super) dead: bool,
    pub(super) optional: bool,
    /// 1 = highest.
    pub(super) string: u8,
    pub(super) fret: Option<u8>,
}

impl Figure {
    /// Whether it is struck: neither a rest nor tied to the one before.
    pub(super) fn is_struck(&self) -> bool {
        !self.is_rest() && !self.tied_in
    }

    /// The expected note it belongs to, the lowest of several.
    pub(super) fn note(&self) -> Option<u32> {
        self.heads.first().map(|head| head.note)
    }

    pub(super) fn is_rest(&self) -> bool {
        self.heads.is_empty()
    }

    /// Flags or beams: 1 for an eighth.
    pub(super) fn flags(&self) -> usize {
        match self.length.value {
            8 => 1,
            16 => 2,
            32 => 3,
            _ => 0,
        }
    }

    pub(super) fn lowest(&self) -> i32 {
        self.heads
            .iter()
            .map(|head| head.position)
            .min()
            .unwrap_or(4)
    }

    pub(super) fn highest(&self) -> i32 {
        self.heads
            .iter()
            .map(|head| head.position)
            .max()
            .unwrap_or(4)
    }
}

/// The bars that a part shows, in playing order.
pub(super) fn figured(source: Source<'_>, part: &Part) -> Vec<FiguredBar> {
    let mut number = source.line.bar_range().first;
    let first = |section: &Section| {
        let first = number;
        number += section.bars.len() as u32;
        first
    };
    let mut reader = Reader {
        source,
        firsts: source.line.sections.iter().map(first).collect(),
        struck: (0, 0),
        string: source.expected.strings.len() as u8,
        position: 4,
    };
    let heard = crate::page::bars_heard(source, source.expected.bars.len());
    let bars = (0..heard as u32).map(|bar| reader.bar(bar));
    let mut bars: Vec<FiguredBar> = bars.collect();
    bars.retain(|bar| part.has(&source.expected.bars[bar.bar as usize]));
    bars
}

/// Goes through the written bars and their expected notes side by side.
struct Reader<'a> {
    source: Source<'a>,
    /// The number of each section's first bar.
    firsts: Vec<u32>,
    /// The notes struck last: the first, and how many.
    struck: (usize, usize),
    /// The string and the position of the note before, for one that has none.
    string: u8,
    position: i32,
}

impl Reader<'_> {
    fn bar(&mut self, index: u32) -> FiguredBar {
        let (line, expected) = (self.source.line, self.source.expected);
        let bar = &expected.bars[index as usize];
        let section = usize::from(bar.section);
        let written = &line.sections[section].bars[(bar.number - self.firsts[section]) as usize];
        let shift = line.sections[section].passes[bar.pass as usize - 1];
        let key = line.sections[section].key.or(line.key);
        let mut accidentals = Accidentals::of(key.map(|key| key.shifted(shift)));
        let mut at = Ticks(0);
        let mut figures = Vec::with_capacity(written.notes.len());
        for note in &written.notes {
            figures.push(self.figure(index, at, note, &mut accidentals));
            at += note.length.ticks();
        }
        let silent = figures.iter().all(Figure::is_rest);
        if silent {
            figures.truncate(1);
            figures[0].length = WHOLE;
        }
        FiguredBar {
            bar: index,
            figures,
            silent,
        }
    }

    fn figure(&mut self, bar: u32, at: Ticks, note: &Note, signs: &mut Accidentals) -> Figure {
        let mut figure = Figure {
            at,
            length: note.length,
            heads: Vec::new(),
            tied_in: false,
            tied_out: note.tie,
            marks: FigureMarks::default(),
        };
        if note.place == Place::Rest {
            return figure;
        }
        let notes = &self.source.expected.notes;
        let first = notes.partition_point(|note| (note.bar, note.at) < (bar, at));
        let is_here = |note: &&ExpectedNote| (note.bar, note.at) == (bar, at);
        match notes[first..].iter().take_while(is_here).count() {
            0 => figure.tied_in = true,
            count => self.struck = (first, count),
        }
        if !figure.tied_in {
            figure.marks = FigureMarks {
                short: note.marks.short,
                full: note.marks.full,
                muted: note.marks.muted,
                accent: note.marks.accent,
                stroke: notes[first].stroke,
                finger: notes[first].finger,
            };
        }
        let mut used = Vec::new();
        let struck = notes.iter().enumerate().skip(self.struck.0);
        for (index, note) in struck.take(self.struck.1) {
            let mut head = self.head(index, &used);
            used.push(head.string);
            if let Some(pitch) = pitch(note) {
                head.accidental = signs.needed(pitch, figure.tied_in);
            }
            figure.heads.push(head);
        }
        figure.heads.sort_by_key(|head| head.position);
        if let Some(lowest) = figure.heads.first() {
            (self.string, self.position) = (lowest.string, lowest.position);
        }
        figure
    }

    fn head(&self, index: usize, used: &[u8]) -> Head {
        let note = &self.source.expected.notes[index];
        let place = &self.source.fingering.places[index];
        let lowest = self.source.expected.strings.len() as u8;
        let wished = place.string.or(note.string).unwrap_or(self.string);
        let mut free = [wished].into_iter().chain((1..=lowest).rev());
        Head {
            note: index as u32,
            position: pitch(note).map_or_else(|| self.dead_position(note), position),
            accidental: None,
            dead: note.is.dead,
            optional: note.is.optional,
            string: free.find(|string| !used.contains(string)).unwrap_or(wished),
            fret: place.fret.or(note.fret),
        }
    }

    /// A dead note stands where its open string does; without one, where the note before it does.
    fn dead_position(&self, note: &ExpectedNote) -> i32 {
        let open = note
            .string
            .and_then(|string| self.source.line.tuning.open_string(StringNumber(string)));
        open.map_or(self.position, position)
    }
}

/// The spelled sounding pitch; `None` for a dead note.
fn pitch(note: &ExpectedNote) -> Option<Pitch> {
    note.key?;
    note.name().parse().ok()
}

/// Half spaces above the bottom line, an octave above where it sounds.
fn position(pitch: Pitch) -> i32 {
    step(pitch.class, pitch.octave) + 7 - BOTTOM_LINE
}

/// Letters above C0.
pub(super) fn step(class: PitchClass, octave: i8) -> i32 {
    i32::from(octave) * 7 + i32::from(class.letter)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(pitch: &str) -> i32 {
        position(pitch.parse().expect(pitch))
    }

    /// The open strings of a bass as they are written in bass clef: E below the first ledger line's space, A in the first space,
    /// D on the middle line, G in the fourth space (common practice, from memory).
    #[test]
    fn open_strings_stand_where_bassists_read_them() {
        assert_eq!((at("E1"), at("A1"), at("D2"), at("G2")), (-2, 1, 4, 7));
        assert_eq!((at("B0"), at("C3"), at("B#1"), at("Cb2")), (-5, 10, 2, 3));
    }
}
