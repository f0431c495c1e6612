//! When the stand-in's notes stop sounding: at their length, or later where a mute is missed.

use super::Habits;
use super::hand_moves::is_crossing;
use super::lengths::Lengths;
use super::timing::{OwnTime, Placed, Strike};
use crate::expected::{Expected, ExpectedNote};
use crate::units::Nanos;

/// The strike that is played next.
#[derive(Clone, Copy)]
pub(super) struct Next<'a> {
    pub(super) strike: Strike<'a>,
    pub(super) at: Nanos,
    /// Whether it follows as it does in the line: nothing is left out before it, and both are moved alike.
    pub(super) as_written: bool,
}

/// What ends the notes.
pub(super) struct Ringing<'a> {
    own: &'a OwnTime,
    habits: &'a Habits,
    lengths: Lengths<'a>,
}

impl<'a> Ringing<'a> {
    pub(super) fn new(expected: &Expected, own: &'a OwnTime, habits: &'a Habits) -> Ringing<'a> {
        Ringing {
            own,
            habits,
            lengths: Lengths::new(expected, habits),
        }
    }

    /// When a note ends.
    pub(super) fn end(&self, note: &ExpectedNote, placed: Placed, next: Option<Next>) -> Nanos {
        let (habits, own) = (self.habits, self.own);
        let next_at = next.map_or(Nanos::MAX, |next| next.at);
        let rest = self.rest(note, placed, next);
        // A hand that is late still damps in time: what comes next ends the note.
        let damped_at = rest.unwrap_or(next_at);
        let at = note.onset + placed.displaced;
        let span = own.span(note.section, at, note.sounding);
        let sounding = Nanos((span.0 as f64 * self.lengths.factor(note)).round() as i64);
        let end = (placed.onset + sounding).min(damped_at);
        let crosses = next.is_some_and(|next| next.strike.iter().all(|to| is_crossing(note, to)));
        let ring_ms = match (crosses, rest.is_some()) {
            (true, true) => habits.ring_over_ms.max(habits.rests_ring_ms),
            (true, false) => habits.ring_over_ms,
            (false, true) => habits.rests_ring_ms,
            (false, false) => 0.0,
        };
        if ring_ms > 0.0 {
            damped_at + Nanos::from_ms_f64(ring_ms)
        } else if (note.is.short || note.is.muted) && habits.mutes_open_ms > 0.0 {
            let open = placed.onset + sounding + Nanos::from_ms_f64(habits.mutes_open_ms);
            end.max(open.min(next_at))
        } else {
            end
        }
    }

    /// When the silence begins that follows a note: a rest, or the gap that a phrase in another place leaves.
    fn rest(&self, note: &ExpectedNote, placed: Placed, next: Option<Next>) -> Option<Nanos> {
        let moment = |time: Nanos| self.own.moment(note.section, time + placed.displaced);
        match next {
            Some(next) if !next.as_written => Some(moment(note.onset + note.written).min(next.at)),
            _ => note.rest_at.map(moment),
        }
    }
}
