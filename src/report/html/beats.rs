//! Offsets by place in the bar.

use super::bounds::PLACES;
use super::heard::Note;
use super::spreads::{self, Group, Kind};
use super::{Material, Section};
use crate::report::words::shortest;
use maud::{Markup, html};
use std::cmp::Reverse;
use std::collections::BTreeMap;

pub(super) fn section(material: &Material) -> Option<Section> {
    let mut places: BTreeMap<i64, Vec<&Note>> = BTreeMap::new();
    for note in material
        .notes
        .iter()
        .filter(|note| note.offset_ms().is_some())
    {
        let beat = note.bar.beat_number(note.note.at);
        places
            .entry((beat * 1e6).round() as i64)
            .or_default()
            .push(note);
    }
    let left_out = fewer(&mut places);
    let groups = places.into_iter().map(|(place, notes)| Group {
        name: shortest(place as f64 / 1e6),
        notes,
    });
    let groups: Vec<Group> = groups.collect();
    let words = html! {
        "The and of one is 1.5, also where it is swung."
        @if left_out > 0 { " " (left_out) " rarer places are left out." }
    };
    let kind = Kind {
        id: "beats-chart",
        title: "Offset by place in the bar",
        axis: "place in the bar, beats",
        words,
    };
    let figure = spreads::figure(material, kind, &groups);
    let content = figure.unwrap_or_else(nothing);
    Some(Section::new("beats", "By place in the bar", content))
}

fn nothing() -> Markup {
    html! { p { "No note has an offset to show." } }
}

/// Keeps the places with the most notes; says how many are gone.
fn fewer(places: &mut BTreeMap<i64, Vec<&Note>>) -> usize {
    let mut counts: Vec<(Reverse<usize>, i64)> = places
        .iter()
        .map(|(place, notes)| (Reverse(notes.len()), *place))
        .collect();
    counts.sort_unstable();
    let gone = counts.split_off(counts.len().min(PLACES));
    for (_, place) in &gone {
        places.remove(place);
    }
    gone.len()
}
