//! The part laid out for a width, with what drawing asks of it again and again: where each note and rest stands, when.

use super::piece::Piece;
use crate::page::{Layout, Page, Passes, RowKind, Source, System};
use crate::units::{Nanos, TICKS_PER_QUARTER, Ticks};
use std::cmp::Reverse;

/// A page and its places. One of its systems is a line of music.
#[derive(Debug)]
pub(super) struct Sheet {
    pub(super) page: Page,
    /// When each line begins and ends.
    pub(super) times: Vec<(Nanos, Nanos)>,
    /// Notes and rests by time, those of a double stop apart.
    pub(super) steps: Vec<Step>,
    /// Where notes are struck, by time.
    pub(super) places: Vec<Place>,
}

/// A note or a rest on a string.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Step {
    pub(super) onset: Nanos,
    /// Index of the line of music.
    pub(super) line: usize,
    pub(super) string: u8,
    pub(super) column: usize,
    pub(super) width: usize,
    /// Index of the expected note; `None` for a rest.
    pub(super) note: Option<u32>,
}

/// Where something is struck, with what is free under it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Place {
    /// Index of the first expected note, and how many are struck together.
    pub(super) first: u32,
    pub(super) notes: u32,
    pub(super) line: usize,
    pub(super) column: usize,
    /// Columns up to what comes next.
    pub(super) room: usize,
    /// Columns that it should sound for, 1 at the least.
    pub(super) sounding: usize,
}

impl Sheet {
    /// Lays out the piece, with so many characters free under each note.
    pub(super) fn of(piece: &Piece, width: usize, room: usize) -> Sheet {
        let source = Source {
            line: piece.line(),
            expected: piece.expected(),
            fingering: piece.fingering(),
            judgement: None,
        };
        let without = [RowKind::Degree, RowKind::Finger, RowKind::Stroke];
        let layout = Layout {
            width,
            passes: Passes::All,
            bars: None,
            without: without.into(),
            room,
        };
        let page = Page::of(source, &layout);
        let time = |bar: u32, at: Ticks| {
            let start = piece.expected().bars[bar as usize].start;
            piece
                .expected()
                .tempo_map
                .time_at(i128::from((start + at).0), 1)
        };
        let times = page.systems.iter().map(|system| {
            let (first, last) = (system.spans.first(), system.spans.last());
            let from = first.map_or(Nanos::ZERO, |span| time(span.bar, span.at.start));
            let to = last.map_or(Nanos::ZERO, |span| time(span.bar, span.at.end));
            (from, to)
        });
        let mut sheet = Sheet {
            times: times.collect(),
            steps: Vec::new(),
            places: Vec::new(),
            page: Page {
                systems: Vec::new(),
                ..page.clone()
            },
        };
        for (line, system) in page.systems.iter().enumerate() {
            sheet.add_steps(piece, line, system, &time);
            sheet.add_places(piece, line, system);
        }
        sheet.page = page;
        sheet.steps.sort_by_key(|step| (step.onset, step.string));
        sheet
    }

    fn add_steps(
        &mut self,
        piece: &Piece,
        line: usize,
        system: &System,
        time: &impl Fn(u32, Ticks) -> Nanos,
    ) {
        for row in &system.rows {
            let RowKind::String(string) = row.kind else {
                continue;
            };
            self.steps.extend(row.cells.iter().map(|cell| {
                let note = cell.note.map(|note| &piece.expected().notes[note as usize]);
                Step {
                    onset: note.map_or_else(|| time(cell.bar, cell.at), |note| note.onset),
                    line,
                    string,
                    column: cell.column,
                    width: cell.text.chars().count(),
                    note: cell.note,
                }
            }));
        }
    }

    fn add_places(&mut self, piece: &Piece, line: usize, system: &System) {
        let under = |kind: RowKind| system.rows.iter().find(move |row| row.kind == kind);
        let Some(row) = under(RowKind::Ms(Reverse(0))) else {
            return;
        };
        let notes = &piece.expected().notes;
        for (index, cell) in row.cells.iter().enumerate() {
            let Some(first) = cell.note else { continue };
            let lead = &notes[first as usize];
            let span = system
                .spans
                .iter()
                .find(|span| span.columns.contains(&cell.column));
            let end = span.map_or(cell.column, |span| span.columns.end);
            let next = row
                .cells
                .get(index + 1)
                .map_or(end, |next| next.column.min(end));
            let room = next.saturating_sub(cell.column).max(1);
            let written = lead.length.0 as f64 * system.quarter as f64 / TICKS_PER_QUARTER as f64;
            let share = lead.sounding.0 as f64 / lead.written.0.max(1) as f64;
            let together = notes[first as usize..].iter();
            let together = together.take_while(|note| note.group == lead.group);
            self.places.push(Place {
                first,
                notes: together.count() as u32,
                line,
                column: cell.column,
                room,
                sounding: ((written * share).round() as usize).clamp(1, room.max(2) - 1),
            });
        }
    }

    /// Where the line is at a time: the notes and rests that began last; the first ones before it begins.
    pub(super) fn steps_at(&self, now: Nanos) -> &[Step] {
        let after = self.steps.partition_point(|step| step.onset <= now);
        let Some(step) = self.steps.get(after.saturating_sub(1)) else {
            return &[];
        };
        let from = self.steps.partition_point(|other| other.onset < step.onset);
        let to = self
            .steps
            .partition_point(|other| other.onset <= step.onset);
        &self.steps[from..to]
    }

    /// The line that is being played at a time.
    pub(super) fn line_at(&self, now: Nanos) -> usize {
        let after = self.times.partition_point(|(from, _)| *from <= now);
        after.saturating_sub(1)
    }

    /// Line and column of a time, between notes and rests by their distance.
    pub(super) fn column_at(&self, time: Nanos) -> Option<(usize, usize)> {
        let after = self.steps.partition_point(|step| step.onset <= time);
        let before = self.steps.get(after.checked_sub(1)?)?;
        let (_, end) = *self.times.get(before.line)?;
        let system = &self.page.systems[before.line];
        let last = system.spans.last().map_or(0, |span| span.columns.end);
        let next = self
            .steps
            .get(after)
            .filter(|next| next.line == before.line);
        let (to, column) = next.map_or((end, last), |next| (next.onset, next.column));
        let share = (time - before.onset).0 as f64 / (to - before.onset).0.max(1) as f64;
        let columns = column.saturating_sub(before.column) as f64;
        Some((
            before.line,
            before.column + (columns * share.clamp(0.0, 1.0)) as usize,
        ))
    }

    /// Line and column of a written position since bar 1 beat 1.
    pub(super) fn column_of(&self, piece: &Piece, position: Ticks) -> Option<(usize, usize)> {
        let bars = &piece.expected().bars;
        for (line, system) in self.page.systems.iter().enumerate() {
            for span in &system.spans {
                let at = position - bars[span.bar as usize].start;
                if span.at.contains(&at) {
                    return Some((line, system.column(span, at)));
                }
            }
        }
        None
    }
}
