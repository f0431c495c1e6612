//! A system: bars side by side with everything above and below them.

use super::breaking;
use super::columns::{Column, LEAD};
use super::figures::FiguredBar;
use super::marks::Marks;
use super::placed::{Grouping, PlacedBar};
use super::prefix::Prefix;
use super::shape::{Item, Role, Shape, at};
use super::take::Spoken;
use super::{BarPlace, Sounding, System, describe, staff, tablature, ties};
use crate::expected::chord_names::ChordName;
use crate::page::Source;

const THIN: f64 = 0.16;
const THICK: f64 = 0.5;
const STAFF_LINE: f64 = 0.11;

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
    pub(super) sounding: Sounding,
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
    let marks = Marks {
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
