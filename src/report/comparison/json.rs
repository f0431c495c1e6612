//! A comparison as JSON, schema `leadsman.compare/1`.
//!
//! ```text
//! { "schema": "leadsman.compare/1",
//!   "line": {"title", "file", "tempo", "speed", "bars", "notes"},      speed (percent) and bars are what is compared
//!   "fewest_takes": 3,                                                 players with fewer stand in no difference
//!   "false_share": 0.05,                                               of what is beyond chance so much may be chance
//!   "whole": PART,
//!   "sections": null | [PART…],                                        with --sections
//!   "left_out": [ {"file", "player", "why": "other-speed" | "other-bars" | "stopped" | "not-judged",
//!                  "speed": number | null, "bars": [first, last] | null, "error": text | null} ] }
//!
//! PART = { "section": null | name,
//!   "players": [ {"name", "takes", "expected", "matched",              notes of all takes together
//!                 "pitch_pct": FIGURE, "lean_ms": FIGURE, "spread_ms": FIGURE, "entries_ms": FIGURE,
//!                 "upbeats_ms": FIGURE, "swing_ratio": FIGURE, "length_pct": FIGURE} ],
//!   "differences": [ {"measure", "players": [first, second],           by name, in the order given
//!                     "kind": "difference" | "ratio",                  first less second, or first over second
//!                     "size", "interval": [low, high], "chance": p, "beyond_chance": bool} ] }
//! FIGURE = null | {"value", "interval": null | [low, high], "takes"}   takes that say something about it
//! ```
//!
//! Intervals are 95 % ones with takes as units (see [`crate::compare::pooled`]); what each figure is: see
//! [`crate::compare::measure::Measure`]. What is not known is null.

use super::{Comparison, LeftOut, Why};
use crate::compare::difference::{Difference, FALSE_SHARE, FEWEST_TAKES};
use crate::compare::measure::Measure;
use crate::compare::pooled::Pooled;
use crate::compare::{Part, PlayerSum};
use crate::line::bar_range::BarRange;
use crate::report::LineFacts;
use serde::Serialize;
use serde::ser::{SerializeMap, Serializer};
use std::io;

/// The name of the schema.
pub const SCHEMA: &str = "leadsman.compare/1";

/// Writes the comparison as one JSON document.
pub fn write(comparison: &Comparison, out: &mut impl io::Write) -> io::Result<()> {
    let document = Document {
        schema: SCHEMA,
        line: &comparison.line,
        fewest_takes: FEWEST_TAKES,
        false_share: FALSE_SHARE,
        whole: part(&comparison.whole),
        sections: comparison
            .sections
            .as_ref()
            .map(|sections| sections.iter().map(part).collect()),
        left_out: comparison
            .left_out
            .iter()
            .map(|take| left_out(take, &comparison.line))
            .collect(),
    };
    serde_json::to_writer(&mut *out, &document)?;
    writeln!(out)
}

#[derive(Serialize)]
struct Document<'a> {
    schema: &'static str,
    line: &'a LineFacts,
    fewest_takes: usize,
    false_share: f64,
    whole: PartFacts<'a>,
    sections: Option<Vec<PartFacts<'a>>>,
    left_out: Vec<LeftOutFacts<'a>>,
}

#[derive(Serialize)]
struct PartFacts<'a> {
    section: Option<&'a str>,
    players: Vec<PlayerFacts<'a>>,
    differences: Vec<DifferenceFacts<'a>>,
}

#[derive(Serialize)]
struct PlayerFacts<'a> {
    name: &'a str,
    takes: usize,
    expected: usize,
    matched: usize,
    #[serde(flatten)]
    measures: Measures<'a>,
}

struct Measures<'a>(&'a PlayerSum);

impl Serialize for Measures<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(Measure::ALL.len()))?;
        for measure in Measure::ALL {
            map.serialize_entry(measure.name(), &self.0.of(measure).map(figure))?;
        }
        map.end()
    }
}

#[derive(Serialize)]
struct Figure {
    value: f64,
    interval: Option<[f64; 2]>,
    takes: usize,
}

fn figure(pooled: &Pooled) -> Figure {
    Figure {
        value: pooled.value,
        interval: pooled.interval,
        takes: pooled.takes,
    }
}

#[derive(Serialize)]
struct DifferenceFacts<'a> {
    measure: &'static str,
    players: [&'a str; 2],
    kind: &'static str,
    size: f64,
    interval: [f64; 2],
    chance: f64,
    beyond_chance: bool,
}

#[derive(Serialize)]
struct LeftOutFacts<'a> {
    file: &'a str,
    player: &'a str,
    why: &'static str,
    speed: Option<f64>,
    bars: Option<BarRange>,
    error: Option<&'a str>,
}

fn part(part: &Part) -> PartFacts<'_> {
    let difference = |one: &Difference| DifferenceFacts {
        measure: one.measure.name(),
        players: one.players.map(|place| part.players[place].name.as_str()),
        kind: if one.is_ratio() {
            "ratio"
        } else {
            "difference"
        },
        size: one.size,
        interval: one.interval,
        chance: one.chance,
        beyond_chance: one.is_beyond_chance,
    };
    PartFacts {
        section: part.section.as_deref(),
        players: part.players.iter().map(player).collect(),
        differences: part.differences.iter().map(difference).collect(),
    }
}

fn player(sum: &PlayerSum) -> PlayerFacts<'_> {
    PlayerFacts {
        name: &sum.name,
        takes: sum.takes,
        expected: sum.expected,
        matched: sum.matched,
        measures: Measures(sum),
    }
}

fn left_out<'a>(take: &'a LeftOut, compared: &LineFacts) -> LeftOutFacts<'a> {
    let mut facts = LeftOutFacts {
        file: &take.file,
        player: &take.player,
        why: "stopped",
        speed: None,
        bars: None,
        error: None,
    };
    match &take.why {
        Why::Stopped => {}
        Why::NotJudged(error) => (facts.why, facts.error) = ("not-judged", Some(error.as_str())),
        Why::OtherWay(way) => {
            let is_of_bars = way.bars == compared.bars;
            facts.why = if is_of_bars {
                "other-speed"
            } else {
                "other-bars"
            };
            facts.speed = Some(f64::from(way.speed.0) / 1000.0);
            facts.bars = way.bars;
        }
    }
    facts
}
