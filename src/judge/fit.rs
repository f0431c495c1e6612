//! Whether a take is of this line at all, and if it is not as it stands, at which octave or speed it would be.

use super::cost::Pitch;
use super::judge::{Judgement, judge};
use super::settings::{LatencyTable, Settings};
use super::start::{self, Start};
use crate::expected::Expected;
use crate::played::{MidiMessage, TimedMessage};
use crate::units::{Key, Nanos};
use std::sync::Arc;

/// From this share of right notes on, a take is plainly of the line.
const GOOD: f64 = 0.75;
/// Below this share a take is looked at in other octaves and speeds.
const POOR: f64 = 0.5;
/// Below this share there is nothing to be said about it.
const HOPELESS: f64 = 0.1;
/// Fewer notes than this say nothing about octave or speed.
const FEWEST: usize = 4;

/// How a take stands to the line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fit {
    /// As it should, or nearly.
    Fits,
    /// It would, with its keys moved by this many octaves.
    Octave(i8),
    /// It would, at this percentage of the speed it was checked at.
    Speed(f64),
    /// Not at all.
    Not,
}

/// The share of notes that came right, of those that could have: an unfinished take is not a misfit.
pub fn right_share(expected: &Expected, judgement: &Judgement) -> f64 {
    let right = |pitch| matches!(pitch, Pitch::Right | Pitch::Unjudged);
    let partners = judgement
        .readings
        .iter()
        .filter_map(|reading| reading.partner);
    let right = partners.filter(|partner| right(partner.pitch)).count();
    right as f64 / expected.notes.len().min(judgement.played.len()).max(1) as f64
}

/// Says how a judged take fits. `events` are those of the take in its own time; `at_speed` unrolls the line at a
/// multiple of the speed that was checked.
pub fn fit(
    expected: &Expected,
    judgement: &Judgement,
    events: &[TimedMessage],
    settings: &Settings,
    at_speed: impl Fn(f64) -> Expected,
) -> Fit {
    let share = right_share(expected, judgement);
    if share >= POOR || judgement.played.len() < FEWEST {
        return if share > 0.0 { Fit::Fits } else { Fit::Not };
    }
    let octave = [1, -1, 2, -2].into_iter().find(|octaves| {
        let mut moved = *settings;
        moved.intake.octaves += octaves;
        share_from_start(expected, events, &moved) >= GOOD
    });
    if let Some(octaves) = octave {
        return Fit::Octave(octaves);
    }
    let speed = [0.5, 2.0, 0.75, 1.5, 2.0 / 3.0]
        .into_iter()
        .find(|factor| share_from_start(&at_speed(*factor), events, settings) >= GOOD);
    match speed {
        Some(factor) => Fit::Speed(100.0 * factor),
        None if share < HOPELESS => Fit::Not,
        None => Fit::Fits,
    }
}

fn share_from_start(expected: &Expected, events: &[TimedMessage], settings: &Settings) -> f64 {
    let Some(start) = estimate(expected, events, settings) else {
        return 0.0;
    };
    let expected = Arc::new(expected.clone());
    let from_bar_one = events.iter().map(|event| TimedMessage {
        at: event.at - start.at,
        ..*event
    });
    let judgement = judge(Arc::clone(&expected), settings, from_bar_one);
    right_share(&expected, &judgement)
}

/// The start of a take by its notes, octave, channel and latency taken into account.
pub fn estimate(
    expected: &Expected,
    events: &[TimedMessage],
    settings: &Settings,
) -> Option<Start> {
    let lowest = expected.notes.iter().filter_map(|note| note.key).min()?;
    let latency = LatencyTable::new(settings.latency, lowest);
    let onset = |event: &TimedMessage| match settings.intake.admit(*event)?.message {
        MidiMessage::NoteOn { key, .. } => Some((event.at - latency.of(key), key)),
        _ => None,
    };
    let mut played: Vec<(Nanos, Key)> = events.iter().filter_map(onset).collect();
    played.sort_unstable();
    start::estimate(expected, &played)
}
