//! Progress for a musician, in the terminal.

use super::plot::{self, Size, Value};
use super::{OnLine, Today, words};
use crate::line::mistake::counted;
use crate::page::text::Charset;
use crate::progress::Progress;
use crate::progress::measure::Measure;
use crate::progress::outcome::{
    CleanSpeed, Curve, FindingProgress, Gain, Gains, MeasureProgress, SpeedBasis, Told, Verdict,
};
use crate::progress::today::Suggestion;
use crate::report::columns::{Cells, Column, table};
use crate::report::command::command_of;
use crate::report::when;
use crate::report::words::wrap;
use jiff::Timestamp;

/// How it is laid out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Layout {
    /// Characters in a line.
    pub width: usize,
    /// Which characters.
    pub charset: Charset,
    /// Whether sections and findings are told as well.
    pub all: bool,
    /// The present.
    pub now: Timestamp,
}

/// Lines of the plot of the spread.
const HEIGHT: usize = 8;
/// Sessions in a row of bars.
const ROW: usize = 16;

/// All that is said of one line.
pub fn on_line(of: &OnLine<'_>, today: &Today<'_>, layout: Layout) -> String {
    let mut page = Page {
        text: String::new(),
        layout,
    };
    page.head(of);
    let progress = of.progress;
    let Some(basis) = &progress.basis else {
        page.say("No take of it is long enough to tell anything from.");
        return page.text;
    };
    page.say(&format!("Compared: {}.", words::basis(basis)));
    page.others(progress);
    page.spread(progress);
    page.measures("", &progress.measures);
    page.clean(&progress.clean);
    page.gains(&progress.gains);
    page.curve(&progress.curve);
    if layout.all {
        for section in &progress.sections {
            page.measures(
                &format!("{}, {}", section.name, section.bars),
                &section.measures,
            );
        }
        page.findings(&progress.findings);
    }
    page.today(today);
    page.text
}

/// A line among others.
pub struct Row<'a> {
    /// What is said of it.
    pub line: OnLine<'a>,
    /// When it was played last, ms since 1970.
    pub last_ms: i64,
}

/// All lines, a row each, and what to play today.
pub fn overview(rows: &[Row<'_>], today: &Today<'_>, layout: Layout) -> String {
    let mut page = Page {
        text: String::new(),
        layout,
    };
    let spread = |row: &Row<'_>| {
        let of = |measure: &&MeasureProgress| measure.measure == Measure::Spread;
        row.line.progress.measures.iter().find(of).cloned()
    };
    let last = |row: &Row<'_>| when::short(&when::begun("", row.last_ms), layout.now);
    let cell = |of: fn(&MeasureProgress, Layout) -> String| {
        move |row: &Row<'_>| spread(row).map_or_else(String::new, |measure| of(&measure, layout))
    };
    let columns = [
        Column::of("line", (Cells::Cut(12), 0), rows, |row| {
            row.line.title.to_string()
        }),
        Column::of("takes", (Cells::Numbers, 1), rows, |row| {
            row.line.progress.takes.to_string()
        }),
        Column::of("sessions", (Cells::Numbers, 4), rows, |row| {
            row.line.progress.sessions.to_string()
        }),
        Column::of("last", (Cells::Text, 3), rows, last),
        Column::of("spread", (Cells::Text, 5), rows, cell(bars_of)),
        Column::of(
            "now",
            (Cells::Numbers, 0),
            rows,
            cell(|measure, _| latest(measure)),
        ),
        Column::of(
            "",
            (Cells::Text, 2),
            rows,
            cell(|measure, _| short_verdict(measure)),
        ),
        Column::of("clean", (Cells::Numbers, 2), rows, |row| {
            held(row.line.progress)
        }),
    ];
    page.text += &table(&columns, layout.width);
    page.say("(spread: how much your notes scatter, without slow drift, session by session; clean: the highest speed held in two takes running)");
    page.today(today);
    page.text
}

fn bars_of(measure: &MeasureProgress, layout: Layout) -> String {
    let values: Vec<f64> = measure.points.iter().map(|point| point.value).collect();
    plot::row(&values, ROW, layout.charset)
}

fn latest(measure: &MeasureProgress) -> String {
    let last = measure.points.last();
    last.map_or_else(String::new, |point| {
        words::value(measure.measure, point.value)
    })
}

fn short_verdict(measure: &MeasureProgress) -> String {
    match &measure.change {
        Told::Known(change) if change.verdict == Verdict::NoChange => "no change".into(),
        Told::Known(change) => words::verdict(change.verdict).into(),
        Told::NotYet(_) => "too early to say".into(),
    }
}

fn held(progress: &Progress) -> String {
    let whole = progress.clean.iter().find(|clean| clean.bars.is_none());
    let held = whole.and_then(|clean| clean.held);
    held.map_or_else(|| "–".into(), |speed| format!("{speed} %"))
}

struct Page {
    text: String,
    layout: Layout,
}

impl Page {
    fn say(&mut self, text: &str) {
        self.text += &wrap(text, self.layout.width, "", "  ");
        self.text.push('\n');
    }

    fn gap(&mut self) {
        self.text.push('\n');
    }

    fn head(&mut self, of: &OnLine<'_>) {
        let progress = of.progress;
        self.say(&format!(
            "{} · {} in {} by {}",
            of.title,
            counted(progress.takes, "take"),
            counted(progress.sessions, "session"),
            of.player
        ));
        if of.of_other_notes > 0 {
            self.say(&format!(
                "{} of this line as it was before its notes were changed left out.",
                counted(of.of_other_notes, "take")
            ));
        }
    }

    /// The bars and speeds that are not compared here.
    fn others(&mut self, progress: &Progress) {
        let Some(basis) = &progress.basis else { return };
        let others: Vec<String> = progress
            .footings
            .iter()
            .filter(|sum| sum.footing.bars != basis.bars || !covers(basis.speed, sum.footing.speed))
            .map(|sum| {
                let footing = sum.footing;
                let bars = footing
                    .bars
                    .map_or_else(String::new, |bars| format!("{bars} "));
                format!(
                    "{bars}at {} % ({})",
                    footing.speed,
                    counted(sum.takes, "take")
                )
            })
            .collect();
        match others.as_slice() {
            [] => {}
            shown if shown.len() > 4 => {
                self.say(&format!(
                    "Beside it: {} and {} more.",
                    shown[..3].join(", "),
                    shown.len() - 3
                ));
            }
            shown => self.say(&format!("Beside it: {}.", shown.join(", "))),
        }
    }

    fn spread(&mut self, progress: &Progress) {
        let of = |measure: &&MeasureProgress| measure.measure == Measure::Spread;
        let Some(spread) = progress.measures.iter().find(of) else {
            return;
        };
        if spread.points.len() < 2 {
            return;
        }
        let values: Vec<Value> = spread
            .points
            .iter()
            .map(|point| Value {
                value: point.value,
                interval: point.interval,
            })
            .collect();
        self.gap();
        self.say("Spread, session by session, with its 95 % interval");
        let size = Size {
            width: self.layout.width,
            height: HEIGHT,
            charset: self.layout.charset,
        };
        self.text += &plot::points(&values, "ms", size);
    }

    fn measures(&mut self, heading: &str, measures: &[MeasureProgress]) {
        let measures: Vec<&MeasureProgress> = measures
            .iter()
            .filter(|measure| !measure.points.is_empty())
            .collect();
        if measures.is_empty() {
            return;
        }
        self.gap();
        if !heading.is_empty() {
            self.say(heading);
        }
        let layout = self.layout;
        let columns = [
            Column::of("", (Cells::Text, 0), &measures, |of| {
                words::measure(of.measure).into()
            }),
            Column::of("sessions", (Cells::Text, 3), &measures, |of| {
                bars_of(of, layout)
            }),
            Column::of("from", (Cells::Numbers, 2), &measures, |of| {
                end(of, |change| change.from)
            }),
            Column::of("to", (Cells::Numbers, 0), &measures, |of| {
                match &of.change {
                    Told::Known(change) => words::value(of.measure, change.to),
                    Told::NotYet(_) => latest(of),
                }
            }),
            Column::of("change", (Cells::Text, 1), &measures, |of| {
                match &of.change {
                    Told::Known(change) => words::change(change),
                    Told::NotYet(_) => String::new(),
                }
            }),
            Column::of("", (Cells::Text, 0), &measures, |of| short_verdict(of)),
        ];
        self.text += &table(&columns, layout.width);
        if heading.is_empty() {
            self.say(MEASURED);
            self.detectable(&measures);
        }
    }

    /// What would have to happen for a change to stand out.
    fn detectable(&mut self, measures: &[&MeasureProgress]) {
        let unseen: Vec<String> = measures
            .iter()
            .filter_map(|of| match &of.change {
                Told::Known(change) if change.verdict == Verdict::NoChange => Some(format!(
                    "{} {}",
                    words::measure(of.measure),
                    words::detectable(change)
                )),
                _ => None,
            })
            .collect();
        if !unseen.is_empty() {
            self.say(&format!(
                "A change would stand out from: {}.",
                unseen.join(" · ")
            ));
        }
    }

    fn clean(&mut self, clean: &[CleanSpeed]) {
        self.gap();
        self.say(&held_words(clean));
    }

    fn gains(&mut self, gains: &Told<Gains>) {
        self.say(&gains_words(gains));
    }

    fn curve(&mut self, curve: &Told<Curve>) {
        match curve {
            Told::Known(curve) => self.say(&curve_words(curve)),
            Told::NotYet(why) => self.say(&format!("Learning curve: {}.", words::why_not(*why))),
        }
    }

    fn findings(&mut self, findings: &[FindingProgress]) {
        if findings.is_empty() {
            return;
        }
        self.gap();
        self.say("Told in takes, session by session");
        let layout = self.layout;
        let share = |finding: &FindingProgress| {
            let shares = finding
                .points
                .iter()
                .map(|point| point.told as f64 / point.takes.max(1) as f64);
            plot::row(&shares.collect::<Vec<_>>(), ROW, layout.charset)
        };
        let last = |finding: &FindingProgress| {
            finding.points.last().map_or_else(String::new, |point| {
                format!("{} of {}", point.told, point.takes)
            })
        };
        let verdict = |finding: &FindingProgress| match &finding.change {
            Told::Known(change) if change.verdict == Verdict::NoChange => "no change".to_string(),
            Told::Known(change) => words::verdict(change.verdict).to_string(),
            Told::NotYet(_) => "too early to say".into(),
        };
        let columns = [
            Column::of("", (Cells::Cut(10), 0), findings, |of| {
                words::finding(&of.id)
            }),
            Column::of("sessions", (Cells::Text, 2), findings, share),
            Column::of("last", (Cells::Numbers, 0), findings, last),
            Column::of("", (Cells::Text, 1), findings, verdict),
        ];
        self.text += &table(&columns, layout.width);
    }

    fn today(&mut self, today: &Today<'_>) {
        if today.suggestions.is_empty() {
            return;
        }
        self.gap();
        self.say("To play today");
        for (number, suggestion) in today.suggestions.iter().enumerate() {
            let head = format!(
                "{}. {}, {} at {} %: {}.",
                number + 1,
                suggestion.title,
                words::of_bars(suggestion.bars),
                suggestion.speed,
                words::reason(suggestion)
            );
            self.text += &(wrap(&head, self.layout.width, "", "   ") + "\n");
            self.text += &format!("   {}\n", play_command(suggestion, today.files));
        }
    }
}

fn end(of: &MeasureProgress, which: fn(&crate::progress::outcome::Change) -> f64) -> String {
    match &of.change {
        Told::Known(change) => words::value(of.measure, which(change)),
        Told::NotYet(_) => String::new(),
    }
}

/// Whether takes at this speed are among those compared.
fn covers(basis: SpeedBasis, speed: u32) -> bool {
    match basis {
        SpeedBasis::Same { speed: one } => one == speed,
        SpeedBasis::Modelled {
            slowest, fastest, ..
        } => (slowest..=fastest).contains(&speed),
    }
}

/// `leadsman play lines/x.toml --bars 5-8 --speed 85`.
pub fn play_command(suggestion: &Suggestion, files: &[String]) -> String {
    let file = files.get(suggestion.line).map_or("LINE", String::as_str);
    command_of(file, suggestion.bars, f64::from(suggestion.speed))
}

/// What a speed is held by: see [`crate::progress::clean`].
const CLEAN: &str = "clean in two takes running (95 of 100 notes right, 80 in time)";
/// What the measures leave apart.
const MEASURED: &str = "(spread: without slow drift, entries and upbeats apart; entries, upbeats: against your other notes; \
                        swing, lengths: of what is written)";

/// The highest speeds held clean.
pub fn held_words(clean: &[CleanSpeed]) -> String {
    let held: Vec<String> = clean
        .iter()
        .filter_map(|of| Some(format!("{} at {} %", words::of_bars(of.bars), of.held?)))
        .collect();
    let tried = clean.iter().map(|of| of.tried).max().unwrap_or(0);
    match held.as_slice() {
        [] => format!("Held {CLEAN}: nothing yet; tried up to {tried} %."),
        held => format!("Held {CLEAN}: {}.", held.join(" · ")),
    }
}

/// What came within sessions, and what over nights.
pub fn gains_words(gains: &Told<Gains>) -> String {
    match gains {
        Told::Known(gains) => {
            let gain = |gain: Gain, what: &str| {
                let [low, high] = gain.interval;
                let of = counted(gain.of, what);
                format!("{:.0} % ({low:.0} to {high:.0}, {of})", gain.percent)
            };
            format!(
                "Spread gone within a session: {}; over a night: {}.",
                gain(gains.within, "session"),
                gain(gains.overnight, "night")
            )
        }
        Told::NotYet(why) => format!(
            "Within a session against over a night: {}.",
            words::why_not(*why)
        ),
    }
}

/// The learning curve and what it predicts.
pub fn curve_words(curve: &Curve) -> String {
    let [from, to] = curve.from_to_ms;
    let mut text = format!(
        "Learning curve: the spread came from {from:.0} to {to:.0} ms; half of what is left goes in {:.0} takes, down to about {:.0} ms.",
        curve.halved_in_takes.best, curve.floor_ms.best
    );
    if let Some(next) = curve.predictions.last() {
        let [low, high] = next.session_ms;
        text += &format!(
            " In {} at this pace: {:.0} ms, a single session between {low:.0} and {high:.0}.",
            counted(next.sessions as usize, "more session"),
            next.level_ms.best
        );
    }
    text
}
