//! A system whose notes can be pointed at: each is a group with an id, a title that shows under the pointer, and a frame that a
//! style sheet may light up.

use super::System;
use super::shape::{Area, Item, Role};
use super::svg::{draw, number, plain};
use maud::{Markup, html};
use std::collections::BTreeMap;

/// What is said of a note where it is pointed at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoteLabel {
    /// In words.
    pub title: String,
    /// Classes of its group.
    pub class: String,
}

/// The id of a note's group, for links.
pub fn note_id(note: u32) -> String {
    format!("note-{note}")
}

/// Half the width of a note's frame, in spaces.
const HALF_FRAME: f64 = 1.55;

/// One system, the outlines elsewhere ([`super::svg::outlines`]); `order` tells it from the others of its page. The drawing is one
/// picture to a screen reader: what its notes say must also stand in words.
pub fn system(system: &System, order: usize, label: impl Fn(u32) -> NoteLabel) -> Markup {
    let view = format!("0 0 {} {}", number(system.width), number(system.height));
    let (title, words) = (format!("t{order}"), format!("d{order}"));
    let notes = by_note(&system.items);
    html! {
        svg xmlns="http://www.w3.org/2000/svg" class="system" role="img" viewBox=(view)
            aria-labelledby=(title) aria-describedby=(words) {
            title id=(title) { (system.title) }
            desc id=(words) { (plain(&system.description)) }
            @for item in system.items.iter().filter(|item| item.note.is_none()) { (draw(item)) }
            @for (note, items) in &notes { (group(*note, items, &label(*note))) }
        }
    }
}

fn by_note(items: &[Item]) -> BTreeMap<u32, Vec<&Item>> {
    let mut notes: BTreeMap<u32, Vec<&Item>> = BTreeMap::new();
    for item in items {
        if let Some(note) = item.note {
            notes.entry(note).or_default().push(item);
        }
    }
    notes
}

/// A note tied over a system's end has a group in both; the id is that of the one where it is struck.
fn group(note: u32, items: &[&Item], label: &NoteLabel) -> Markup {
    let frame = frame(items);
    let is_struck = items.iter().any(|item| item.role == Role::Asked);
    html! {
        g class={ "played-note " (label.class) } id=[is_struck.then(|| note_id(note))] {
            title { (plain(&label.title)) }
            rect class="frame" fill="none" stroke="none" pointer-events="all" rx="6" x=(number(frame.left)) y=(number(frame.top))
                width=(number(frame.right - frame.left)) height=(number(frame.bottom - frame.top)) {}
            @for item in items { (draw(item)) }
        }
    }
}

/// Around the column of a note, as high as all that belongs to it.
fn frame(items: &[&Item]) -> Area {
    let areas = items.iter().map(|item| item.shape.area());
    let head = items.iter().find(|item| item.role == Role::Head);
    let first = head.or(items.first());
    let middle = first.map_or(0.0, |item| {
        let area = item.shape.area();
        (area.left + area.right) / 2.0
    });
    Area {
        left: middle - HALF_FRAME,
        right: middle + HALF_FRAME,
        top: areas
            .clone()
            .map(|area| area.top)
            .fold(f64::INFINITY, f64::min)
            - 0.3,
        bottom: areas
            .map(|area| area.bottom)
            .fold(f64::NEG_INFINITY, f64::max)
            + 0.3,
    }
}
