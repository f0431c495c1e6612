//! The bars in playing order, each as long as a bar can be: parts of bars joined, the last one filled up.

use super::lost::{Losses, Spot};
use super::{Event, Measure, Score, lengths, meter_of};
use crate::line::chord::ChordSymbol;
use crate::line::key_signature::KeySignature;
use crate::line::meter::Meter;
use crate::line::{SwingRatio, Swung, Tempo};
use crate::units::Ticks;

/// A thirty-second: every bar is a whole number of them.
const GRAIN: i64 = 120;

/// What a section says about how it is played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Settings {
    pub meter: Meter,
    pub tempo: Option<Tempo>,
    pub swing: Option<SwingRatio>,
    pub swung: Swung,
    pub key: Option<KeySignature>,
}

/// One bar as it is played.
#[derive(Clone, Debug, PartialEq)]
pub struct PerformedBar {
    pub name: String,
    pub settings: Settings,
    pub length: Ticks,
    pub mark: Option<String>,
    /// Whether a section may begin here: a repeat, a double bar, or a jump back before it.
    pub begins: bool,
    pub events: Vec<Event>,
    pub chords: Vec<(Ticks, ChordSymbol)>,
}

/// The bars as they are played. The first may be a pickup.
pub fn bars(score: &Score, losses: &mut Losses) -> Vec<PerformedBar> {
    let mut bars: Vec<PerformedBar> = Vec::new();
    let mut before: Option<usize> = None;
    for index in &score.playing {
        let Some(measure) = score.measures.get(*index) else {
            continue;
        };
        let back = before.is_some_and(|before| *index <= before);
        before = Some(*index);
        let bar = bar(measure, back);
        // The first bar stays a pickup, whatever follows it.
        let joins = bars.len() > 1
            && bars.last().is_some_and(|open| {
                let full = open.settings.meter.bar();
                let both = open.length + bar.length;
                open.settings.meter == bar.settings.meter
                    && (both == full || both < full && !bar.begins)
            });
        match bars.last_mut() {
            Some(open) if joins => join(open, bar, losses),
            _ => bars.push(bar),
        }
    }
    if let [.., last] = &mut bars[..]
        && score.playing.len() > 1
    {
        last.length = last.length.max(last.settings.meter.bar());
    }
    for (index, bar) in bars.iter_mut().enumerate() {
        fit_meter(bar, index == 0, losses);
    }
    bars
}

/// How many bars are a pickup: 1 where the first is short and the next goes on in the same way. A short first bar that
/// is none gets a meter of its own.
pub fn settle_pickup(bars: &mut [PerformedBar], losses: &mut Losses) -> usize {
    let [first, rest @ ..] = bars else {
        return 0;
    };
    if first.length == first.settings.meter.bar() {
        return 0;
    }
    if rest
        .first()
        .is_some_and(|next| next.settings == first.settings)
    {
        return 1;
    }
    fit_meter(first, false, losses);
    0
}

fn bar(measure: &Measure, back: bool) -> PerformedBar {
    PerformedBar {
        name: measure.name.clone(),
        settings: Settings {
            meter: measure.meter,
            tempo: measure.tempo,
            swing: measure.swing,
            swung: measure.swung,
            key: measure.key,
        },
        length: measure.length,
        mark: measure.mark.clone(),
        begins: back || measure.begins,
        events: measure.events.clone(),
        chords: measure.chords.clone(),
    }
}

/// Two parts of one bar, such as the end of a repeat and the pickup that leads back.
fn join(open: &mut PerformedBar, bar: PerformedBar, losses: &mut Losses) {
    let by = open.length;
    if bar.mark.is_some() {
        let spot = Spot::new(&bar.name, bar.settings.meter, Ticks(0));
        losses.add("section names inside a bar", spot);
    }
    open.events
        .extend(bar.events.into_iter().map(|event| Event {
            at: event.at + by,
            ..event
        }));
    let chords = bar.chords.into_iter().map(|(at, chord)| (at + by, chord));
    open.chords.extend(chords);
    open.length += bar.length;
}

/// Whether rests can fill it: a pickup of one triplet eighth is common.
fn is_writable(length: Ticks) -> bool {
    lengths::written(Ticks(0), length).is_some()
}

/// Gives a bar that is not as long as its meter says one of its own. A short first bar is a pickup.
fn fit_meter(bar: &mut PerformedBar, first: bool, losses: &mut Losses) {
    let full = bar.settings.meter.bar();
    let is_pickup = first && bar.length < full && is_writable(bar.length);
    if bar.length == full || is_pickup {
        return;
    }
    if let Some(meter) = meter_of(bar.length) {
        bar.settings.meter = meter;
        return;
    }
    // No meter is as long as that: a bar of whole thirty-seconds is, as far as a line goes.
    let spot = Spot::new(&bar.name, bar.settings.meter, Ticks(0));
    let rounded = Ticks((bar.length.0 + GRAIN - 1) / GRAIN * GRAIN);
    let Some(meter) = meter_of(rounded) else {
        losses.add("bars longer than a line can have (cut)", spot);
        let full = full.max(bar.settings.meter.bar());
        bar.events.retain(|event| event.end() <= full);
        bar.chords.retain(|(at, _)| *at < full);
        bar.length = full;
        return;
    };
    losses.add(
        "bars of a length that no meter has (made longer by a rest)",
        spot,
    );
    bar.length = rounded;
    bar.settings.meter = meter;
}

/// Undoes ties that lead into something else: after jumps, joins and moved notes.
pub fn settle_ties(bars: &mut [PerformedBar]) {
    let places: Vec<(usize, usize)> = bars
        .iter()
        .enumerate()
        .flat_map(|(bar, content)| (0..content.events.len()).map(move |event| (bar, event)))
        .collect();
    for (index, (bar, event)) in places.iter().enumerate() {
        let this = &bars[*bar].events[*event];
        let to_bar_line = this.end() == bars[*bar].length;
        let follows = places.get(index + 1).is_some_and(|(next_bar, next)| {
            let next_event = &bars[*next_bar].events[*next];
            let adjacent = if next_bar == bar {
                next_event.at == this.end()
            } else {
                *next_bar == bar + 1 && to_bar_line && next_event.at == Ticks(0)
            };
            adjacent && this.sound.ties_to(&next_event.sound)
        });
        bars[*bar].events[*event].tie &= follows;
    }
}
