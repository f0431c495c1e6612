//! When the stand-in's notes stop sounding: at their length, or later where a mute is missed.

use super::Habits;
use super::timing::OwnTime;
use crate::expected::ExpectedNote;
use crate::units::{Key, Nanos};

/// From this many semitones on, a change of place counts as a jump where the line names no strings.
const JUMP_SEMITONES: u8 = 5;

/// When a note that began at `onset` ends. `next` is the strike that follows in the line and when it begins.
pub(super) fn end(
    note: &ExpectedNote,
    onset: Nanos,
    next: Option<(&[ExpectedNote], Nanos)>,
    habits: &Habits,
) -> Nanos {
    let own = OwnTime::new(habits);
    let rest = note.rest_at.map(|rest| own.moment(rest));
    // A hand that is late still damps in time: what comes next ends the note.
    let damped_at = rest.or(next.map(|(_, at)| at)).unwrap_or(Nanos::MAX);
    let sounding = Nanos((own.span(note.sounding).0 as f64 * habits.short_notes).round() as i64);
    let end = (onset + sounding).min(damped_at);
    let jumps = next.is_some_and(|(notes, _)| notes.iter().all(|next| is_jump(note, next)));
    let ring_ms = match (jumps, rest.is_some()) {
        (true, true) => habits.ring_over_ms.max(habits.rests_ring_ms),
        (true, false) => habits.ring_over_ms,
        (false, true) => habits.rests_ring_ms,
        (false, false) => 0.0,
    };
    if ring_ms > 0.0 {
        damped_at + Nanos::from_ms_f64(ring_ms)
    } else {
        end
    }
}

/// Whether the hand jumps: to another string where the line names both, else over five semitones or more.
fn is_jump(from: &ExpectedNote, to: &ExpectedNote) -> bool {
    match (from.string, to.string, from.key, to.key) {
        (Some(from), Some(to), _, _) => from != to,
        (_, _, Some(Key(from)), Some(Key(to))) => from.abs_diff(to) >= JUMP_SEMITONES,
        _ => false,
    }
}
