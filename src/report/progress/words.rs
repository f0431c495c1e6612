//! How measures, amounts and changes are called, for all that tells of progress.

use crate::line::bar_range::BarRange;
use crate::line::mistake::counted;
use crate::progress::measure::{Measure, Scale};
use crate::progress::outcome::{Basis, Change, SpeedBasis, Verdict, WhyNot};
use crate::progress::today::{Reason, Suggestion};
use crate::report::signed_ms;
use crate::units::Nanos;

/// What a measure is called.
pub fn measure(measure: Measure) -> &'static str {
    match measure {
        Measure::Spread => "spread",
        Measure::Lean => "lean",
        Measure::Entries => "entries",
        Measure::Upbeats => "upbeats",
        Measure::Swing => "swing",
        Measure::Lengths => "lengths",
        Measure::Pitch => "pitch",
    }
}

/// What a measure tells, with its unit.
pub fn meaning(measure: Measure) -> &'static str {
    match measure {
        Measure::Spread => "how much the notes scatter, ms",
        Measure::Lean => "where you sit against the click, ms",
        Measure::Entries => "entries against your other notes, ms",
        Measure::Upbeats => "upbeats against your other notes, ms",
        Measure::Swing => "swing ratio as played, percent of the written one",
        Measure::Lengths => "lengths as played, percent of the written ones",
        Measure::Pitch => "right notes of those written, percent",
    }
}

/// A value of a measure with its unit.
pub fn value(measure: Measure, value: f64) -> String {
    match measure {
        Measure::Spread => format!("{value:.0} ms"),
        Measure::Lean | Measure::Entries | Measure::Upbeats => format!("{} ms", ms(value)),
        Measure::Swing | Measure::Lengths | Measure::Pitch => format!("{:.0} %", 100.0 * value),
    }
}

/// An amount of change: a factor in percent, a difference in ms or in points of a hundred.
pub fn amount(scale: Scale, amount: f64) -> String {
    match scale {
        Scale::Factor => format!("{} %", signed(100.0 * (amount - 1.0))),
        Scale::DifferenceMs => format!("{} ms", ms(amount)),
        Scale::DifferenceOfShares => format!("{} points", signed(100.0 * amount)),
    }
}

/// `-29 % (-38 to -19)`.
pub fn change(change: &Change) -> String {
    let [low, high] = change.interval.map(|end| bare(change.scale, end));
    format!("{} ({low} to {high})", amount(change.scale, change.change))
}

/// An amount without its unit.
fn bare(scale: Scale, amount: f64) -> String {
    match scale {
        Scale::Factor => signed(100.0 * (amount - 1.0)),
        Scale::DifferenceMs => ms(amount),
        Scale::DifferenceOfShares => signed(100.0 * amount),
    }
}

fn ms(value: f64) -> String {
    signed_ms(Nanos::from_ms_f64(value))
}

fn signed(value: f64) -> String {
    match value.round() {
        0.0 => "0".into(),
        rounded => format!("{rounded:+.0}"),
    }
}

/// What is to be said of a change.
pub fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Better => "better",
        Verdict::Worse => "worse",
        Verdict::Moved => "moved",
        Verdict::NoChange => "no change beyond chance",
    }
}

/// From how large a change on it would have stood out.
pub fn detectable(change: &Change) -> String {
    match change.scale {
        Scale::DifferenceMs => {
            let [better, worse] = change.detectable.map(f64::abs);
            format!("{:.0} ms either way", better.max(worse))
        }
        scale => amount(scale, change.detectable[0]),
    }
}

/// Why something cannot be said.
pub fn why_not(why: WhyNot) -> String {
    match why {
        WhyNot::NothingHeard => "nothing of it was heard".into(),
        WhyNot::FewSessions { have, need } => {
            format!("{} so far; it takes {need}", counted(have, "session"))
        }
        WhyNot::FewLongSessions { have, need } => format!(
            "{} between sessions of two takes or more so far; it takes {need}",
            counted(have, "night")
        ),
        WhyNot::SpeedRoseWithTime => {
            "the speed rose along with the days: which of the two it is cannot be told".into()
        }
        WhyNot::SeveralSpeeds => "it is told of one speed only: choose one with --speed".into(),
        WhyNot::NoFall => "the spread does not fall beyond chance".into(),
        WhyNot::NoBendYet => {
            "it falls in a straight line so far: where it will level off cannot be told".into()
        }
    }
}

/// What statements rest on: `all of the line at 100 %: 30 takes in 8 sessions`.
pub fn basis(basis: &Basis) -> String {
    let bars = of_bars(basis.bars);
    let speed = match basis.speed {
        SpeedBasis::Same { speed } => format!("at {speed} %"),
        SpeedBasis::Modelled {
            slowest,
            fastest,
            speed,
        } => {
            format!("at {slowest} to {fastest} %, worked out for {speed} %")
        }
    };
    let left_out = match basis.left_out {
        0 => String::new(),
        takes => format!("; {} stopped early left out", counted(takes, "take")),
    };
    format!(
        "{bars} {speed}: {} in {}{left_out}",
        counted(basis.takes, "take"),
        counted(basis.sessions, "session")
    )
}

/// Which bars.
pub fn of_bars(bars: Option<BarRange>) -> String {
    bars.map_or_else(|| "all of the line".into(), |bars| bars.to_string())
}

/// What a finding is called: its id in words.
pub fn finding(id: &str) -> String {
    id.replace('-', " ")
}

/// Why something is suggested.
pub fn reason(suggestion: &Suggestion) -> String {
    match &suggestion.reason {
        Reason::NearlyThere => format!(
            "nearly there, one more clean take holds {} %",
            suggestion.speed
        ),
        Reason::Weakest {
            finding: id,
            count,
            of,
        } => {
            format!("weakest last time: {}, {count} of {of}", finding(id))
        }
        Reason::Stale { days } => format!("not played for {}", counted(*days as usize, "day")),
        Reason::NextSpeed { held: Some(held) } => format!("held clean at {held} %, the next speed"),
        Reason::NextSpeed { held: None } => "not held clean yet".into(),
    }
}
