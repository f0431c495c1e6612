//! A session as a page: its takes side by side.

use super::Section;
use super::figure::Figure;
use super::frame::{self, Document};
use super::table::{Table, text};
use crate::chart::strips::quartiles;
use crate::chart::{Axis, Ink, Mark, Strip, Strips};
use crate::engraving::svg::plain;
use crate::judge::Timing;
use crate::line::mistake::counted;
use crate::report::{Checked, signed_ms};
use crate::units::Nanos;
use maud::{Markup, html};

/// A take of the session.
pub struct SessionTake<'a> {
    /// Its number.
    pub number: i64,
    /// When it began, in words.
    pub begun: String,
    /// What was heard.
    pub checked: Checked<'a>,
    /// What the player wrote about it.
    pub note: &'a str,
}

/// What a page of a session is made from.
pub struct SessionPage<'a> {
    /// Its number.
    pub number: i64,
    /// When it was played, in words.
    pub played: String,
    /// Who played.
    pub player: &'a str,
    /// What the player wrote about it.
    pub note: &'a str,
    /// Its takes, as they were played.
    pub takes: Vec<SessionTake<'a>>,
}

/// The page. Offsets are drawn to so many a take; the rest is counted in the numbers.
const DRAWN: usize = 400;

/// The page of a session.
pub fn session_page(page: &SessionPage<'_>) -> String {
    let sections = [takes(page), offsets(page), told(page)];
    let sections: Vec<Section> = sections.into_iter().flatten().collect();
    let document = Document {
        title: format!("Session {}", page.number),
        what: "how it was played",
        style: String::new(),
        facts: frame::list([
            ("Played", Some(page.played.clone())),
            ("By", Some(page.player.to_string())),
            ("Takes", Some(page.takes.len().to_string())),
            (
                "Note",
                (!page.note.is_empty()).then(|| page.note.to_string()),
            ),
        ]),
        sections: &sections,
        foot: html! {
            p { "Milliseconds count from the written place: minus is early, plus is late." }
            (frame::made_by())
        },
    };
    document.written()
}

/// `take 12 · Gangway Skip, bars 5 to 8, at 80 %`.
fn what(take: &SessionTake<'_>) -> String {
    let line = &take.checked.line;
    let bars = line
        .bars
        .map_or_else(String::new, |bars| format!(", {bars}"));
    let speed = match line.speed {
        100.0 => String::new(),
        speed => format!(", at {speed} %"),
    };
    format!("{}{bars}{speed}", line.title)
}

fn takes(page: &SessionPage<'_>) -> Option<Section> {
    let mut table = Table::new(&[
        "take",
        "begun",
        "what",
        "right",
        "in time",
        "mean, ms",
        "spread, ms",
        "length",
        "note",
    ]);
    for take in &page.takes {
        let sums = &take.checked.summary;
        let of = |count: usize, of: usize| format!("{count} of {of}");
        let ms =
            |ms: Option<f64>| ms.map_or_else(|| "–".into(), |ms| signed_ms(Nanos::from_ms_f64(ms)));
        table.row(vec![
            text(take.number.to_string()),
            text(&take.begun),
            text(plain(&what(take))),
            text(of(sums.pitch_right, sums.expected)),
            text(of(sums.timing_in, sums.matched)),
            text(ms(sums.offset_mean_ms)),
            text(
                sums.offset_sd_ms
                    .map_or_else(|| "–".into(), |sd| format!("{sd:.0}")),
            ),
            text(of(sums.length_in, sums.matched)),
            text(plain(take.note)),
        ]);
    }
    let content = table.markup("Takes in the order in which they were played");
    (!page.takes.is_empty()).then(|| Section::new("takes", "Takes", content))
}

fn offsets(page: &SessionPage<'_>) -> Option<Section> {
    let strips: Vec<Strip> = page.takes.iter().map(strip).collect();
    if strips.iter().all(|strip| strip.values.is_empty()) {
        return None;
    }
    let values = || {
        strips
            .iter()
            .flat_map(|strip| strip.values.iter().map(|(ms, _)| *ms))
    };
    let mut numbers = Table::new(&[
        "take",
        "notes",
        "lower quarter, ms",
        "middle, ms",
        "upper quarter, ms",
    ]);
    for strip in &strips {
        let quarter = |index: usize| {
            strip
                .quartiles
                .map_or_else(String::new, |of| format!("{:+.0}", of[index]))
        };
        numbers.row(vec![
            text(&strip.name),
            text(strip.count.to_string()),
            text(quarter(0)),
            text(quarter(1)),
            text(quarter(2)),
        ]);
    }
    let drawing = Strips {
        x_label: "take".into(),
        y: Axis::linear("offset, ms", values(), |ms| {
            signed_ms(Nanos::from_ms_f64(ms))
        }),
        window: None,
        lines: vec![(0.0, Ink::Target)],
        strips: strips.clone(),
    };
    let figure = Figure {
        id: "offsets-by-take",
        title: "Offsets, take by take".into(),
        caption: caption(),
        drawing: drawing.draw(),
        numbers,
    };
    Some(Section::new(
        "offsets",
        "Offsets, take by take",
        figure.markup(),
    ))
}

fn caption() -> Markup {
    html! {
        "Each mark is a note: a disc where it is in time, a triangle down where it is early, up where it is late. Box: the middle half of "
        "a take; thick line: its middle. n: how many notes."
    }
}

fn strip(take: &SessionTake<'_>) -> Strip {
    let partners = take
        .checked
        .judgement
        .readings
        .iter()
        .filter_map(|reading| reading.partner);
    let all: Vec<(f64, Mark)> = partners
        .filter_map(|partner| {
            let mark = match partner.timing {
                Timing::In => Mark::Disc,
                Timing::Early => Mark::Down,
                Timing::Late => Mark::Up,
                Timing::Unjudged => return None,
            };
            Some((partner.off_grid.ms(), mark))
        })
        .collect();
    let offsets: Vec<f64> = all.iter().map(|(ms, _)| *ms).collect();
    let step = all.len().div_ceil(DRAWN).max(1);
    Strip {
        name: take.number.to_string(),
        count: all.len(),
        quartiles: quartiles(&offsets),
        values: all.into_iter().step_by(step).collect(),
    }
}

/// What was told at the end of each take.
fn told(page: &SessionPage<'_>) -> Option<Section> {
    let content = html! {
        @for take in &page.takes {
            h3 { "Take " (take.number) " · " (plain(&what(take))) }
            @if take.checked.findings.is_empty() {
                p { "Nothing stood out in " (counted(take.checked.summary.matched, "note")) "." }
            } @else {
                ul { @for finding in &take.checked.findings { li { (plain(&finding.text)) " " (finding.advice) } } }
            }
        }
    };
    (!page.takes.is_empty()).then(|| Section::new("findings", "What to work on", content))
}
