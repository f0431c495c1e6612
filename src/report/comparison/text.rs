//! A comparison as a teacher reads it: measure by measure, each player's figure with its interval, and below it which
//! differences are beyond chance and which are not. Players stand in the order given.

use super::{Comparison, Why};
use crate::compare::difference::{Difference, FALSE_SHARE, FEWEST_TAKES};
use crate::compare::measure::Measure;
use crate::compare::{Part, PlayerSum};
use crate::line::bar_range::BarRange;
use crate::report::page::{Detail, Layout, Page};
use crate::report::table::{Align, Column, Table, cut_end, widest};
use crate::report::words::{self, shortest};

/// Pairs that are named one by one below a measure; the others are counted.
const NAMED: usize = 6;
const LONGEST_NAME: usize = 24;
const NOT_KNOWN: &str = "–";

/// The whole comparison, on a page of so many characters.
pub fn report(comparison: &Comparison, width: usize) -> String {
    let detail = Detail::All;
    let mut page = Page::new(Layout { width, detail });
    let line = &comparison.line;
    page.paragraph(
        "",
        "  ",
        &format!("{} · {} notes", words::line(line), line.notes),
    );
    compared(comparison, &mut page);
    page.gap();
    part(&comparison.whole, &mut page);
    for section in comparison.sections.iter().flatten() {
        let name = section.section.as_deref().unwrap_or_default();
        page.line(&format!("Section {name}"));
        page.gap();
        part(section, &mut page);
    }
    notes(comparison, &mut page);
    page.into_text()
}

/// Which takes are compared, and which are left out.
fn compared(comparison: &Comparison, page: &mut Page) {
    let takes = comparison
        .whole
        .players
        .iter()
        .map(|player| player.takes)
        .sum();
    let what = format!(
        "Compared: {} at {} % of the written tempo.",
        count(takes, "take"),
        shortest(comparison.line.speed)
    );
    page.paragraph("", "  ", &what);
    let mut others: Vec<(String, usize)> = Vec::new();
    for take in &comparison.left_out {
        let why = left_out(&take.why, comparison.line.bars);
        match others.iter_mut().find(|(known, _)| *known == why) {
            Some((_, count)) => *count += 1,
            None => others.push((why, 1)),
        }
    }
    if !others.is_empty() {
        let each: Vec<String> = others
            .iter()
            .map(|(why, many)| format!("{many} {why}"))
            .collect();
        page.paragraph("", "  ", &format!("Left out: {}.", each.join(", ")));
    }
}

fn left_out(why: &Why, compared: Option<BarRange>) -> String {
    match why {
        Why::OtherWay(way) if way.bars == compared => {
            format!("at {} %", shortest(f64::from(way.speed.0) / 1000.0))
        }
        Why::OtherWay(way) => way
            .bars
            .map_or("of the whole line".into(), |bars| format!("of {bars}")),
        Why::Stopped => "ended before half of it".into(),
        Why::NotJudged(_) => "that could not be judged".into(),
    }
}

fn part(part: &Part, page: &mut Page) {
    played(part, page);
    for measure in Measure::ALL {
        if part
            .players
            .iter()
            .any(|player| player.of(measure).is_some())
        {
            measured(part, measure, page);
        }
    }
}

/// How much there is of each player.
fn played(part: &Part, page: &mut Page) {
    let row = |player: &PlayerSum| {
        let notes = format!("{}/{}", player.matched, player.expected);
        (name(player), [player.takes.to_string(), notes])
    };
    let rows: Vec<Row> = part.players.iter().map(row).collect();
    table("Player", ["takes", "notes"], &rows, page);
    page.gap();
}

fn measured(part: &Part, measure: Measure, page: &mut Page) {
    let row = |player: &PlayerSum| {
        let pooled = player.of(measure)?;
        let between = |[low, high]: [f64; 2]| {
            format!("{} to {}", number(measure, low), number(measure, high))
        };
        let interval = pooled.interval.map_or(NOT_KNOWN.into(), between);
        Some((name(player), [with_unit(measure, pooled.value), interval]))
    };
    let rows: Vec<Row> = part.players.iter().filter_map(row).collect();
    table(words_of(measure).0, ["", "95 %"], &rows, page);
    differences(part, measure, page);
    page.gap();
}

/// A name and two cells.
type Row = (String, [String; 2]);

fn name(player: &PlayerSum) -> String {
    cut_end(&player.name, LONGEST_NAME)
}

fn table(title: &str, heads: [&str; 2], rows: &[Row], page: &mut Page) {
    let column = |place: usize| Column {
        head: heads[place],
        width: widest(rows.iter().map(|(_, cells)| cells[place].as_str())),
        expendable: place,
        align: Align::Right,
    };
    let names = rows.iter().map(|(name, _)| name.as_str());
    let width = widest(names.chain([title]));
    let table = Table::new(width, &[column(0), column(1)], page.layout.width);
    page.line(&table.head(title));
    for (name, cells) in rows {
        page.line(&table.row(name, cells));
    }
}

/// Which differences in a measure are beyond chance, and which are not.
fn differences(part: &Part, measure: Measure, page: &mut Page) {
    let (beyond, within): (Vec<&Difference>, Vec<&Difference>) = part
        .differences
        .iter()
        .filter(|one| one.measure == measure)
        .partition(|one| one.is_beyond_chance);
    let name = |place: usize| part.players[place].name.as_str();
    let pair = |one: &&Difference| {
        let [low, high] = one.interval.map(|bound| sized(one, bound));
        format!(
            "{} against {} {}{}{} ({low} to {high})",
            name(one.players[0]),
            name(one.players[1]),
            if one.is_ratio() { "× " } else { "" },
            sized(one, one.size),
            unit_of_difference(one),
        )
    };
    for (title, pairs) in [("Beyond chance", beyond), ("Not beyond chance", within)] {
        if pairs.is_empty() {
            continue;
        }
        let mut told: Vec<String> = pairs.iter().take(NAMED).map(pair).collect();
        if pairs.len() > NAMED {
            told.push(format!(
                "{} more (--json has them)",
                count(pairs.len() - NAMED, "pair")
            ));
        }
        page.paragraph("  ", "    ", &format!("{title}: {}.", told.join("; ")));
    }
}

/// What stands at the end: what has too few takes, and how to read the rest.
fn notes(comparison: &Comparison, page: &mut Page) {
    let players = &comparison.whole.players;
    let few: Vec<String> = players
        .iter()
        .filter(|player| player.takes < FEWEST_TAKES)
        .map(|player| format!("{} ({})", player.name, count(player.takes, "take")))
        .collect();
    if players.len() > 1 && !few.is_empty() {
        let text = format!(
            "Not enough to tell a difference from chance, which takes {FEWEST_TAKES} takes or more: {}.",
            few.join(", ")
        );
        page.paragraph("", "", &text);
        page.gap();
    }
    let mut text = "Figures are means over takes, 95 % intervals rest on how a player's takes differ. Lean: minus is \
                    ahead of the click; entries and upbeats: against the player's own notes on the click."
        .to_string();
    if !comparison.whole.differences.is_empty() {
        text += &format!(
            " Of the differences told as beyond chance, at most {:.0} % are expected to be chance; what is not beyond \
             chance may still be there, and show with more takes.",
            100.0 * FALSE_SHARE
        );
    }
    page.paragraph("", "", &text);
}

/// What a measure is called, and the unit of its values.
fn words_of(measure: Measure) -> (&'static str, &'static str) {
    match measure {
        Measure::Pitch => ("Pitch right", " %"),
        Measure::Lean => ("Lean", " ms"),
        Measure::Spread => ("Spread", " ms"),
        Measure::Entries => ("Entries", " ms"),
        Measure::Upbeats => ("Upbeats", " ms"),
        Measure::Swing => ("Swing", " : 1"),
        Measure::Lengths => ("Lengths", " %"),
    }
}

fn with_unit(measure: Measure, value: f64) -> String {
    format!("{}{}", number(measure, value), words_of(measure).1)
}

/// A value of a measure without its unit: `+12.3`, `98.1`, `2.01`.
fn number(measure: Measure, value: f64) -> String {
    match measure {
        Measure::Lean | Measure::Entries | Measure::Upbeats => signed(value),
        Measure::Swing => format!("{value:.2}"),
        Measure::Pitch | Measure::Spread | Measure::Lengths => format!("{value:.1}"),
    }
}

/// The size of a difference, or a bound of it.
fn sized(difference: &Difference, size: f64) -> String {
    if difference.is_ratio() {
        format!("{size:.2}")
    } else {
        signed(size)
    }
}

fn unit_of_difference(difference: &Difference) -> &'static str {
    match difference.measure {
        Measure::Pitch => " points",
        Measure::Lean | Measure::Entries | Measure::Upbeats => " ms",
        Measure::Spread | Measure::Swing | Measure::Lengths => "",
    }
}

/// To a tenth, with its sign; zero has none.
fn signed(value: f64) -> String {
    let tenths = (10.0 * value).round() / 10.0;
    if tenths == 0.0 {
        "0.0".into()
    } else {
        format!("{tenths:+.1}")
    }
}

fn count(count: usize, what: &str) -> String {
    match count {
        1 => format!("1 {what}"),
        some => format!("{some} {what}s"),
    }
}
