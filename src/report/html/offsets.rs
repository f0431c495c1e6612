//! Offsets over time: where each note sat, the window, the lean, and how it wandered.

use super::figure::Figure;
use super::heard::Note;
use super::table::{Table, text};
use super::{Material, Section, bounds, legend};
use crate::chart::{Axis, Curve, Ink, Scatter};
use crate::expected::ExpectedBar;
use crate::findings::model::wandering;
use crate::judge::summary::mean_and_sd;
use crate::report::words::bar_name;
use maud::{Markup, html};

pub(super) fn section(material: &Material) -> Option<Section> {
    let timed: Vec<&Note> = material
        .notes
        .iter()
        .filter(|note| note.offset_ms().is_some())
        .collect();
    let content = if timed.is_empty() {
        html! { p { "No note has an offset to show." } }
    } else {
        figure(material, &timed).markup()
    };
    Some(Section::new("offsets", "Offsets over time", content))
}

/// An axis of offsets that shows these and the window.
pub(super) fn offset_axis<'n>(
    material: &Material,
    notes: impl Iterator<Item = &'n Note<'n>>,
) -> Axis {
    let windows = &material.checked.settings.windows;
    let edges = [-1.0, 1.0].map(|side| windows.lean.ms() + side * windows.timing.ms());
    let values = notes.filter_map(Note::offset_ms).chain(edges);
    Axis::linear("offset, ms (minus is early)", values, signed)
}

/// The timing window from its lower edge to its upper one, in ms.
pub(super) fn window(material: &Material) -> (f64, f64) {
    let windows = &material.checked.settings.windows;
    let (lean, half) = (windows.lean.ms(), windows.timing.ms());
    (lean - half, lean + half)
}

/// An axis of seconds from the first bar to the last that was played.
pub(super) fn time_axis(material: &Material) -> Axis {
    let bars = &material.checked.expected.bars;
    let last = material.notes.last().map(|note| note.bar.end.seconds());
    let first = bars.first().map(|bar| bar.onset.seconds());
    let ends = [first, last].into_iter().flatten();
    Axis::linear("time since bar 1 beat 1, s", ends, |seconds| {
        crate::units::shortest(seconds)
    })
}

/// Where sections and passes begin, with their names.
pub(super) fn divisions(material: &Material) -> Vec<(f64, String)> {
    let expected = material.checked.expected;
    let last = material.notes.last().map_or(0, |note| note.note.bar) as usize;
    let heard = &expected.bars[..(last + 1).min(expected.bars.len())];
    let stretches =
        heard.chunk_by(|one, next| (one.section, one.pass) == (next.section, next.pass));
    let mut last = None;
    let name = |bars: &[ExpectedBar]| {
        let bar = &bars[0];
        let name = match last == Some(bar.section) {
            true => format!("pass {}", bar.pass),
            false => expected.sections[usize::from(bar.section)].clone(),
        };
        last = Some(bar.section);
        (bar.onset.seconds(), name)
    };
    stretches.map(name).collect()
}

fn figure(material: &Material, timed: &[&Note]) -> Figure {
    let x = time_axis(material);
    let y = offset_axis(material, timed.iter().copied());
    let mut curves = Vec::new();
    if let Some(lean) = &material.checked.lean {
        curves.push(Curve::level(lean.mean_ms, &x, Ink::Steady));
    }
    let wandering = wander(material);
    if wandering.len() > 1 {
        curves.push(Curve {
            points: wandering,
            ink: Ink::Moving,
        });
    }
    let shown = timed.iter().step_by(bounds::step(timed.len()));
    let mark = |note: &&Note| Some((note.time_s(), note.offset_ms()?, note.timing_mark()));
    let scatter = Scatter {
        window: Some(window(material)),
        marks: shown.filter_map(mark).collect(),
        curves,
        divisions: divisions(material),
        x,
        y,
    };
    Figure {
        id: "offsets-chart",
        title: "Offset of each note over time".into(),
        caption: caption(material, timed.len()),
        drawing: scatter.draw(),
        numbers: by_bar(material, timed),
    }
}

/// The mean over eight beats, note by note.
fn wander(material: &Material) -> Vec<(f64, f64)> {
    let heard = &material.evidence.heard;
    let offsets: Vec<f64> = heard.iter().map(|heard| heard.offset_ms).collect();
    let means = wandering(&offsets, heard);
    let points = heard.iter().zip(means);
    let points = points.map(|(heard, mean)| (heard.note.onset.seconds(), mean));
    points.step_by(bounds::step(heard.len())).collect()
}

fn caption(material: &Material, count: usize) -> Markup {
    let (low, high) = window(material);
    let window = format!("inside the window, {low:+.0} to {high:+.0} ms");
    const TOLD: f64 = 0.05;
    let drift = material.checked.summary.tempo_drift_pct;
    let drift = drift.filter(|drift| drift.abs() >= TOLD);
    html! {
        (legend::timing(&window))
        " Thick line: your mean over eight beats. "
        @match &material.checked.lean {
            Some(lean) => { "Dashed line: your lean, " (format!("{:+.0}", lean.mean_ms)) " ms. " }
            None => { "No steady lean. " }
        }
        @if let Some(drift) = drift {
            "In all you went " (format!("{:.1}", drift.abs())) " % " (if drift < 0.0 { "slower" } else { "faster" }) " than the line. "
        }
        @if let Some(words) = bounds::thinned(count) { (words) }
    }
}

/// A row a bar: the notes themselves are listed under the part.
fn by_bar(material: &Material, timed: &[&Note]) -> Table {
    let mut table = Table::new(&["bar", "notes", "mean, ms", "earliest, ms", "latest, ms"]);
    for bar in timed.chunk_by(|one, next| one.note.bar == next.note.bar) {
        let offsets: Vec<f64> = bar.iter().filter_map(|note| note.offset_ms()).collect();
        let mean = mean_and_sd(offsets.iter().copied()).0.unwrap_or(0.0);
        let earliest = offsets.iter().copied().fold(f64::INFINITY, f64::min);
        let latest = offsets.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        table.row(vec![
            text(bar_name(material.checked.expected, bar[0].bar)),
            text(offsets.len().to_string()),
            text(signed(mean)),
            text(signed(earliest)),
            text(signed(latest)),
        ]);
    }
    table
}

/// `+12`, `-3`, `0`.
pub(super) fn signed(ms: f64) -> String {
    crate::report::signed_ms(crate::units::Nanos::from_ms_f64(ms))
}
