//! The player's own swing: pairs divided anew, their ends in place.

use crate::expected::{Expected, ExpectedNote};
use crate::line::meter::beat_is_dotted;
use crate::units::{Nanos, TICKS_PER_QUARTER};

/// Where the player feels a note to be whose pair has `factor` times its long : short ratio; where it is expected, when
/// it begins no swung pair's inside.
pub(super) fn onset(expected: &Expected, note: &ExpectedNote, factor: f64) -> Nanos {
    match Pair::around(expected, note) {
        Some(pair) if factor != 1.0 => pair.divided_anew(note.onset, factor),
        _ => note.onset,
    }
}

/// A swung pair in time.
struct Pair {
    start: Nanos,
    middle: Nanos,
    end: Nanos,
}

impl Pair {
    /// The pair that a note lies in, if swing has moved it.
    fn around(expected: &Expected, note: &ExpectedNote) -> Option<Pair> {
        let bar = &expected.bars[note.bar as usize];
        // `parts / divisor` ticks into the full bar, whose first tick a pickup does not have.
        let time = |parts: i64, divisor: i64| {
            let at = (bar.start - bar.offset).0 * divisor + parts;
            let map = &expected.tempo_map;
            map.time_at(i128::from(at), i128::from(divisor))
        };
        let at = (note.at + bar.offset).0;
        if note.onset == time(at, 1) {
            return None;
        }
        let (upbeat, divisor) = bar.upbeat;
        let pairs_are_beats = !beat_is_dotted(bar.beat) && 2 * upbeat.0 != bar.beat.0 * divisor;
        let length = match bar.beat.0 {
            beat if pairs_are_beats => beat,
            // Pairs of eighths would be beats.
            TICKS_PER_QUARTER => TICKS_PER_QUARTER / 2,
            _ => TICKS_PER_QUARTER,
        };
        let start = at / length * length;
        let middle = if pairs_are_beats {
            time(start * divisor + upbeat.0, divisor)
        } else {
            // The bar does not tell the ratio; the note itself does, if it is the second half.
            Some(note.onset).filter(|_| 2 * (at - start) == length)?
        };
        Some(Pair {
            start: time(start, 1),
            middle,
            end: time(start + length, 1),
        })
    }

    /// Both halves stretched evenly.
    fn divided_anew(&self, onset: Nanos, factor: f64) -> Nanos {
        let (long, short) = (self.middle - self.start, self.end - self.middle);
        let ratio = factor * long.0 as f64 / short.0 as f64;
        let own_long = (long + short).0 as f64 * ratio / (1.0 + ratio);
        let own_short = (long + short).0 as f64 / (1.0 + ratio);
        if onset <= self.middle {
            let share = own_long / long.0 as f64;
            self.start + Nanos(((onset - self.start).0 as f64 * share).round() as i64)
        } else {
            let share = own_short / short.0 as f64;
            self.end - Nanos(((self.end - onset).0 as f64 * share).round() as i64)
        }
    }
}
