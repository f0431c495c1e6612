//! The hands: offsets by string, by stroke, by finger. What the line names and what is only likely are told apart.

use super::heard::Note;
use super::spreads::{self, Group, Kind};
use super::{Material, Section};
use crate::fingering::Source;
use crate::line::Stroke;
use maud::{Markup, html};
use std::collections::BTreeMap;

pub(super) fn section(material: &Material) -> Option<Section> {
    let content = html! {
        h3 { "By string" }
        (strings(material))
        h3 { "By stroke" }
        (strokes(material))
        h3 { "By finger" }
        (fingers(material))
    };
    Some(Section::new("hands", "Strings, strokes, fingers", content))
}

const LIKELY: &str = "Likely: the line does not say, and this is the easiest way to play it.";

fn is_likely(source: Source) -> bool {
    source == Source::Likely
}

/// Notes with an offset by a key, in its order; of those that have none.
fn groups<'m, K: Ord>(
    material: &'m Material,
    key: impl Fn(&Note) -> Option<K>,
    name: impl Fn(&K) -> String,
) -> Vec<Group<'m>> {
    let mut groups: BTreeMap<K, Vec<&Note>> = BTreeMap::new();
    for note in &material.notes {
        if let (Some(key), Some(_)) = (key(note), note.offset_ms()) {
            groups.entry(key).or_default().push(note);
        }
    }
    let groups = groups.into_iter();
    groups
        .map(|(key, notes)| Group {
            name: name(&key),
            notes,
        })
        .collect()
}

fn strings(material: &Material) -> Markup {
    let names = &material.checked.expected.strings;
    let key = |note: &Note| {
        let source = note.placed.source;
        Some((note.placed.string.or(note.note.string)?, is_likely(source)))
    };
    let name = |(string, likely): &(u8, bool)| {
        let index = usize::from(*string).saturating_sub(1);
        named(names.get(index).map_or("?", String::as_str), *likely)
    };
    let kind = Kind {
        id: "strings-chart",
        title: "Offset by string",
        axis: "string, the highest first",
        words: html! { (LIKELY) },
    };
    spreads::figure(material, kind, &groups(material, key, name)).unwrap_or_else(nothing)
}

fn strokes(material: &Material) -> Markup {
    let key = |note: &Note| note.note.stroke.map(|stroke| stroke == Stroke::Up);
    let name = |up: &bool| if *up { "up" } else { "down" }.to_string();
    let kind = Kind {
        id: "strokes-chart",
        title: "Offset by stroke",
        axis: "stroke, as written",
        words: Markup::default(),
    };
    let figure = spreads::figure(material, kind, &groups(material, key, name));
    figure.unwrap_or_else(|| html! { p { "The line does not write strokes." } })
}

fn fingers(material: &Material) -> Markup {
    let key = |note: &Note| match note.note.finger {
        Some(finger) => Some((finger, false)),
        None => note.placed.finger.map(|finger| (finger, true)),
    };
    let name = |(finger, likely): &(u8, bool)| match finger {
        0 => named("open", *likely),
        finger => named(&finger.to_string(), *likely),
    };
    let kind = Kind {
        id: "fingers-chart",
        title: "Offset by fretting finger",
        axis: "fretting finger",
        words: html! { (LIKELY) },
    };
    spreads::figure(material, kind, &groups(material, key, name)).unwrap_or_else(nothing)
}

fn named(name: &str, is_likely: bool) -> String {
    let source = if is_likely { "likely" } else { "written" };
    format!("{name}, {source}")
}

fn nothing() -> Markup {
    html! { p { "No note has an offset to show." } }
}
