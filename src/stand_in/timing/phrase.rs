//! Phrases in the wrong place: played early or late as a whole, a bar left out, a bar played twice.

use super::{Strike, least_gap};
use crate::expected::Expected;
use crate::stand_in::Habits;
use crate::units::{Nanos, Ticks};

/// The length of the phrase that is moved.
const PHRASE_BEATS: i64 = 8;
/// Bars that are played in the wrong place after one left out or played twice.
const LOST_BARS: usize = 2;

/// How far from its place each strike is meant; `None` where it is left out.
pub(super) fn displacements(
    expected: &Expected,
    strikes: &[Strike],
    habits: &Habits,
) -> Vec<Option<Nanos>> {
    let mut meant = vec![Some(Nanos::ZERO); strikes.len()];
    let Some(middle) = middle_bar(expected) else {
        return meant;
    };
    for (strike, meant) in strikes.iter().zip(&mut meant) {
        let onset = strike[0].onset;
        *meant = shift_of(expected, strike, middle, habits)
            .map(|by| expected.tempo_map.displaced(onset, by) - onset);
    }
    leave_out_covered(strikes, &mut meant);
    meant
}

/// The bar in [`Expected::bars`] that is played twice, and how long it lasts.
pub(in crate::stand_in) fn repeated_bar(
    expected: &Expected,
    habits: &Habits,
) -> Option<(u32, Nanos)> {
    let middle = middle_bar(expected).filter(|_| habits.repeated_bar >= 0.5)?;
    let bar = &expected.bars[middle];
    Some((middle as u32, bar.end - bar.onset))
}

/// Of n full bars the one that n / 2 come before.
fn middle_bar(expected: &Expected) -> Option<usize> {
    let pickups = expected.bars.iter().filter(|bar| bar.number == 0).count();
    let middle = pickups + (expected.bars.len() - pickups) / 2;
    (middle < expected.bars.len()).then_some(middle)
}

fn shift_of(expected: &Expected, strike: Strike, middle: usize, habits: &Habits) -> Option<Ticks> {
    let note = &strike[0];
    let (bar, own_bar) = (&expected.bars[middle], note.bar as usize);
    let mut by = Ticks(0);
    if (middle + 1..=middle + LOST_BARS).contains(&own_bar) {
        if habits.repeated_bar >= 0.5 {
            by += bar.length;
        }
        if habits.skipped_bar >= 0.5 {
            by += -bar.length;
        }
    }
    let into = expected.bars[own_bar].start + note.at - bar.start;
    if (0..PHRASE_BEATS * bar.beat.0).contains(&into.0) {
        by += Ticks((habits.late_phrase_beats * bar.beat.0 as f64).round() as i64);
    }
    let is_skipped = own_bar == middle && habits.skipped_bar >= 0.5;
    (!is_skipped).then_some(by)
}

/// A hand that plays a phrase in another's place does not play the other: strikes in place that a moved one has
/// overtaken, or comes too close to.
fn leave_out_covered(strikes: &[Strike], meant: &mut [Option<Nanos>]) {
    let is_moved = |meant: &Option<Nanos>| meant.is_some_and(|by| by != Nanos::ZERO);
    let moved: Vec<usize> = (0..meant.len()).filter(|i| is_moved(&meant[*i])).collect();
    let collides = |first: usize, then: usize, meant: &[Option<Nanos>]| {
        let at = |strike: usize| strikes[strike][0].onset + meant[strike].unwrap_or(Nanos::ZERO);
        at(then) < at(first) + least_gap(strikes[then][0].onset - strikes[first][0].onset)
    };
    for strike in 0..meant.len() {
        let after = moved.partition_point(|moved| *moved < strike);
        let earlier = after.checked_sub(1).map(|index| moved[index]);
        let later = moved.get(after).copied();
        let covered = earlier.is_some_and(|earlier| collides(earlier, strike, meant))
            || later.is_some_and(|later| collides(strike, later, meant));
        if covered && !is_moved(&meant[strike]) {
            meant[strike] = None;
        }
    }
}
