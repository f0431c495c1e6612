//! Swing: the ratio of each pair against what the line asks for.

use super::figure::Figure;
use super::offsets::{divisions, time_axis};
use super::table::{Table, text};
use super::{Material, Section, bounds, legend};
use crate::chart::axis::ratio_name;
use crate::chart::{Axis, Curve, Ink, Mark, Scatter};
use crate::findings::swing::{Pair, pairs};
use crate::judge::summary::{FEWEST_PAIRS, PLAUSIBLE_RATIOS, written_swing};
use maud::{Markup, html};

pub(super) fn section(material: &Material) -> Option<Section> {
    let pairs = pairs(material.checked.expected, &material.evidence.heard);
    let (kept, odd): (Vec<Pair>, Vec<Pair>) = pairs
        .into_iter()
        .partition(|pair| PLAUSIBLE_RATIOS.contains(&pair.played));
    let content = if kept.is_empty() {
        without(material)
    } else {
        figure(material, &kept, odd.len()).markup()
    };
    Some(Section::new("swing", "Swing", content))
}

fn without(material: &Material) -> Markup {
    html! {
        @match written_swing(material.checked.expected) {
            Some(_) => { p { "No swung pair of the line was played whole." } }
            None => { p { "The line is not swung." } }
        }
        @if let Some(ratio) = material.checked.summary.swing_ratio {
            p { "Pairs of beat and upbeat as played: " (format!("{ratio:.2}")) " : 1, even as written." }
        }
    }
}

fn figure(material: &Material, pairs: &[Pair], odd: usize) -> Figure {
    let x = time_axis(material);
    let logs = pairs.iter().flat_map(|pair| [pair.played, pair.asked]);
    let around = [1.0, 2.5];
    let y = Axis::ratios(
        "long : short (logarithmic)",
        logs.chain(around).map(f64::ln),
    );
    let at = |pair: &Pair| material.evidence.heard[pair.middle].note.onset.seconds();
    let shown = pairs.iter().step_by(bounds::step(pairs.len()));
    let mark = |pair: &Pair| (at(pair), pair.played.ln(), Mark::Disc);
    let mean = mean(pairs);
    let mut curves = asked(pairs, &x, at);
    if let Some(mean) = mean {
        curves.push(Curve::level(mean.ln(), &x, Ink::Steady));
    }
    let scatter = Scatter {
        marks: shown.map(mark).collect(),
        window: None,
        curves,
        divisions: divisions(material),
        x,
        y,
    };
    Figure {
        id: "swing-chart",
        title: "Swing ratio of each pair over time".into(),
        caption: html! {
            (legend::signs(&[("disc", "●", "a pair as played: its long half to its short half")]))
            " Grey line: what the line asks for. "
            @match mean {
                Some(mean) => { "Dashed line: your mean, " (format!("{mean:.2}")) " : 1. " }
                None => { "For a mean there have to be " (FEWEST_PAIRS) " pairs. " }
            }
            @if odd > 0 { (odd) " pairs beyond 4 : 1 or 1 : 4 are left out as slips. " }
            @if let Some(words) = bounds::thinned(pairs.len()) { (words) }
        },
        drawing: scatter.draw(),
        numbers: numbers(material, pairs),
    }
}

/// The mean of the logarithms, as the summary has it: of pairs enough.
fn mean(pairs: &[Pair]) -> Option<f64> {
    let sum: f64 = pairs.iter().map(|pair| pair.played.ln()).sum();
    (pairs.len() >= FEWEST_PAIRS).then(|| (sum / pairs.len() as f64).exp())
}

/// What the line asks for: a level stretch for each run of pairs that ask the same.
fn asked(pairs: &[Pair], x: &Axis, at: impl Fn(&Pair) -> f64) -> Vec<Curve> {
    const SAME: f64 = 1e-3;
    let runs: Vec<&[Pair]> = pairs
        .chunk_by(|one, next| (one.asked / next.asked).ln().abs() < SAME)
        .collect();
    let curve = |(index, run): (usize, &&[Pair])| {
        let from = if index == 0 { x.low } else { at(&run[0]) };
        let to = runs.get(index + 1).map_or(x.high, |next| at(&next[0]));
        let y = run[0].asked.ln();
        Curve {
            points: vec![(from, y), (to, y)],
            ink: Ink::Target,
        }
    };
    runs.iter().enumerate().map(curve).collect()
}

fn numbers(material: &Material, pairs: &[Pair]) -> Table {
    let mut table = Table::new(&["upbeat", "played, long : short", "asked, long : short"]);
    for pair in pairs {
        let note = material.evidence.heard[pair.middle].index as usize;
        table.row(vec![
            text(&material.notes[note].place),
            text(ratio_name(pair.played)),
            text(ratio_name(pair.asked)),
        ]);
    }
    table
}
