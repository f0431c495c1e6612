//! A system: bars side by side with everything above and below them.

use super::breaking;
use super::columns::{self, Column, LEAD};
use super::figures::{Figure, FiguredBar};
use super::glyph::Glyph;
use super::placed::{Grouping, PlacedBar};
use super::prefix::Prefix;
use super::rows::{self, words};
use super::shape::{Anchor, Area, Item, Role, Shape, at, text_width};
use super::take::Spoken;
use super::{BarPlace, System, describe, staff, tablature, ties};
use crate::expected::chord_names::ChordName;
use crate::page::Source;

const THIN: f64 = 0.16;
const THICK: f64 = 0.5;
const STAFF_LINE: f64 = 0.11;
pub(super) const CHORD_SIZE: f64 = 2.0;
const HEADING_SIZE: f64 = 1.6;
const NUMBER_SIZE: f64 = 1.3;
const MARK_SIZE: f64 = 1.5;

/// A bar before it has a place.
pub(super) struct Draft<'a> {
    pub(super) figured: FiguredBar,
    pub(super) grouping: Grouping,
    pub(super) columns: Vec<Column>,
    pub(super) chords: Vec<&'a ChordName>,
    pub(super) spoken: Vec<Spoken>,
}

/// How a system stands among the others.
pub(super) struct Frame<'a> {
    pub(super) source: Source<'a>,
    pub(super) prefix: Prefix,
    pub(super) heading: Option<Heading>,
    pub(super) width: f64,
    pub(super) end: SystemEnd,
    /// Whether it may be shorter than the page.
    pub(super) is_last: bool,
    pub(super) has_fingers: bool,
    pub(super) has_strokes: bool,
}

/// What stands above the first system of a section.
pub(super) struct Heading {
    pub(super) section: String,
    pub(super) words: String,
    /// `= 126` and what else is said of the time; nothing where nothing new is.
    pub(super) tempo: Option<(String, String)>,
}

/// The bar line after a system.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum SystemEnd {
    Plain,
    Section,
    Line,
}

/// Lays out a system.
pub(super) fn lay_out(frame: &Frame<'_>, drafts: &[Draft<'_>]) -> System {
    let bars = place(frame, drafts);
    let right = bars.last().map_or(frame.prefix.width(), |bar| bar.right);
    let mut items = Vec::new();
    for line in 0..5 {
        let y = f64::from(line);
        items.push(line_item(Role::StaffLine, frame.prefix.staff()..right, y));
    }
    bars.iter().for_each(|bar| staff::draw(bar, &mut items));
    rings(drafts, &mut items);
    ties::draw(&bars, frame.prefix.width() + 0.3, &mut items);
    let mut marks = Marks {
        frame,
        drafts,
        bars: &bars,
    };
    marks.strokes(&mut items);
    marks.fingers(&mut items);
    let bottom = items.iter().map(|item| item.shape.area().bottom);
    let top = bottom.fold(4.0 + 1.2, f64::max) + 1.6;
    let strings = frame.source.expected.strings.len();
    for string in 0..strings {
        let y = top + tablature::STEP * string as f64;
        items.push(line_item(Role::StringLine, frame.prefix.staff()..right, y));
    }
    bars.iter()
        .for_each(|bar| tablature::draw(bar, top, &mut items));
    frame.prefix.draw(top, &mut items);
    let low = top + tablature::height(strings);
    bar_lines(frame, &bars, [0.0..4.0, top..low], &mut items);
    marks.chords(&mut items);
    marks.headings(&mut items);
    marks.spoken(low, &mut items);
    finish(frame, drafts, &bars, items)
}

fn place<'a>(frame: &Frame<'_>, drafts: &'a [Draft<'_>]) -> Vec<PlacedBar<'a>> {
    let columns: Vec<&[Column]> = drafts
        .iter()
        .map(|draft| draft.columns.as_slice())
        .collect();
    let room = frame.width - frame.prefix.width();
    let stretch = match frame.is_last {
        true => breaking::last_stretch(&columns, room),
        false => breaking::stretch(&columns, room),
    };
    let mut left = frame.prefix.width();
    let place = drafts.iter().map(|draft| {
        let mut x = left + LEAD + draft.columns.first().map_or(0.0, |first| first.left);
        let mut xs = Vec::with_capacity(draft.columns.len());
        for column in &draft.columns {
            xs.push(x);
            x += breaking::given(column, stretch);
        }
        let bar = PlacedBar::new(&draft.figured, &draft.grouping, xs, left..x);
        left = x;
        bar
    });
    place.collect()
}

fn line_item(role: Role, x: std::ops::Range<f64>, y: f64) -> Item {
    let shape = Shape::Line {
        from: at(x.start, y),
        to: at(x.end, y),
        thickness: STAFF_LINE,
    };
    Item::new(role, shape)
}

/// A ring around each head that was not played.
fn rings(drafts: &[Draft<'_>], items: &mut Vec<Item>) {
    let spoken = drafts.iter().flat_map(|draft| &draft.spoken);
    let missed: Vec<u32> = spoken.filter_map(Spoken::missed).collect();
    let heads = items.iter().filter(|item| item.role == Role::Head);
    let heads = heads.filter(|item| item.note.is_some_and(|note| missed.contains(&note)));
    let ring = |item: &Item| {
        let area = item.shape.area();
        let middle = at(
            (area.left + area.right) / 2.0,
            (area.top + area.bottom) / 2.0,
        );
        Item::of(item.note, Role::Missed, Shape::Ring(middle, 1.05))
    };
    let rings: Vec<Item> = heads.map(ring).collect();
    items.extend(rings);
}

fn bar_lines(
    frame: &Frame<'_>,
    bars: &[PlacedBar<'_>],
    staves: [std::ops::Range<f64>; 2],
    items: &mut Vec<Item>,
) {
    let mut line = |x: f64, y: std::ops::Range<f64>, thickness: f64| {
        let shape = Shape::Line {
            from: at(x, y.start),
            to: at(x, y.end),
            thickness,
        };
        items.push(Item::new(Role::BarLine, shape));
    };
    let left = frame.prefix.staff() + THIN / 2.0;
    line(left, staves[0].start..staves[1].end, THIN);
    for (index, bar) in bars.iter().enumerate() {
        let is_last = index + 1 == bars.len();
        let x = bar.right - THIN / 2.0;
        for staff in &staves {
            match frame.end {
                SystemEnd::Section if is_last => {
                    line(x - 0.45, staff.clone(), THIN);
                    line(x, staff.clone(), THIN);
                }
                SystemEnd::Line if is_last => {
                    line(x - 0.75, staff.clone(), THIN);
                    line(bar.right - THICK / 2.0, staff.clone(), THICK);
                }
                _ => line(x, staff.clone(), THIN),
            }
        }
    }
}

/// The rows of a system.
struct Marks<'f, 'a> {
    frame: &'f Frame<'a>,
    drafts: &'f [Draft<'a>],
    bars: &'f [PlacedBar<'f>],
}

impl Marks<'_, '_> {
    /// Every figure with the middle of its heads.
    fn figures(&self) -> impl Iterator<Item = (&Figure, f64)> {
        self.bars.iter().flat_map(|bar| {
            let figures = bar.figured.figures.iter().zip(&bar.xs);
            figures.map(|(figure, x)| (figure, x + columns::middle(figure)))
        })
    }

    fn strokes(&mut self, items: &mut Vec<Item>) {
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

    fn fingers(&mut self, items: &mut Vec<Item>) {
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

    fn chords(&mut self, items: &mut Vec<Item>) {
        let mut row = Vec::new();
        for (draft, bar) in self.drafts.iter().zip(self.bars) {
            for chord in &draft.chords {
                let place = at(chord_x(self.frame, bar, chord), 0.0);
                let text = super::accidental_signs(&chord.symbol.to_string());
                let style = (CHORD_SIZE, Anchor::Start);
                row.push(words(Role::Chord, None, text, place, style));
            }
        }
        let right = self.bars.last().map_or(0.0, |bar| bar.right);
        spread(&mut row, right.max(self.frame.width));
        rows::above(row, -0.8, items);
    }

    fn headings(&mut self, items: &mut Vec<Item>) {
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
    fn spoken(&mut self, low: f64, items: &mut Vec<Item>) {
        let mut all: Vec<(&Spoken, f64)> = Vec::new();
        for (draft, bar) in self.drafts.iter().zip(self.bars) {
            let middle = |one: &Spoken| {
                bar.xs[one.figure] + columns::middle(&bar.figured.figures[one.figure])
            };
            all.extend(draft.spoken.iter().map(|one| (one, middle(one))));
        }
        all.sort_by_key(|(one, _)| one.row);
        for row in all.chunk_by(|(a, _), (b, _)| a.row == b.row) {
            let row = row.iter().flat_map(|(one, x)| one.items(*x)).collect();
            rows::below(row, low + 0.9, items);
        }
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

/// Moves everything so that the highest item is at 0.
fn finish(
    frame: &Frame<'_>,
    drafts: &[Draft<'_>],
    bars: &[PlacedBar<'_>],
    mut items: Vec<Item>,
) -> System {
    const MARGIN: f64 = 0.3;
    let areas = || items.iter().map(|item| item.shape.area());
    let top = areas().map(|area| area.top).fold(0.0, f64::min) - MARGIN;
    let bottom = areas().map(|area| area.bottom).fold(4.0, f64::max) + MARGIN;
    let right = areas().map(|area| area.right).fold(frame.width, f64::max);
    items.iter_mut().for_each(|item| item.shape.lower(-top));
    let places = bars.iter().map(|bar| BarPlace {
        bar: bar.figured.bar,
        left: bar.left,
        right: bar.right,
    });
    System {
        width: right,
        height: bottom - top,
        staff: -top,
        bars: places.collect(),
        description: describe::system(frame.source, drafts),
        title: describe::title(frame.source, drafts),
        items,
    }
}
