//! Which strings a part is played on, and what of it they can reach.

use super::performed::PerformedBar;
use super::{PitchAt, Sound};
use crate::line::Stop;
use crate::line::pitch::Pitch;
use crate::line::tuning::Tuning;
use crate::units::Key;

/// Common basses, the fewest strings first: four, five with a low B, five with a high C, six.
const BASSES: [&str; 4] = [
    "E1 A1 D2 G2",
    "B0 E1 A1 D2 G2",
    "E1 A1 D2 G2 C3",
    "B0 E1 A1 D2 G2 C3",
];

/// The part cannot be played on the instrument.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OutOfReach {
    /// The lowest and the highest pitch of the part.
    pub range: (Key, Key),
    /// By how many octaves it would have to be moved for a bass to reach all of it.
    pub octaves: Option<i32>,
}

/// The instrument that is wanted, else the one that the score names, else the smallest bass that reaches everything.
pub fn choose(
    bars: &[PerformedBar],
    wanted: Option<&Tuning>,
    named: Option<&Tuning>,
) -> Result<Tuning, OutOfReach> {
    let basses: Vec<Tuning> = BASSES.iter().filter_map(|open| tuning(open)).collect();
    let candidates: Vec<&Tuning> = match wanted {
        Some(wanted) => vec![wanted],
        None => named.into_iter().chain(&basses).collect(),
    };
    let sounds: Vec<&[PitchAt]> = pitches(bars).collect();
    let reaches_each = |tuning: &&&Tuning| sounds.iter().all(|at| each_reached(tuning, at, 0));
    let reaches_all = |tuning: &&&Tuning| sounds.iter().all(|at| reached(tuning, at));
    let found = candidates.iter().filter(reaches_each).find(reaches_all);
    if let Some(tuning) = found.or_else(|| candidates.iter().find(reaches_each)) {
        return Ok((*tuning).clone());
    }
    let mut octaves: Vec<i32> = (-8..=8).filter(|octaves| *octaves != 0).collect();
    octaves.sort_by_key(|octaves| octaves.abs());
    let fits = |octaves: &i32| {
        let shift = 12 * octaves;
        candidates
            .iter()
            .any(|tuning| sounds.iter().all(|at| each_reached(tuning, at, shift)))
    };
    let keys = || {
        sounds
            .iter()
            .flat_map(|at| at.iter())
            .filter_map(|at| at.pitch.key())
    };
    let range = keys().min().zip(keys().max());
    Err(OutOfReach {
        range: range.unwrap_or((Key(0), Key(0))),
        octaves: octaves.into_iter().find(fits),
    })
}

/// The open strings as a line file writes them.
pub fn tuning(open: &str) -> Option<Tuning> {
    let open: Option<Vec<Pitch>> = open
        .split_whitespace()
        .map(|name| name.parse().ok())
        .collect();
    let open = open.filter(|open| (1..=8).contains(&open.len()))?;
    let rising = open.is_sorted_by(|lower, upper| lower.key() < upper.key());
    let playable = open.iter().all(|pitch| pitch.key().is_some());
    (rising && playable).then_some(Tuning { open })
}

/// As many of the pitches as can be struck together, from the lowest up, on the strings that the score names where they
/// can be.
pub fn stops(tuning: &Tuning, pitches: &[PitchAt]) -> Vec<Stop> {
    let mut sorted: Vec<&PitchAt> = pitches.iter().collect();
    sorted.sort_by_key(|at| at.pitch.key());
    let place = |at: &PitchAt| {
        let on_string = at.string.filter(|string| {
            let key = at.pitch.key();
            key.is_some_and(|key| tuning.fret_of(key, *string).is_some())
        });
        match on_string {
            Some(string) => Stop::PitchOn {
                pitch: at.pitch,
                string,
            },
            None => Stop::Pitch(at.pitch),
        }
    };
    let named: Vec<Stop> = sorted.iter().map(|at| place(at)).collect();
    if tuning.reaches(&named, 0) {
        return named;
    }
    let mut stops = Vec::new();
    for at in sorted {
        stops.push(Stop::Pitch(at.pitch));
        if !tuning.reaches(&stops, 0) {
            stops.pop();
        }
    }
    stops
}

fn pitches(bars: &[PerformedBar]) -> impl Iterator<Item = &[PitchAt]> {
    let events = bars.iter().flat_map(|bar| &bar.events);
    events.filter_map(|event| match &event.sound {
        Sound::Pitches(pitches) => Some(pitches.as_slice()),
        Sound::Dead(_) => None,
    })
}

fn each_reached(tuning: &Tuning, pitches: &[PitchAt], shift: i32) -> bool {
    let reached = |at: &PitchAt| tuning.reaches(&[Stop::Pitch(at.pitch)], shift);
    pitches.iter().all(reached)
}

fn reached(tuning: &Tuning, pitches: &[PitchAt]) -> bool {
    // A chord of more notes than strings is not worth a search.
    let few = pitches.len() <= tuning.open.len();
    let stops = || {
        pitches
            .iter()
            .map(|at| Stop::Pitch(at.pitch))
            .collect::<Vec<_>>()
    };
    few && tuning.reaches(&stops(), 0)
}
