//! When the stand-in strikes.

mod own_time;
mod phrase;
mod self_paced;
mod swing;
mod tempo;
mod wander;

pub(super) use own_time::OwnTime;
pub(super) use phrase::repeated_bar;

use super::Habits;
use super::hand_moves::{self, Shifts};
use crate::expected::{Expected, ExpectedNote};
use crate::line::Stroke;
use crate::units::Nanos;
use wander::Wander;

/// The notes that are struck together; never empty.
pub(super) type Strike<'a> = &'a [ExpectedNote];

/// The least time between two strikes of one hand, where the line itself does not ask for less: nobody plucks more than
/// sixteen or so notes a second.
const LEAST_GAP: Nanos = Nanos::from_ms(60);

/// Where a strike is played.
#[derive(Clone, Copy, Debug)]
pub(super) struct Placed {
    pub(super) onset: Nanos,
    /// How far from its place in the line it is meant.
    pub(super) displaced: Nanos,
}

/// Where each strike is played, `None` where it is left out: the notes of a double stop begin together, and nobody plays
/// a later note first.
pub(super) fn place(
    expected: &Expected,
    strikes: &[Strike],
    own: &OwnTime,
    habits: &Habits,
    seed: u64,
) -> Vec<Option<Placed>> {
    let offsets_ms = offsets_ms(expected, strikes, habits, seed);
    let swung: Vec<Nanos> = strikes
        .iter()
        .map(|strike| swing::onset(expected, &strike[0], habits.swing_factor))
        .collect();
    let mut meant = phrase::displacements(expected, strikes, habits);
    leave_out_unreached(strikes, own, &mut meant);
    let mut last: Option<(usize, Nanos)> = None;
    let place = |index: usize| {
        let displaced = meant[index]?;
        let section = strikes[index][0].section;
        let felt = own.moment(section, swung[index] + displaced);
        let mut onset = felt + Nanos::from_ms_f64(offsets_ms[index]);
        if let Some((before, at)) = last {
            let asked = own.stretched(swung[index] - swung[before]);
            onset = onset.max(at + least_gap(asked));
        }
        last = Some((index, onset));
        Some(Placed { onset, displaced })
    };
    (0..strikes.len()).map(place).collect()
}

/// The least time between two strikes that the line has this far apart.
fn least_gap(asked: Nanos) -> Nanos {
    asked.min(LEAST_GAP)
}

/// Every section begins in place: what a section with a slower tempo of its own has not reached by then is left out.
fn leave_out_unreached(strikes: &[Strike], own: &OwnTime, meant: &mut [Option<Nanos>]) {
    let felt = |strike: Strike| own.moment(strike[0].section, strike[0].onset);
    for end in 1..strikes.len() {
        let next = strikes[end];
        if strikes[end - 1][0].section == next[0].section {
            continue;
        }
        for index in (0..end).rev() {
            let gap = least_gap(own.stretched(next[0].onset - strikes[index][0].onset));
            // A nanosecond of rounding is no delay.
            if felt(strikes[index]) + gap <= felt(next) + Nanos(1) {
                break;
            }
            meant[index] = None;
        }
    }
}

/// What is added to each strike's time by habit and by chance.
fn offsets_ms(expected: &Expected, strikes: &[Strike], habits: &Habits, seed: u64) -> Vec<f64> {
    let mut wander = Wander::new(habits, seed);
    let mut shifts = Shifts::default();
    let mut offsets = self_paced::offsets_ms(expected, strikes, habits, seed, |bar| bar.silent);
    for (index, strike) in strikes.iter().enumerate() {
        let note = &strike[0];
        let before = index.checked_sub(1).map(|before| &strikes[before][0]);
        let by_hand = [
            (note.is.entry, habits.late_entries_ms),
            (note.is.upbeat, habits.upbeats_ms),
            (note.is.skip, habits.skips_ms),
            (note.stroke == Some(Stroke::Up), habits.up_strokes_ms),
            (note.finger == Some(4), habits.fourth_finger_ms),
            (
                before.is_some_and(|before| hand_moves::is_crossing(before, note)),
                habits.crossings_ms,
            ),
            (shifts.is_next(strike), habits.shifts_ms),
        ];
        let mut habit_ms = wander.next_ms(&expected.bars[note.bar as usize]);
        for (_, ms) in by_hand.into_iter().filter(|(applies, _)| *applies) {
            habit_ms += ms;
        }
        offsets[index] += habit_ms;
    }
    offsets
}
