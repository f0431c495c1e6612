//! Which notes of a bar are written as belonging together: common practice, for every kind of page.

use super::length::NoteLength;
use super::meter::Meter;
use crate::units::{TICKS_PER_QUARTER, Ticks};
use std::ops::Range;

/// The shortest plain length that triplets can fill, in ticks: a sixty-fourth.
const SMALLEST: i64 = 60;

/// Which beat of the beams a place in the full bar is in. Dotted quarters in 6/8, 9/8 and 12/8, else quarters, with a last one
/// of three eighths where their number is odd (7/8 is 2 + 2 + 3).
pub fn beam_beat(at: Ticks, meter: Meter) -> i64 {
    if meter.is_compound() {
        return at.0 / meter.beat().0;
    }
    let odd = meter.lower == 8 && meter.upper % 2 == 1 && meter.upper > 1;
    let last = meter.bar().0 / TICKS_PER_QUARTER - 1;
    let beat = at.0 / TICKS_PER_QUARTER;
    if odd { beat.min(last) } else { beat }
}

/// The triplets among the lengths of a bar. One ends as soon as its lengths, two at least, fill a plain one: three
/// eighths in a quarter, or a quarter and an eighth. What is left over is a triplet as it stands.
pub fn triplets(lengths: impl Iterator<Item = NoteLength>) -> Vec<Range<usize>> {
    let lengths: Vec<NoteLength> = lengths.collect();
    let mut triplets = Vec::new();
    let mut open: Option<(usize, i64)> = None;
    for (index, length) in lengths.iter().enumerate() {
        if !length.triplet {
            continue;
        }
        let (start, before) = open.unwrap_or((index, 0));
        let filled = before + length.ticks().0;
        let is_plain = filled % SMALLEST == 0 && (filled / SMALLEST).count_ones() == 1;
        let goes_on = lengths.get(index + 1).is_some_and(|next| next.triplet);
        if (is_plain && index > start) || !goes_on {
            triplets.push(start..index + 1);
            open = None;
        } else {
            open = Some((start, filled));
        }
    }
    triplets
}
