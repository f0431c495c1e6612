//! Takes as they are listed, one row each.

use super::columns::{Cells, Column, table};
use super::signed_ms;
use super::when;
use super::words::{shortest, wrap};
use crate::expected::tempo_map::Speed;
use crate::line::bar_range::BarRange;
use crate::line::mistake::counted;
use crate::logbook::sums::Sums;
use crate::logbook::takes::{State, TakeRow};
use crate::units::Nanos;
use jiff::{Timestamp, ZonedDateTime};

/// A take with what it came to.
#[derive(Clone, Debug, PartialEq)]
pub struct Listed {
    /// The take.
    pub take: TakeRow,
    /// Its sums; none while it has not been judged.
    pub sums: Option<Sums>,
}

/// Where nothing is known.
const NOT_KNOWN: &str = "–";

/// What stands behind a row, what it means, and when it holds.
type Mark = (&'static str, &'static str, fn(&TakeRow) -> bool);

const MARKS: [Mark; 3] = [
    ("*", "has a note", |take| !take.note.is_empty()),
    ("/", "broke off", |take| take.state == State::BrokenOff),
    (">", "is being played", |take| take.state == State::Playing),
];

/// How it is said when a take was begun.
pub type Said = fn(&ZonedDateTime, Timestamp) -> String;

/// The takes of a list, and how many there are besides: a table, what its marks mean, and what was left out.
pub fn list(takes: &[Listed], total: usize, now: Timestamp, width: usize) -> String {
    let mut text = rows(takes, (when::short, now), width);
    if takes.len() < total {
        let left_out = format!(
            "The latest {} of {}: --all lists them all.",
            takes.len(),
            counted(total, "take")
        );
        text += &(wrap(&left_out, width, "", "") + "\n");
    }
    text
}

/// The table alone, with what its marks mean.
pub fn rows(takes: &[Listed], when: (Said, Timestamp), width: usize) -> String {
    let mut text = table(&columns(takes, when), width);
    let meanings: Vec<String> = MARKS
        .iter()
        .filter(|(_, _, holds)| takes.iter().any(|listed| holds(&listed.take)))
        .map(|(mark, meaning, _)| format!("{mark} {meaning}"))
        .collect();
    if !meanings.is_empty() {
        text += &(wrap(&format!("({})", meanings.join("; ")), width, "", "") + "\n");
    }
    text
}

/// Right are notes of the written pitch, of all that had to be played and have one. What goes first where a terminal is narrow: spread, speed, bars, when, player, mean.
fn columns(takes: &[Listed], (said, now): (Said, Timestamp)) -> [Column; 10] {
    let several = takes
        .windows(2)
        .any(|pair| pair[0].take.player != pair[1].take.player);
    let when = |listed: &Listed| {
        let begun = when::begun(&listed.take.begun, listed.take.begun_ms);
        said(&begun, now)
    };
    let player = |listed: &Listed| match several {
        true => listed.take.player.clone(),
        false => String::new(),
    };
    let sums = |cell: fn(&Sums) -> Option<String>| {
        move |listed: &Listed| {
            let cell = listed.sums.as_ref().and_then(cell);
            cell.unwrap_or_else(|| NOT_KNOWN.into())
        }
    };
    let mean = |sums: &Sums| Some(format!("{} ms", signed_ms(ms(sums.offset_mean_ms?))));
    let spread = |sums: &Sums| Some(format!("{:.0} ms", sums.offset_sd_ms?));
    let right = |sums: &Sums| {
        Some(format!(
            "{}/{}",
            sums.pitch_right,
            sums.expected - sums.pitch_unjudged
        ))
    };
    let numbers = |expendable| (Cells::Numbers, expendable);
    [
        Column::of("take", numbers(0), takes, |listed| {
            listed.take.number.to_string()
        }),
        Column::of("when", (Cells::Text, 3), takes, when),
        Column::of("player", (Cells::Cut(6), 2), takes, player),
        Column::of("line", (Cells::Cut(12), 0), takes, |listed| {
            listed.take.line.clone()
        }),
        Column::of("bars", (Cells::Text, 4), takes, |listed| {
            listed.take.bars.map_or_else(String::new, bars)
        }),
        Column::of("speed", numbers(5), takes, |listed| {
            speed(listed.take.speed)
        }),
        Column::of("right", numbers(0), takes, sums(right)),
        Column::of("mean", numbers(1), takes, sums(mean)),
        Column::of("spread", numbers(6), takes, sums(spread)),
        Column::of("", (Cells::Text, 0), takes, |listed| marks(&listed.take)),
    ]
}

fn ms(ms: f64) -> Nanos {
    Nanos::from_ms_f64(ms)
}

fn bars(bars: BarRange) -> String {
    if bars.first == bars.last {
        bars.first.to_string()
    } else {
        format!("{}-{}", bars.first, bars.last)
    }
}

/// Nothing for the written tempo.
fn speed(speed: Speed) -> String {
    if speed == Speed::WRITTEN {
        return String::new();
    }
    format!("{} %", shortest(speed.percent()))
}

fn marks(take: &TakeRow) -> String {
    let marks = MARKS.iter().filter(|(_, _, holds)| holds(take));
    marks.map(|(mark, _, _)| *mark).collect()
}

/// What stands above a take's report: when, who, and what the player wrote.
pub fn head(take: &TakeRow, now: Timestamp, width: usize) -> String {
    let begun = when::begun(&take.begun, take.begun_ms);
    let named = format!(
        "Take {} · {} · {} · session {}",
        take.number,
        when::long(&begun, now),
        take.player,
        take.session
    );
    let mut text = wrap(&named, width, "", "  ") + "\n";
    if !take.note.is_empty() {
        text += &(wrap(&take.note, width, "Note: ", "  ") + "\n");
    }
    if take.state == State::BrokenOff {
        let broke_off =
            "It broke off; what the line has after the last note that was played is left out.";
        text += &(wrap(broke_off, width, "", "  ") + "\n");
    }
    text
}
