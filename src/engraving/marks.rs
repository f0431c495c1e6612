//! What stands above and below a system: strokes, mutes, fingers, chords, headings, and what a take adds.

use super::columns::{self, LEAD};
use super::figures::Figure;
use super::glyph::Glyph;
use super::placed::PlacedBar;
use super::rows::{self, words};
use super::sections::accidental_signs;
use super::shape::{Anchor, Area, Item, Role, Shape, at, text_width};
use super::sounding::{self, Sounding, TimeAxis};
use super::staff;
use super::system::{Draft, Frame};
use super::take::Spoken;
use crate::expected::chord_names::ChordName;
use crate::page::RowKind;
use std::cmp::Reverse;

pub(super) const CHORD_SIZE: f64 = 2.0;
const HEADING_SIZE: f64 = 1.6;
const NUMBER_SIZE: f64 = 1.3;
const MARK_SIZE: f64 = 1.5;

/// The rows of a system.
pub(super) struct Marks<'f, 'a> {
    pub(super) frame: &'f Frame<'a>,
    pub(super) drafts: &'f [Draft<'a>],
    pub(super) bars: &'f [PlacedBar<'f>],
}

impl Marks<'_, '_> {
    /// Every figure with the middle of its heads.
    fn figures(&self) -> impl Iterator<Item = (&Figure, f64)> {
        self.bars.iter().flat_map(|bar| {
            let figures = bar.figured.figures.iter().zip(&bar.xs);
            figures.map(|(figure, x)| (figure, x + columns::middle(figure)))
        })
    }

    pub(super) fn strokes(&self, items: &mut Vec<Item>) {
        let mutes = self.figures().filter(|(figure, _)| figure.marks.muted);
        let mutes: Vec<Item> = mutes
            .map(|(figure, x)| {
                let style = (MARK_SIZE, Anchor::Middle);
                words(Role::Mute, figure.note(), "m", at(x, 0.0), style)
            })
            .collect();
        rows::above(mutes, -0.3, items);
        if !self.frame.has_strokes {
            return;
        }
        let strokes = self.figures().filter_map(|(figure, x)| {
            let glyph = staff::stroke(figure.marks.stroke?);
            let area = glyph.area();
            let place = at(x - (area.left + area.right) / 2.0, 0.0);
            let shape = Shape::Sign(glyph, place);
            Some(Item::of(figure.note(), Role::Stroke, shape))
        });
        rows::above(strokes.collect(), -0.3, items);
    }

    pub(super) fn fingers(&self, items: &mut Vec<Item>) {
        if !self.frame.has_fingers {
            return;
        }
        let fingers = self.figures().filter_map(|(figure, x)| {
            let finger = figure.marks.finger?.to_string();
            let style = (NUMBER_SIZE, Anchor::Middle);
            Some(words(
                Role::Finger,
                figure.note(),
                finger,
                at(x, 0.0),
                style,
            ))
        });
        rows::below(fingers.collect(), 4.3, items);
    }

    pub(super) fn chords(&self, items: &mut Vec<Item>) {
        let mut row = Vec::new();
        for (draft, bar) in self.drafts.iter().zip(self.bars) {
            for chord in &draft.chords {
                let place = at(chord_x(self.frame, bar, chord), 0.0);
                let text = accidental_signs(&chord.symbol.to_string());
                let style = (CHORD_SIZE, Anchor::Start);
                row.push(words(Role::Chord, None, text, place, style));
            }
        }
        let right = self.bars.last().map_or(0.0, |bar| bar.right);
        spread(&mut row, right.max(self.frame.width));
        rows::above(row, -0.8, items);
    }

    pub(super) fn headings(&self, items: &mut Vec<Item>) {
        let staff = self.frame.prefix.staff();
        let first = self.bars.first().map(|bar| bar.figured.bar);
        let number = first.map(|bar| self.frame.source.expected.bars[bar as usize].number);
        if let Some(number) = number {
            let style = (NUMBER_SIZE, Anchor::Start);
            let item = words(
                Role::BarNumber,
                None,
                number.to_string(),
                at(staff, 0.0),
                style,
            );
            rows::above(vec![item], -0.1, items);
        }
        let Some(heading) = &self.frame.heading else {
            return;
        };
        let wide = text_width(&heading.section, HEADING_SIZE) * 1.06 + 2.0;
        let wide = wide + text_width(&heading.words, HEADING_SIZE);
        let size = HEADING_SIZE * ((self.frame.width - staff) / wide).min(1.0);
        let inside = (size, Anchor::Start);
        let width = text_width(&heading.section, size) * 1.06;
        let frame = Area {
            left: staff,
            right: staff + width + 1.0,
            top: -1.7,
            bottom: 0.6,
        };
        let (first, behind) = (at(staff + 0.5, 0.0), at(frame.right + 0.5, 0.0));
        let row = vec![
            Item::new(Role::Section, Shape::Frame(frame)),
            words(Role::Section, None, heading.section.clone(), first, inside),
            words(Role::Heading, None, heading.words.clone(), behind, inside),
        ];
        // In line with the whole system, not with what happens to stand below.
        let top = items
            .iter()
            .map(|item| item.shape.area().top)
            .fold(0.0, f64::min);
        rows::above(row, top - 0.2, items);
        if let Some((mark, words_of_time)) = &heading.tempo {
            let inside = (HEADING_SIZE, Anchor::Start);
            let note = Shape::Sign(Glyph::QuarterNote, at(staff, 0.0));
            let place = at(staff + Glyph::QuarterNote.width() + 0.5, 0.0);
            let far = place.x + text_width(mark, HEADING_SIZE) + 1.2;
            let row = vec![
                Item::new(Role::Tempo, note),
                words(Role::Tempo, None, mark.clone(), place, inside),
                words(
                    Role::Tempo,
                    None,
                    words_of_time.clone(),
                    at(far, 0.0),
                    inside,
                ),
            ];
            rows::above(row, -2.0, items);
        }
    }

    /// What a take adds, row by row.
    pub(super) fn spoken(&self, low: f64, items: &mut Vec<Item>) {
        let mut all: Vec<(&Spoken, f64)> = Vec::new();
        for (draft, bar) in self.drafts.iter().zip(self.bars) {
            let middle = |one: &Spoken| {
                bar.xs[one.figure] + columns::middle(&bar.figured.figures[one.figure])
            };
            all.extend(draft.spoken.iter().map(|one| (one, middle(one))));
        }
        all.sort_by_key(|(one, _)| one.row);
        for row in all.chunk_by(|(a, _), (b, _)| a.row == b.row) {
            let kind = row[0].0.row;
            let sounding = self.frame.sounding;
            let words = row.iter().flat_map(|(one, x)| one.items(*x, sounding));
            rows::below(words.collect(), low + 0.9, items);
            if let RowKind::Ms(Reverse(lower)) = kind {
                self.sounding(lower, items);
            }
        }
    }

    /// Below the ms of the notes that have so many lower ones beside them: rulers, then lengths.
    fn sounding(&self, lower: u8, items: &mut Vec<Item>) {
        let Sounding::Drawn { window, lean } = self.frame.sounding else {
            return;
        };
        let source = self.frame.source;
        let axis = TimeAxis::of(source, self.bars);
        let (mut rulers, mut lengths) = (Vec::new(), Vec::new());
        for (figure, x) in self.figures().filter(|(figure, _)| figure.is_struck()) {
            if let Some(reading) = sounding::reading(source, figure, lower) {
                rulers.extend(sounding::ruler(reading, x, window, lean));
                lengths.extend(sounding::length(source, reading, &axis));
            }
        }
        rows::below(rulers, 0.0, items);
        rows::below(lengths, 0.0, items);
    }
}

/// Moves words apart that would touch: to the right, and back where that leads over the edge.
fn spread(row: &mut [Item], right: f64) {
    const APART: f64 = 0.5;
    let mut edge = f64::NEG_INFINITY;
    for item in row.iter_mut() {
        let left = item.shape.area().left;
        item.shape.shift((edge - left).max(0.0));
        edge = item.shape.area().right + APART;
    }
    let mut edge = right;
    for item in row.iter_mut().rev() {
        let over = item.shape.area().right - edge;
        item.shape.shift(-over.max(0.0));
        edge = item.shape.area().left - APART;
    }
}

/// Where a chord's place is, between the figures before and after it.
fn chord_x(frame: &Frame<'_>, bar: &PlacedBar<'_>, chord: &ChordName) -> f64 {
    let start = bar.left + LEAD * 0.6;
    let whole = &frame.source.expected.bars[bar.figured.bar as usize];
    if bar.figured.silent {
        let share = chord.at.0 as f64 / whole.length.0.max(1) as f64;
        return start + share * (bar.right - start);
    }
    let figures = &bar.figured.figures;
    let next = figures.partition_point(|figure| figure.at <= chord.at);
    let before = next.saturating_sub(1);
    let from = bar.xs[before];
    let to = bar.xs.get(next).copied().unwrap_or(bar.right);
    let length = figures[before].length.ticks().0.max(1) as f64;
    from + (chord.at - figures[before].at).0 as f64 / length * (to - from)
}
