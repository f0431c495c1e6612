//! Strikes: notes that begin together, as a double stop does.

use super::frame::{Bar, Scale};
use super::quantise::Moved;
use crate::midi::tick_clock::TickClock;
use crate::played::PlayedNote;
use crate::score::lost::{Losses, Spot};
use crate::units::{Key, Nanos, Ticks};

/// Notes that begin this soon after one another, and overlap, are struck together.
const TOGETHER: Nanos = Nanos::from_ms(30);
/// An overlap longer than that is told, in ms.
const TOLD_MS: f64 = 30.0;

/// Notes struck together. Positions are ticks of a line since the start of the file.
#[derive(Clone, Debug, PartialEq)]
pub struct Strike {
    /// Where it begins.
    pub from: f64,
    /// Where the last of it ends; infinite where no end is in the file.
    pub end: f64,
    /// Each once, rising.
    pub keys: Vec<Key>,
    /// The hardest.
    pub velocity: u8,
    /// What a tick of a line lasts there.
    pub ms_per_tick: f64,
    /// Whether some end is not in the file.
    pub endless: bool,
}

/// Strikes by onset. Notes whose end is not in the file are held to the next strike.
pub fn join(notes: &[PlayedNote], clock: &TickClock, scale: Scale) -> Vec<Strike> {
    let mut sorted: Vec<&PlayedNote> = notes.iter().collect();
    sorted.sort_by_key(|note| (note.onset, note.key));
    let end = |note: &PlayedNote| note.length.map(|length| note.onset + length);
    let together = |first: &PlayedNote, note: &PlayedNote| {
        let close = note.onset - first.onset <= TOGETHER && note.key != first.key;
        close && end(first).is_none_or(|end| end > note.onset || note.onset == first.onset)
    };
    let mut strikes: Vec<Strike> = Vec::new();
    let mut first: Option<&PlayedNote> = None;
    for note in sorted {
        let strike = strike(note, clock, scale);
        match (first, strikes.last_mut()) {
            (Some(before), Some(open)) if together(before, note) => open.add(strike),
            _ => {
                first = Some(note);
                strikes.push(strike);
            }
        }
    }
    let nexts: Vec<f64> = strikes.iter().map(|strike| strike.from).collect();
    for (index, strike) in strikes.iter_mut().enumerate() {
        if strike.endless {
            let next = nexts.get(index + 1).copied();
            strike.end = next.unwrap_or(strike.from + 960.0).max(strike.from);
        }
    }
    strikes
}

fn strike(note: &PlayedNote, clock: &TickClock, scale: Scale) -> Strike {
    let tick = clock.tick_of(note.onset);
    let end = note.length.map(|length| clock.tick_of(note.onset + length));
    let quarter = u64::from(scale.division);
    let lasts = clock.time_of(tick.saturating_add(quarter)) - clock.time_of(tick);
    Strike {
        from: scale.exact(tick),
        end: end.map_or(0.0, |end| scale.exact(end)),
        keys: vec![note.key],
        velocity: note.velocity,
        ms_per_tick: lasts.ms() / 960.0,
        endless: end.is_none(),
    }
}

impl Strike {
    fn add(&mut self, other: Strike) {
        self.end = self.end.max(other.end);
        self.endless |= other.endless;
        self.velocity = self.velocity.max(other.velocity);
        self.keys.extend(other.keys);
        self.keys.sort();
        self.keys.dedup();
    }
}

/// One strike for each written place (in ticks since the start of the file). Of several at one place the longest stays.
pub fn settle(
    strikes: Vec<Strike>,
    places: &[Moved],
    bars: &[Bar],
    losses: &mut Losses,
) -> Vec<(i64, Strike)> {
    let mut settled: Vec<(i64, Strike)> = Vec::new();
    let mut spots: Vec<Spot> = Vec::new();
    for (strike, moved) in strikes.into_iter().zip(places) {
        let bar = &bars[moved.bar];
        let spot = Spot::new(&(moved.bar + 1).to_string(), bar.meter, Ticks(moved.at));
        if strike.endless {
            losses.add(
                "notes whose end is not in the file (held to the next)",
                spot.clone(),
            );
        }
        let at = bar.start + moved.at;
        match settled.last_mut() {
            Some((before, kept)) if *before == at => {
                losses.add("notes too close to another for the grid (left out)", spot);
                if strike.end - strike.from > kept.end - kept.from {
                    *kept = strike;
                }
            }
            _ => {
                settled.push((at, strike));
                spots.push(spot);
            }
        }
    }
    for (pair, spot) in settled.windows(2).zip(spots) {
        let ((_, strike), (_, next)) = (&pair[0], &pair[1]);
        if (strike.end - next.from) * strike.ms_per_tick > TOLD_MS {
            losses.add("notes that sound on under the next one (cut there)", spot);
        }
    }
    settled
}
