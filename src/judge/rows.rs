//! Displacement: the grids on which a phrase may be followed when it is not in its place.
//!
//! Row 0 is the line in its place; every other row is the whole line moved by a number of written ticks. A player
//! slips by what the meter is felt in, so the step is half a beat (a third of it in compound meters, where the beat
//! divides in three), up to two bars either way: a bar skipped or repeated, twice.

use crate::expected::Expected;
use crate::expected::tempo_map::Steady;
use crate::line::meter::beat_is_dotted;
use crate::units::{Nanos, Ticks};

/// Bars that a phrase may be away from its place.
const REACH_BARS: i64 = 2;
/// A line of many meters keeps the nearest rows only.
const MOST_ROWS: usize = 96;

/// Index of a row; 0 is in place.
pub type Row = u16;

/// All rows of one line, with the time each moves a note by.
pub struct Rows {
    shifts: Vec<Ticks>,
    caches: Vec<Steady>,
    latest: Row,
}

impl Rows {
    /// The rows that the meters of the line call for.
    pub fn new(expected: &Expected) -> Rows {
        let mut shifts = Vec::new();
        let mut seen = Vec::new();
        for bar in &expected.bars {
            let full = bar.length + bar.offset;
            if !seen.contains(&(bar.beat, full)) {
                seen.push((bar.beat, full));
                let step = step_of(bar.beat);
                let reach = REACH_BARS * full.0 / step.0;
                shifts.extend((-reach..=reach).map(|steps| Ticks(steps * step.0)));
            }
        }
        shifts.push(Ticks(0));
        shifts.sort_by_key(|shift| (shift.0.abs(), shift.0));
        shifts.dedup();
        shifts.truncate(MOST_ROWS);
        let latest = (0..shifts.len())
            .max_by_key(|row| shifts[*row])
            .unwrap_or(0);
        Rows {
            caches: vec![Steady::NOWHERE; shifts.len()],
            shifts,
            latest: latest as Row,
        }
    }

    /// How many rows there are.
    pub fn count(&self) -> Row {
        self.shifts.len() as Row
    }

    /// How far a row is from the line's place.
    pub fn shift(&self, row: Row) -> Ticks {
        self.shifts[usize::from(row)]
    }

    /// The row that is furthest behind: a note that is over there is over everywhere.
    pub fn latest(&self) -> Row {
        self.latest
    }

    /// Where a note expected at `onset` falls in a row.
    pub fn onset(&mut self, expected: &Expected, onset: Nanos, row: Row) -> Nanos {
        if row == 0 {
            return onset;
        }
        let cache = &mut self.caches[usize::from(row)];
        if onset < cache.from || onset > cache.to {
            let shift = self.shifts[usize::from(row)];
            *cache = expected.tempo_map.steady_around(onset, shift);
        }
        onset + cache.shift
    }
}

/// Half a beat, or the third of a dotted one.
fn step_of(beat: Ticks) -> Ticks {
    Ticks(if beat_is_dotted(beat) {
        beat.0 / 3
    } else {
        beat.0 / 2
    })
}
