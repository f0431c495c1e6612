//! Lengths against what is written, and what rang over.

use super::figure::Figure;
use super::heard::Note;
use super::offsets::{divisions, time_axis};
use super::table::{Table, text};
use super::{Material, Section, bounds, legend};
use crate::chart::strips::quartiles;
use crate::chart::{Axis, Curve, Ink, Mark, Scatter, Strip, Strips};
use crate::judge::Length;
use crate::judge::summary::mean_and_sd;
use crate::report::words::bar_name;
use maud::{Markup, html};

/// What is shorter or longer than that is drawn at the edge, in percent of what is written.
const DRAWN_PERCENT: [f64; 2] = [10.0, 1000.0];
const LABELLED_PERCENT: [f64; 7] = [10.0, 25.0, 50.0, 100.0, 200.0, 400.0, 1000.0];

pub(super) fn section(material: &Material) -> Option<Section> {
    let known = |note: &&Note| note.length().is_some() && note.asked_ms() > 0.0;
    let known: Vec<&Note> = material.notes.iter().filter(known).collect();
    let content = if known.is_empty() {
        html! { p { "No note has a length to show." } }
    } else {
        html! {
            (lengths(material, &known).markup())
            h3 { "Ring-overs" }
            (rings(material, &known))
        }
    };
    Some(Section::new("lengths", "Lengths and ring-overs", content))
}

fn percent(note: &Note) -> f64 {
    100.0 * note.sounded_ms().unwrap_or(0.0) / note.asked_ms()
}

fn lengths(material: &Material, known: &[&Note]) -> Figure {
    let x = time_axis(material);
    let y = percent_axis(known);
    let shown = known.iter().step_by(bounds::step(known.len()));
    let scatter = Scatter {
        marks: shown
            .map(|note| (note.time_s(), drawn(note).ln(), note.length_mark()))
            .collect(),
        window: None,
        curves: vec![Curve::level(100f64.ln(), &x, Ink::Target)],
        divisions: divisions(material),
        x,
        y,
    };
    Figure {
        id: "lengths-chart",
        title: "Length of each note over time".into(),
        caption: caption(material, known),
        drawing: scatter.draw(),
        numbers: by_bar(material, known),
    }
}

/// The length on a logarithmic axis: twice as long is as far from what is written as half as long.
fn drawn(note: &Note) -> f64 {
    let [least, most] = DRAWN_PERCENT;
    percent(note).clamp(least, most)
}

fn percent_axis(known: &[&Note]) -> Axis {
    let values = known.iter().map(|note| drawn(note)).chain([50.0, 200.0]);
    let (low, high) = values.fold((f64::INFINITY, 0f64), |(low, high), value| {
        (low.min(value), high.max(value))
    });
    let (low, high) = ((low / 1.1).ln(), (high * 1.1).ln());
    let ticks = LABELLED_PERCENT
        .map(|percent| (percent.ln(), format!("{percent:.0}")))
        .into_iter()
        .filter(|tick| (low..=high).contains(&tick.0));
    let label = "length, % of what is written (log)";
    Axis::exact(label, low, high, ticks.collect())
}

fn caption(material: &Material, known: &[&Note]) -> Markup {
    let windows = &material.checked.settings.windows;
    let beyond = known
        .iter()
        .filter(|note| drawn(note) != percent(note))
        .count();
    html! {
        (legend::signs(&[
            ("disc", "●", "as written"),
            ("early", "▼", "short"),
            ("late", "▲", "long"),
            ("late", "◆", "rings over"),
        ]))
        " 100 % is the written length less its usual gap. As written: within " (format!("{:.0}", windows.length.ms())) " ms or "
        (format!("{:.0}", 100.0 * windows.length_share)) " %, whichever is more; for notes marked short, a quarter to two thirds of the written value. "
        @if beyond > 0 { (beyond) " stand at the edge, below 10 or beyond 1000 %. " }
        @if let Some(words) = bounds::thinned(known.len()) { (words) }
    }
}

fn by_bar(material: &Material, known: &[&Note]) -> Table {
    let mut table = Table::new(&[
        "bar",
        "notes",
        "as written",
        "short",
        "long",
        "ring over",
        "mean length, %",
    ]);
    for bar in known.chunk_by(|one, next| one.note.bar == next.note.bar) {
        let count = |length: Length| {
            let same = bar.iter().filter(|note| note.length() == Some(length));
            text(same.count().to_string())
        };
        let mean = mean_and_sd(bar.iter().map(|note| percent(note))).0;
        table.row(vec![
            text(bar_name(material.checked.expected, bar[0].bar)),
            text(bar.len().to_string()),
            count(Length::In),
            count(Length::Short),
            count(Length::Long),
            count(Length::Rings),
            text(mean.map_or_else(String::new, |mean| format!("{mean:.0}"))),
        ]);
    }
    table
}

fn rings(material: &Material, known: &[&Note]) -> Markup {
    let (rests, notes): (Vec<&Note>, Vec<&Note>) = known
        .iter()
        .copied()
        .filter(|note| note.ring_ms().is_some())
        .partition(|note| note.note.rest_at.is_some());
    if rests.is_empty() && notes.is_empty() {
        return html! { p { "No note sounded into the next one or into a rest." } };
    }
    let groups = [("into the next note", notes), ("into a rest", rests)];
    let limit = material.checked.settings.windows.ring.ms();
    let values = groups
        .iter()
        .flat_map(|group| &group.1)
        .filter_map(|note| note.ring_ms());
    let y = Axis::linear("ring-over, ms", values.chain([0.0, limit]), |ms| {
        format!("{ms:.0}")
    });
    let step = bounds::step(known.len());
    let strip = |(name, notes): &(&str, Vec<&Note>)| Strip {
        name: name.to_string(),
        count: notes.len(),
        quartiles: quartiles(&over(notes)),
        values: notes
            .iter()
            .step_by(step)
            .filter_map(|note| Some((note.ring_ms()?, ring_mark(note))))
            .collect(),
    };
    let strips = Strips {
        x_label: "what it rings into".into(),
        y,
        window: Some((0.0, limit)),
        lines: vec![],
        strips: groups.iter().map(strip).collect(),
    };
    let mut numbers = Table::new(&[
        "rings into",
        "notes",
        "lower quarter, ms",
        "middle, ms",
        "upper quarter, ms",
        "longest, ms",
    ]);
    for (name, notes) in &groups {
        let over = over(notes);
        let quarters = quartiles(&over);
        let ms = |ms: Option<f64>| text(ms.map_or_else(String::new, |ms| format!("{ms:.0}")));
        numbers.row(vec![
            text(*name),
            text(over.len().to_string()),
            ms(quarters.map(|quarters| quarters[0])),
            ms(quarters.map(|quarters| quarters[1])),
            ms(quarters.map(|quarters| quarters[2])),
            ms(over.iter().copied().reduce(f64::max)),
        ]);
    }
    let figure = Figure {
        id: "rings-chart",
        title: "How long notes ring over".into(),
        caption: html! {
            (legend::signs(&[("disc", "●", "too little to count"), ("late", "◆", "a missed mute")]))
            " Shaded: up to " (format!("{limit:.0}")) " ms is let pass. Notes that stop in time are not shown. n: how many notes."
        },
        drawing: strips.draw(),
        numbers,
    };
    figure.markup()
}

fn ring_mark(note: &Note) -> Mark {
    match note.length() {
        Some(Length::Rings) => Mark::Diamond,
        _ => Mark::Disc,
    }
}

fn over(notes: &[&Note]) -> Vec<f64> {
    notes.iter().filter_map(|note| note.ring_ms()).collect()
}
