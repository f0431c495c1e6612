//! Rows of words and signs above the staff and below the strings: each as near as what stands under (or over) it allows.

use super::shape::{Anchor, Area, Item, Point, Role, Shape};

/// Between a row and what it clears.
const CLEAR: f64 = 0.45;

/// Lifts the items of a row, which stand on y = 0, so that they clear what is there, and adds them. Nothing of them is lower than `lowest`.
pub(super) fn above(row: Vec<Item>, lowest: f64, items: &mut Vec<Item>) {
    let areas: Vec<Area> = row.iter().map(|item| item.shape.area()).collect();
    let y = areas.iter().fold(f64::INFINITY, |y, area| {
        let below = under(area, items).map(|other| other.top);
        y.min(below.fold(lowest, f64::min) - CLEAR - area.bottom)
    });
    add(row, y, items);
}

/// Lowers the items of a row so that they clear what is there, and adds them. Nothing of them is higher than `highest`.
pub(super) fn below(row: Vec<Item>, highest: f64, items: &mut Vec<Item>) {
    let areas: Vec<Area> = row.iter().map(|item| item.shape.area()).collect();
    let y = areas.iter().fold(f64::NEG_INFINITY, |y, area| {
        let over = under(area, items).map(|other| other.bottom);
        y.max(over.fold(highest, f64::max) + CLEAR - area.top)
    });
    add(row, y, items);
}

fn under<'a>(area: &'a Area, items: &'a [Item]) -> impl Iterator<Item = Area> + 'a {
    let areas = items.iter().map(|item| item.shape.area());
    areas.filter(|other| other.left < area.right + CLEAR && area.left < other.right + CLEAR)
}

fn add(row: Vec<Item>, y: f64, items: &mut Vec<Item>) {
    items.extend(row.into_iter().map(|mut item| {
        item.shape.lower(y);
        item
    }));
}

/// Words on a place.
pub(super) fn words(
    role: Role,
    note: Option<u32>,
    text: impl Into<String>,
    at: Point,
    (size, anchor): (f64, Anchor),
) -> Item {
    let shape = Shape::Text {
        text: text.into(),
        at,
        size,
        anchor,
    };
    Item::of(note, role, shape)
}
