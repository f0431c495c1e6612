//! Offsets in groups, side by side: by beat, string, stroke, finger.

use super::figure::Figure;
use super::heard::Note;
use super::offsets::{offset_axis, signed, window};
use super::table::{Table, text};
use super::{Material, bounds, legend};
use crate::chart::strips::quartiles;
use crate::chart::{Ink, Strip, Strips};
use crate::judge::summary::mean_and_sd;
use maud::{Markup, html};

/// Notes of one kind.
pub(super) struct Group<'n> {
    pub(super) name: String,
    pub(super) notes: Vec<&'n Note<'n>>,
}

/// What groups are, and how they are told.
pub(super) struct Kind {
    pub(super) id: &'static str,
    pub(super) title: &'static str,
    /// The axis below, with its unit where it has one.
    pub(super) axis: &'static str,
    /// What else is said below the chart.
    pub(super) words: Markup,
}

/// The chart of groups of notes that have an offset; none without any.
pub(super) fn figure(material: &Material, kind: Kind, groups: &[Group]) -> Option<Markup> {
    let all = || groups.iter().flat_map(|group| group.notes.iter().copied());
    let count = all().count();
    if count == 0 {
        return None;
    }
    let step = bounds::step(count);
    let strip = |group: &Group| Strip {
        name: group.name.clone(),
        count: group.notes.len(),
        quartiles: quartiles(&offsets(group)),
        values: group
            .notes
            .iter()
            .step_by(step)
            .filter_map(|note| Some((note.offset_ms()?, note.timing_mark())))
            .collect(),
    };
    let (low, high) = window(material);
    let strips = Strips {
        x_label: kind.axis.into(),
        y: offset_axis(material, all()),
        window: Some((low, high)),
        lines: vec![(0.0, Ink::Target)],
        strips: groups.iter().map(strip).collect(),
    };
    let inside = format!("inside the window, {low:+.0} to {high:+.0} ms");
    let figure = Figure {
        id: kind.id,
        title: kind.title.into(),
        caption: html! {
            (legend::timing(&inside))
            " Box: the middle half of a group, from five notes on; thick line: its middle. n: how many notes. "
            (kind.words)
            @if let Some(words) = bounds::thinned(count) { " " (words) }
        },
        drawing: strips.draw(),
        numbers: numbers(kind.axis, groups),
    };
    Some(figure.markup())
}

fn offsets(group: &Group) -> Vec<f64> {
    let notes = group.notes.iter();
    notes.filter_map(|note| note.offset_ms()).collect()
}

fn numbers(axis: &str, groups: &[Group]) -> Table {
    let mut table = Table::new(&[
        axis,
        "notes",
        "mean, ms",
        "spread, ms",
        "lower quarter, ms",
        "middle, ms",
        "upper quarter, ms",
    ]);
    for group in groups {
        let offsets = offsets(group);
        let (mean, sd) = mean_and_sd(offsets.iter().copied());
        let ms = |ms: Option<f64>| ms.map_or_else(String::new, signed);
        let quarters = quartiles(&offsets);
        let quarter = |index: usize| ms(quarters.map(|quarters| quarters[index]));
        table.row(vec![
            text(&group.name),
            text(offsets.len().to_string()),
            text(ms(mean)),
            text(sd.map_or_else(String::new, |sd| format!("{sd:.0}"))),
            text(quarter(0)),
            text(quarter(1)),
            text(quarter(2)),
        ]);
    }
    table
}
