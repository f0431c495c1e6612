//! Whether a take is of this line at all, and if it is not as it stands, at which octave or speed it would be.

use super::cost::Pitch;
use super::judge::{Judgement, judge};
use super::reading::Partner;
use super::settings::{LatencyTable, Settings};
use super::start::{self, Start};
use crate::expected::Expected;
use crate::played::cleanup::Cleanup;
use crate::played::{MidiMessage, TimedMessage};
use crate::units::{Key, Nanos};
use std::sync::Arc;

/// From this share of right notes on, a take is plainly of the line.
const GOOD: f64 = 0.75;
/// Below this share a take is looked at in other octaves and speeds.
const POOR: f64 = 0.5;
/// Below this share there is nothing to be said about it. Takes of other lines of ours, followed as well as they can
/// be, come to 0 to 0.38; takes of the line with every other note wrong or missing to 0.36 and more.
const HOPELESS: f64 = 0.25;
/// Octaves that a whole take may be off by, the likely ones first.
const OCTAVES: [i8; 4] = [1, -1, 2, -2];
/// Fewer notes than this say nothing about octave or speed.
const FEWEST: usize = 4;
/// Another octave or speed shows in the first notes of a line; a long take is not judged whole for each of them.
const SAMPLED: usize = 2048;

/// How a take stands to the line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Fit {
    /// As it should, or nearly.
    Fits,
    /// So badly that it may be a take of something else.
    Barely,
    /// It would, with its keys moved by this many octaves.
    Octave(i8),
    /// It would, at this percentage of the speed it was checked at.
    Speed(f64),
    /// Not at all.
    Not,
}

/// The share of notes that came right, of those that could have: an unfinished take is not a misfit. Dead notes, which
/// anything fits, count only in a line of nothing else.
pub fn right_share(expected: &Expected, judgement: &Judgement) -> f64 {
    share(expected, judgement, |_| true)
}

/// The same of notes that were in their place: a take at another speed is followed from displacement to displacement.
fn in_place_share(expected: &Expected, judgement: &Judgement) -> f64 {
    share(expected, judgement, |partner| partner.displaced.0 == 0)
}

fn share(expected: &Expected, judgement: &Judgement, counts: impl Fn(&Partner) -> bool) -> f64 {
    let pitched = expected
        .notes
        .iter()
        .filter(|note| note.key.is_some())
        .count();
    let (right, possible) = match pitched {
        0 => (Pitch::Unjudged, expected.notes.len()),
        some => (Pitch::Right, some),
    };
    let partners = judgement
        .readings
        .iter()
        .filter_map(|reading| reading.partner);
    let came_right = partners
        .filter(|partner| partner.pitch == right && counts(partner))
        .count();
    came_right as f64 / possible.min(judgement.played.len()).max(1) as f64
}

/// By how many octaves a take has to be moved to be right, where nearly all of it was played in its place and equally
/// far off.
pub fn octaves_off(expected: &Expected, judgement: &Judgement) -> Option<i8> {
    let mut counts = [0usize; 21];
    let mut pitched = 0;
    for (reading, note) in judgement.readings.iter().zip(&expected.notes) {
        let (Some(key), Some(partner)) = (note.key, reading.partner) else {
            continue;
        };
        pitched += 1;
        if partner.pitch == Pitch::Octave {
            let played = judgement.played[partner.played as usize].key;
            let octaves = (i16::from(key.0) - i16::from(played.0)) / 12;
            counts[(octaves + 10) as usize] += 1;
        }
    }
    let most = (0..counts.len()).max_by_key(|index| counts[*index])?;
    let throughout = pitched >= FEWEST && counts[most] as f64 >= GOOD * pitched as f64;
    throughout.then_some(most as i8 - 10)
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
    if in_place_share(expected, judgement) >= POOR || judgement.played.len() < FEWEST {
        return if share > 0.0 { Fit::Fits } else { Fit::Not };
    }
    let octave = OCTAVES
        .into_iter()
        .find(|octaves| share_from_start(expected, events, &moved(settings, *octaves)) >= GOOD);
    if let Some(octaves) = octave {
        return Fit::Octave(octaves);
    }
    let speed = [0.5, 2.0, 0.75, 1.5, 2.0 / 3.0]
        .into_iter()
        .find(|factor| share_from_start(&at_speed(*factor), events, settings) >= GOOD);
    match speed {
        Some(factor) => Fit::Speed(100.0 * factor),
        None if share < HOPELESS => Fit::Not,
        None if share < POOR => Fit::Barely,
        None => Fit::Fits,
    }
}

fn moved(settings: &Settings, octaves: i8) -> Settings {
    let mut moved = *settings;
    moved.intake.octaves = moved.intake.octaves.saturating_add(octaves);
    moved
}

fn share_from_start(expected: &Expected, events: &[TimedMessage], settings: &Settings) -> f64 {
    let Some(start) = estimate_in_octave(expected, events, settings) else {
        return 0.0;
    };
    let expected = Arc::new(beginning(expected));
    let from_bar_one = events.iter().map(|event| TimedMessage {
        at: event.at - start.at,
        ..*event
    });
    let from_bar_one = from_bar_one.take_while(|event| event.at < expected.end);
    let judgement = judge(Arc::clone(&expected), settings, from_bar_one);
    in_place_share(&expected, &judgement)
}

/// The bars that hold the first [`SAMPLED`] notes.
fn beginning(expected: &Expected) -> Expected {
    let Some(last) = expected.notes.get(SAMPLED) else {
        return expected.clone();
    };
    let bars = &expected.bars[..=last.bar as usize];
    let notes = expected.notes.partition_point(|note| note.bar <= last.bar);
    Expected {
        notes: expected.notes[..notes].to_vec(),
        bars: bars.to_vec(),
        sections: expected.sections.clone(),
        strings: expected.strings.clone(),
        open: expected.open.clone(),
        tempo_map: expected.tempo_map.clone(),
        end: bars[bars.len() - 1].end,
    }
}

/// The start of a take by its notes, with channel, cleaning and latency taken into account; where the take fits in
/// another octave only, the start that it has there.
pub fn estimate(
    expected: &Expected,
    events: &[TimedMessage],
    settings: &Settings,
) -> Option<Start> {
    let as_it_is = estimate_in_octave(expected, events, settings);
    if as_it_is.is_some_and(|start| start.share >= POOR) {
        return as_it_is;
    }
    let mut elsewhere = OCTAVES
        .into_iter()
        .filter_map(|octaves| estimate_in_octave(expected, events, &moved(settings, octaves)));
    elsewhere.find(|start| start.share >= GOOD).or(as_it_is)
}

fn estimate_in_octave(
    expected: &Expected,
    events: &[TimedMessage],
    settings: &Settings,
) -> Option<Start> {
    let lowest = expected.notes.iter().filter_map(|note| note.key).min()?;
    let latency = LatencyTable::new(settings.latency, lowest);
    let mut cleanup = Cleanup::new(settings.cleanup);
    let mut played: Vec<(Nanos, Key)> = Vec::with_capacity(events.len() / 2);
    let mut begin = |event: TimedMessage| {
        if let MidiMessage::NoteOn { key, .. } = event.message {
            played.push((event.at - latency.of(key), key));
        }
    };
    let admitted = events
        .iter()
        .filter_map(|event| settings.intake.admit(*event));
    admitted.for_each(|event| cleanup.push(event, &mut begin));
    cleanup.finish(&mut begin);
    played.sort_unstable();
    start::estimate(expected, &played)
}
