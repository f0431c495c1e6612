//! The bars of a file and what holds in each: meter, tempo, key, name.

use super::error::Unreadable;
use super::key;
use super::tempo::{self, Tempi};
use crate::line::Tempo;
use crate::line::key_signature::KeySignature;
use crate::line::meter::{MOST_BEATS, Meter};
use crate::midi::smf::{SmfFile, TextKind};
use crate::midi::swing_marker::SwingMarker;
use crate::score::lost::{Losses, Spot};
use crate::units::{TICKS_PER_QUARTER, Ticks};

/// More bars are refused.
pub const MOST_BARS: usize = 10_000;
/// A bar that another meter cuts off sooner than this never began, in ticks.
const SHORTEST: i64 = 60;
/// A name this close to a bar line stands on it, in ticks.
const ON_LINE: i64 = 60;

/// One bar.
#[derive(Clone, Debug, PartialEq)]
pub struct Bar {
    /// Its first tick, counted from the start of the file in ticks of a line.
    pub start: i64,
    /// How long it lasts, shorter than its meter where another meter cuts it off.
    pub length: i64,
    /// How far into its meter it begins: 0, but for a pickup.
    pub into: i64,
    /// The meter.
    pub meter: Meter,
    /// The tempo at its start.
    pub tempo: Option<Tempo>,
    /// The key at its start.
    pub key: Option<KeySignature>,
    /// The marker that stands in it.
    pub mark: Option<String>,
    /// The marker in it that says how straight notes swing from there on.
    pub swing: Option<SwingMarker>,
}

/// File ticks to ticks of a line.
#[derive(Clone, Copy, Debug)]
pub struct Scale {
    /// Ticks of the file in a quarter.
    pub division: u16,
}

impl Scale {
    /// Where a tick of the file is, in ticks of a line since the start of the file.
    pub fn exact(self, tick: u64) -> f64 {
        tick as f64 * TICKS_PER_QUARTER as f64 / f64::from(self.division)
    }

    /// The same to the nearest tick.
    pub fn near(self, tick: u64) -> i64 {
        self.exact(tick).round().min(1e15) as i64
    }
}

/// Every bar from the start of the file to the one that holds `until`.
pub fn bars(
    file: &SmfFile,
    scale: Scale,
    until: i64,
    said: &mut Vec<String>,
    losses: &mut Losses,
) -> Result<Vec<Bar>, Unreadable> {
    let mut bars = metered(&meters(file, scale, losses), until)?;
    settle_pickup(&mut bars);
    let (tempi, told) = tempo::settle(file, scale, &bars, until, losses);
    said.extend(told);
    for (index, bar) in (0..).zip(&mut bars) {
        bar.tempo = tempi.at(index);
        let in_force = file
            .keys
            .iter()
            .rfind(|key| scale.near(key.tick) <= bar.start + ON_LINE);
        bar.key = in_force.map(|change| key::signature(*change));
    }
    name(&mut bars, file, scale, losses);
    Ok(bars)
}

fn meters(file: &SmfFile, scale: Scale, losses: &mut Losses) -> Vec<(i64, Meter)> {
    let mut meters = Vec::new();
    for signature in &file.time_signatures {
        let lower = u8::try_from(signature.lower)
            .ok()
            .filter(|lower| *lower <= 32);
        match lower.filter(|_| signature.upper <= MOST_BEATS) {
            Some(lower) => {
                let upper = signature.upper;
                meters.push((scale.near(signature.tick), Meter { upper, lower }));
            }
            None => losses.say(format!(
                "the meter {}/{}, which a line cannot have (the one before goes on)",
                signature.upper, signature.lower
            )),
        }
    }
    meters
}

fn metered(meters: &[(i64, Meter)], until: i64) -> Result<Vec<Bar>, Unreadable> {
    let mut bars = Vec::new();
    let (mut at, mut next) = (0, 0);
    let mut meter = Meter { upper: 4, lower: 4 };
    while at <= until {
        while let Some((_, new)) = meters.get(next).filter(|change| change.0 < at + SHORTEST) {
            meter = *new;
            next += 1;
        }
        let cut = meters.get(next).map_or(i64::MAX, |change| change.0 - at);
        let length = meter.bar().0.min(cut);
        if bars.len() == MOST_BARS {
            return Err(Unreadable::TooLong);
        }
        bars.push(Bar {
            start: at,
            length,
            into: 0,
            meter,
            tempo: None,
            key: None,
            mark: None,
            swing: None,
        });
        at += length;
    }
    Ok(bars)
}

/// A first bar with a shorter meter of its own is how a sequencer writes a pickup.
fn settle_pickup(bars: &mut [Bar]) {
    if let [first, second, ..] = bars
        && first.meter != second.meter
        && first.length < second.length
    {
        first.meter = second.meter;
    }
    if let [first, _, ..] = bars {
        first.into = (first.meter.bar().0 - first.length).max(0);
    }
}

fn name(bars: &mut [Bar], file: &SmfFile, scale: Scale, losses: &mut Losses) {
    let markers = || file.texts.iter().filter(|t| t.kind == TextKind::Marker);
    let is_swing = |text: &str| matches!(text.parse(), Ok(SwingMarker::Swung(..)));
    // A section may be called "straight" where nothing swings.
    let has_swing = markers().any(|marker| is_swing(&marker.text));
    for marker in markers().filter(|marker| !marker.text.trim().is_empty()) {
        let at = scale.near(marker.tick);
        let after = bars.partition_point(|bar| bar.start <= at + ON_LINE);
        let Some(index) = after.checked_sub(1) else {
            continue;
        };
        let bar = &mut bars[index];
        if at >= bar.start + bar.length + ON_LINE {
            losses.say("markers after the last note");
            continue;
        }
        let spot = Spot::new(
            &(index + 1).to_string(),
            bar.meter,
            Ticks((at - bar.start).max(0)),
        );
        if at > bar.start + ON_LINE {
            losses.add(
                "markers inside a bar (its section begins with the bar)",
                spot.clone(),
            );
        }
        if let Some(swing) = marker.text.parse().ok().filter(|_| has_swing) {
            bar.swing = Some(swing);
            continue;
        }
        match bar.mark {
            Some(_) => losses.add("second markers of a bar", spot),
            None => bar.mark = Some(marker.text.clone()),
        }
    }
}

impl Tempi {
    fn at(&self, bar: usize) -> Option<Tempo> {
        match self {
            Tempi::None => None,
            Tempi::One(tempo) => Some(*tempo),
            Tempi::Bars(tempi) => tempi.get(bar).copied(),
        }
    }
}
