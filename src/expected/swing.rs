//! Swing: where the written positions of a bar fall when the second half of each pair comes late.
//!
//! Inside a swung pair time is bent piecewise linearly: its written middle lands at `long / (long + short)` of the
//! pair. Pairs are counted from the start of the full bar; what is left over at the end of a bar with an odd number
//! of halves (5/8) stays straight. So does a pair that a written triplet fills: a triplet is on the swung grid already.

use crate::line::length::NoteLength;
use crate::line::meter::{Meter, beat_is_dotted};
use crate::line::{SwingRatio, Swung};
use crate::units::{TICKS_PER_WHOLE, Ticks};

/// The beats and, where the line swings, the pairs of one meter.
#[derive(Clone, Copy, Debug)]
pub(super) struct BarGrid {
    bar: i64,
    beat: i64,
    swing: Option<Swing>,
}

/// A ratio in lowest terms and the pair it divides, in ticks.
#[derive(Clone, Copy, Debug)]
struct Swing {
    pair: i64,
    long: i64,
    short: i64,
}

impl BarGrid {
    /// The grid of a meter; a ratio of 1:1 is straight.
    pub(super) fn new(meter: Meter, ratio: Option<SwingRatio>, swung: Swung) -> BarGrid {
        BarGrid {
            bar: meter.bar().0,
            beat: meter.beat().0,
            swing: ratio
                .filter(|ratio| ratio.long != ratio.short)
                .map(|ratio| Swing::new(ratio, swung)),
        }
    }

    /// What [`BarGrid::bend`] counts in: this many parts of a tick.
    pub(super) fn divisor(&self) -> i64 {
        self.swing.map_or(1, |swing| swing.long + swing.short)
    }

    /// How far after its beat the upbeat is heard, as `ticks / divisor`: halfway, where the line swings in pairs a beat
    /// long at their short half, and on the last third of a dotted beat.
    pub(super) fn upbeat(&self) -> (Ticks, i64) {
        match self.swing {
            _ if beat_is_dotted(Ticks(self.beat)) => (Ticks(self.beat * 2), 3),
            Some(swing) if swing.pair == self.beat => {
                (Ticks(swing.pair * swing.long), swing.long + swing.short)
            }
            _ => (Ticks(self.beat), 2),
        }
    }

    /// Whether a position in the full bar is on a beat.
    pub(super) fn is_beat(&self, at: Ticks) -> bool {
        at.0 % self.beat == 0
    }

    /// Whether a position in the full bar is between beats, or where the line swings in the short half of a pair.
    pub(super) fn is_upbeat(&self, at: Ticks) -> bool {
        match self.pairs_at(at.0) {
            Some(swing) => at.0 % swing.pair >= swing.pair / 2,
            None => !self.is_beat(at),
        }
    }

    /// Where the notes of a bar begin and, as the last entry, where the bar ends: since the bar's first tick, in
    /// parts of a tick ([`BarGrid::divisor`]). `offset` is the first tick's position in the full bar.
    pub(super) fn bend(&self, offset: Ticks, lengths: &[NoteLength]) -> Vec<i64> {
        let mut points = Vec::with_capacity(lengths.len() + 1);
        let mut at = offset.0;
        points.push(at);
        points.extend(lengths.iter().map(|length| {
            at += length.ticks().0;
            at
        }));
        let Some(swing) = self.swing else {
            return points.into_iter().map(|at| at - offset.0).collect();
        };
        let mut bent = Vec::with_capacity(points.len());
        while bent.len() < points.len() {
            let (first, pair) = (bent.len(), points[bent.len()] / swing.pair);
            let in_pair = points[first..].partition_point(|at| at / swing.pair == pair);
            let inside = first..first + in_pair;
            let straight = self.pairs_at(points[first]).is_none()
                || swing.is_ternary(&points, inside.clone(), lengths);
            bent.extend(points[inside].iter().map(|at| {
                let place = if straight {
                    at * self.divisor()
                } else {
                    swing.bent(*at)
                };
                place - offset.0 * self.divisor()
            }));
        }
        bent
    }

    /// The swing that holds at a position, if the pair there is whole.
    fn pairs_at(&self, at: i64) -> Option<Swing> {
        self.swing
            .filter(|swing| (at / swing.pair + 1) * swing.pair <= self.bar)
    }
}

impl Swing {
    fn new(ratio: SwingRatio, swung: Swung) -> Swing {
        let (long, short) = (i64::from(ratio.long), i64::from(ratio.short));
        let common = gcd(long, short);
        Swing {
            pair: match swung {
                Swung::Eighth => TICKS_PER_WHOLE / 4,
                Swung::Sixteenth => TICKS_PER_WHOLE / 8,
            },
            long: long / common,
            short: short / common,
        }
    }

    fn bent(&self, at: i64) -> i64 {
        let (into, divisor) = (at % self.pair, self.long + self.short);
        let start = (at - into) * divisor;
        if into <= self.pair / 2 {
            start + into * 2 * self.long
        } else {
            start + self.pair * divisor - (self.pair - into) * 2 * self.short
        }
    }

    /// Whether written triplets fill the pair whose points are `inside`: some point divides the pair by three, and
    /// any other has triplet notes on both sides (the middle of six in a quarter). A triplet that shares its pair
    /// with plain notes is bent along with them, or notes would change places.
    fn is_ternary(
        &self,
        points: &[i64],
        inside: std::ops::Range<usize>,
        lengths: &[NoteLength],
    ) -> bool {
        // A pair is three times a power of two times five: what three does not divide is a third of it.
        let is_third = |point: usize| points[point] % self.pair % 3 != 0;
        let is_triplet =
            |note: Option<usize>| note.and_then(|n| lengths.get(n)).is_none_or(|l| l.triplet);
        let at_start = |point: usize| points[point] % self.pair == 0;
        inside.clone().any(is_third)
            && inside.into_iter().all(|point| {
                is_third(point)
                    || at_start(point)
                    || (is_triplet(point.checked_sub(1)) && is_triplet(Some(point)))
            })
    }
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FOUR: Meter = Meter { upper: 4, lower: 4 };

    fn grid(long: u32, swung: Swung) -> BarGrid {
        let short = 1000;
        BarGrid::new(FOUR, Some(SwingRatio { long, short }), swung)
    }

    fn plain(value: u8) -> NoteLength {
        NoteLength {
            value,
            dots: 0,
            triplet: false,
        }
    }

    fn triplet(value: u8) -> NoteLength {
        NoteLength {
            triplet: true,
            ..plain(value)
        }
    }

    /// Common practice: swing at 2:1 puts the upbeat on the last third of the beat.
    #[test]
    fn two_to_one_puts_the_upbeat_on_the_last_third() {
        let grid = grid(2000, Swung::Eighth);
        assert_eq!(grid.divisor(), 3);
        assert_eq!(
            grid.bend(Ticks(0), &[plain(8), plain(8)]),
            [0, 3 * 640, 3 * 960]
        );
    }

    #[test]
    fn sixteenths_in_swung_eighths_share_each_half_evenly() {
        let bent = grid(3000, Swung::Eighth).bend(Ticks(0), &[plain(16); 4]);
        assert_eq!(bent, [0, 4 * 360, 4 * 720, 4 * 840, 4 * 960]);
    }

    #[test]
    fn swung_sixteenths_leave_the_eighths_in_place() {
        let bent = grid(2000, Swung::Sixteenth).bend(Ticks(0), &[plain(16); 4]);
        assert_eq!(bent, [0, 3 * 320, 3 * 480, 3 * 800, 3 * 960]);
    }

    #[test]
    fn triplets_stay_where_they_are() {
        let grid = grid(3000, Swung::Eighth);
        assert_eq!(
            grid.bend(Ticks(0), &[triplet(8); 3]),
            [0, 4 * 320, 4 * 640, 4 * 960]
        );
        assert_eq!(
            grid.bend(Ticks(0), &[triplet(4); 3]),
            [0, 4 * 640, 4 * 1280, 4 * 1920]
        );
    }

    #[test]
    fn six_in_a_quarter_stay_even() {
        let bent = grid(3000, Swung::Eighth).bend(Ticks(0), &[triplet(16); 6]);
        assert_eq!(
            bent,
            [0, 160, 320, 480, 640, 800, 960].map(|at: i64| 4 * at)
        );
    }

    #[test]
    fn a_triplet_beside_a_plain_note_is_bent_with_it() {
        let lengths = [plain(8), triplet(16), triplet(16), triplet(16)];
        let bent = grid(3000, Swung::Eighth).bend(Ticks(0), &lengths);
        assert_eq!(bent, [0, 4 * 720, 4 * 800, 4 * 880, 4 * 960]);
    }

    #[test]
    fn a_left_over_half_stays_straight() {
        let five_eighths = Meter { upper: 5, lower: 8 };
        let ratio = SwingRatio {
            long: 2000,
            short: 1000,
        };
        let grid = BarGrid::new(five_eighths, Some(ratio), Swung::Eighth);
        let mut lengths = vec![plain(8); 4];
        lengths.extend([plain(16); 2]);
        let bent = grid.bend(Ticks(0), &lengths);
        assert_eq!(
            bent,
            [0, 640, 960, 1600, 1920, 2160, 2400].map(|at: i64| 3 * at)
        );
    }

    #[test]
    fn a_pickup_swings_as_the_end_of_a_full_bar() {
        let bent = grid(2000, Swung::Eighth).bend(Ticks(3360), &[plain(8)]);
        assert_eq!(bent, [3 * 160, 3 * 480]);
    }
}
