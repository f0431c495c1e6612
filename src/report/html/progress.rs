//! Progress on a line as a page of its own, and as a section of a take's page.

use super::Section;
use super::figure::Figure;
use super::frame::{self, Document};
use super::table::{Table, text};
use crate::chart::{Axis, Curve, Ink, Mark, Scatter};
use crate::engraving::svg::plain;
use crate::line::mistake::counted;
use crate::progress::Progress;
use crate::progress::measure::Measure;
use crate::progress::outcome::{self, MeasureProgress, Point, Told, Verdict};
use crate::report::progress::text::{curve_words, gains_words, held_words, play_command};
use crate::report::progress::{OnLine, Today, words};
use jiff::Timestamp;
use maud::{Markup, html};

/// The page of a line's progress.
pub fn progress_page(of: &OnLine<'_>, today: &Today<'_>) -> String {
    let progress = of.progress;
    let mut sections: Vec<Section> = Vec::new();
    sections.extend(changes(progress));
    sections.extend(charts(progress));
    sections.extend(by_section(progress));
    sections.extend(findings(progress));
    sections.extend(to_play(today));
    let document = Document {
        title: plain(of.title),
        what: "progress",
        style: String::new(),
        facts: facts(of),
        sections: &sections,
        foot: foot(of),
    };
    document.written()
}

/// How the line went from session to session, for the page of a take of it; none before the second session.
pub fn section(of: &OnLine<'_>) -> Option<Section> {
    let spread = of
        .progress
        .measures
        .iter()
        .find(|of| of.measure == Measure::Spread)?;
    if spread.points.len() < 2 {
        return None;
    }
    let content = html! {
        (summary(of.progress))
        (chart(spread, of.progress).markup())
    };
    Some(Section::new("progress", "From session to session", content))
}

fn facts(of: &OnLine<'_>) -> Markup {
    let progress = of.progress;
    let played = format!(
        "{} in {}",
        counted(progress.takes, "take"),
        counted(progress.sessions, "session")
    );
    let other = (of.of_other_notes > 0).then(|| {
        format!(
            "{} from before its notes were changed",
            counted(of.of_other_notes, "take")
        )
    });
    frame::list([
        ("Played", Some(played)),
        ("By", Some(of.player.to_string())),
        ("Compared", progress.basis.as_ref().map(words::basis)),
        ("Left out", other),
    ])
}

fn foot(of: &OnLine<'_>) -> Markup {
    html! {
        p { "Minus is early, plus is late. An interval holds the true value in 95 of 100 cases. A change is told as real where it stands "
            "out from what takes and days differ by chance, all measures asked together." }
        p { "From the takes of " (plain(of.file)) " in the logbook." }
        (frame::made_by())
    }
}

fn changes(progress: &Progress) -> Option<Section> {
    let content = summary(progress);
    (!progress.measures.is_empty()).then(|| Section::new("changes", "What changed", content))
}

/// The measures with what became of them, and what else is told of the whole.
fn summary(progress: &Progress) -> Markup {
    html! {
        (table(&progress.measures).markup("Measures from the first session to the last"))
        p { (held_words(&progress.clean)) }
        p { (gains_words(&progress.gains)) }
        p { @match &progress.curve {
            Told::Known(curve) => { (curve_words(curve)) }
            Told::NotYet(why) => { "Learning curve: " (words::why_not(*why)) "." }
        } }
    }
}

fn table(measures: &[MeasureProgress]) -> Table {
    let mut table = Table::new(&[
        "",
        "from",
        "to",
        "change (95 % interval)",
        "what it is",
        "a change would stand out from",
    ]);
    for of in measures.iter().filter(|of| !of.points.is_empty()) {
        let name = format!(
            "{}: {}",
            words::measure(of.measure),
            words::meaning(of.measure)
        );
        let cells = match &of.change {
            Told::Known(change) => [
                words::value(of.measure, change.from),
                words::value(of.measure, change.to),
                words::change(change),
                words::verdict(change.verdict).to_string(),
                words::detectable(change),
            ],
            Told::NotYet(why) => {
                let last = of
                    .points
                    .last()
                    .map_or_else(String::new, |point| words::value(of.measure, point.value));
                [
                    String::new(),
                    last,
                    String::new(),
                    words::why_not(*why),
                    String::new(),
                ]
            }
        };
        let mut row = vec![text(name)];
        row.extend(cells.into_iter().map(text));
        table.row(row);
    }
    table
}

fn charts(progress: &Progress) -> Option<Section> {
    let drawn: Vec<Markup> = progress
        .measures
        .iter()
        .filter(|of| of.points.len() > 1)
        .map(|of| chart(of, progress).markup())
        .collect();
    let content = html! { @for figure in &drawn { (figure) } };
    (!drawn.is_empty()).then(|| Section::new("sessions", "Session by session", content))
}

/// One measure over the sessions, with intervals, the change where there is one, and the learning curve of the spread.
fn chart(of: &MeasureProgress, progress: &Progress) -> Figure {
    let shown = |value: f64| shown(of.measure, value);
    let at = |index: usize| (index + 1) as f64;
    let points = of.points.iter().enumerate();
    let intervals = points.clone().map(|(index, point)| Curve {
        points: point.interval.map(|end| (at(index), shown(end))).to_vec(),
        ink: Ink::Plain,
    });
    let mut curves: Vec<Curve> = intervals.collect();
    curves.extend(trend(of).map(|[from, to]| Curve {
        points: vec![(1.0, shown(from)), (at(of.points.len() - 1), shown(to))],
        ink: Ink::Steady,
    }));
    curves.extend(learning(of, progress));
    let ends = of.points.iter().flat_map(|point| point.interval).map(shown);
    let x = sessions(&of.points);
    let scatter = Scatter {
        y: Axis::linear(axis_label(of.measure), ends, |value| format!("{value}")),
        window: None,
        marks: points
            .map(|(index, point)| (at(index), shown(point.value), Mark::Disc))
            .collect(),
        curves,
        divisions: Vec::new(),
        x,
    };
    let name = words::measure(of.measure);
    Figure {
        id: id(of.measure),
        title: format!("{name}, session by session"),
        caption: html! {
            strong { (name) } ": " (words::meaning(of.measure)) ". Disc: a session; upright line: its 95 % interval."
            @if trend(of).is_some() { " Dashes: the change that stands out from chance." }
            @if !learning(of, progress).is_empty() { " Solid: the learning curve." }
        },
        drawing: scatter.draw(),
        numbers: numbers(of),
    }
}

fn numbers(of: &MeasureProgress) -> Table {
    let mut table = Table::new(&["session", "begun", "takes", "value", "95 % interval"]);
    for point in &of.points {
        let [low, high] = point.interval.map(|end| words::value(of.measure, end));
        table.row(vec![
            text(point.session.to_string()),
            text(day(point.begun_ms)),
            text(point.takes.to_string()),
            text(words::value(of.measure, point.value)),
            text(format!("{low} to {high}")),
        ]);
    }
    table
}

/// From where to where it changed, where that stands out.
fn trend(of: &MeasureProgress) -> Option<[f64; 2]> {
    match &of.change {
        Told::Known(change) if change.verdict != Verdict::NoChange => {
            Some([change.from, change.to])
        }
        _ => None,
    }
}

fn learning(of: &MeasureProgress, progress: &Progress) -> Vec<Curve> {
    let (Measure::Spread, Told::Known(curve)) = (of.measure, &progress.curve) else {
        return Vec::new();
    };
    let place = |session: i64| of.points.iter().position(|point| point.session == session);
    let points = curve.points.iter();
    let points = points.filter_map(|(session, _, ms)| Some((place(*session)? as f64 + 1.0, *ms)));
    vec![Curve {
        points: points.collect(),
        ink: Ink::Moving,
    }]
}

/// The sessions from left to right; some of them by their day.
fn sessions(points: &[Point]) -> Axis {
    const LABELLED: usize = 8;
    let step = points.len().div_ceil(LABELLED).max(1);
    let ticks = points.iter().enumerate().step_by(step);
    let ticks = ticks.map(|(index, point)| ((index + 1) as f64, day(point.begun_ms)));
    Axis::exact(
        "session, by its day",
        0.5,
        points.len() as f64 + 0.5,
        ticks.collect(),
    )
}

/// `2026-11-25`, UTC.
fn day(ms: i64) -> String {
    let at = Timestamp::from_millisecond(ms).unwrap_or_default();
    at.strftime("%Y-%m-%d").to_string()
}

/// A value as its axis counts.
fn shown(measure: Measure, value: f64) -> f64 {
    match measure {
        Measure::Swing | Measure::Lengths | Measure::Pitch => 100.0 * value,
        Measure::Spread | Measure::Lean | Measure::Entries | Measure::Upbeats => value,
    }
}

fn axis_label(measure: Measure) -> String {
    let unit = match measure {
        Measure::Swing | Measure::Lengths | Measure::Pitch => "%",
        Measure::Spread | Measure::Lean | Measure::Entries | Measure::Upbeats => "ms",
    };
    format!("{}, {unit}", words::measure(measure))
}

fn id(measure: Measure) -> &'static str {
    match measure {
        Measure::Spread => "of-spread",
        Measure::Lean => "of-lean",
        Measure::Entries => "of-entries",
        Measure::Upbeats => "of-upbeats",
        Measure::Swing => "of-swing",
        Measure::Lengths => "of-lengths",
        Measure::Pitch => "of-pitch",
    }
}

fn by_section(progress: &Progress) -> Option<Section> {
    let told: Vec<&outcome::SectionProgress> = progress
        .sections
        .iter()
        .filter(|section| section.measures.iter().any(|of| !of.points.is_empty()))
        .collect();
    let content = html! {
        @for section in &told {
            h3 { (plain(&section.name)) ", " (section.bars) }
            (table(&section.measures).markup(&section.name))
        }
    };
    (!told.is_empty()).then(|| Section::new("by-section", "Section by section", content))
}

fn findings(progress: &Progress) -> Option<Section> {
    let mut table = Table::new(&[
        "",
        "sessions in which it was told",
        "latest session",
        "what it is",
    ]);
    for finding in &progress.findings {
        let told = finding.points.iter().filter(|point| point.told > 0).count();
        let last = finding.points.last().map_or_else(String::new, |point| {
            format!("{} of {}", point.told, counted(point.takes, "take"))
        });
        let verdict = match &finding.change {
            Told::Known(change) => words::verdict(change.verdict).to_string(),
            Told::NotYet(why) => words::why_not(*why),
        };
        table.row(vec![
            text(words::finding(&finding.id)),
            text(format!("{told} of {}", finding.points.len())),
            text(last),
            text(verdict),
        ]);
    }
    let content = table.markup("What was told at the end of takes");
    (!progress.findings.is_empty())
        .then(|| Section::new("findings", "What was told at the end of takes", content))
}

fn to_play(today: &Today<'_>) -> Option<Section> {
    let content = html! {
        ol {
            @for suggestion in today.suggestions {
                li {
                    (plain(&suggestion.title)) ", " (words::of_bars(suggestion.bars)) " at " (suggestion.speed) " %: "
                    (words::reason(suggestion)) ". " code { (play_command(suggestion, today.files)) }
                }
            }
        }
    };
    (!today.suggestions.is_empty()).then(|| Section::new("today", "To play today", content))
}
