//! File ticks to time and back, exactly.
//!
//! Between tempo changes a tick lasts `tempo / division` microseconds (SMF 1.0, "Set Tempo"). Time is kept as the whole
//! number `Σ ticks × tempo`, so nothing is rounded until one nanosecond is asked for, and the reader and the writer of a
//! take agree to the bit because both use this clock.

use crate::units::Nanos;
use std::num::{NonZeroU8, NonZeroU16};

/// Microseconds a quarter note when a file names no tempo: 120 quarter notes a minute (SMF 1.0).
pub const DEFAULT_TEMPO: u32 = 500_000;
/// The slowest tempo that a file can name, in microseconds a quarter note (three bytes).
pub const MAX_TEMPO: u32 = 0x00FF_FFFF;

/// What a tick of a file is a part of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Division {
    /// Ticks in a quarter note; their time depends on the tempo.
    PerQuarter(NonZeroU16),
    /// Ticks in a film or video frame; tempo changes do not bear on time.
    PerFrame {
        /// Frames a second.
        rate: FrameRate,
        /// Ticks in a frame.
        ticks: NonZeroU8,
    },
}

/// Frames a second of time code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FrameRate {
    /// Film.
    F24,
    /// PAL and SECAM.
    F25,
    /// "29" in a file is 30-frame drop code, which runs at 30 000 / 1001 frames a second.
    F29Drop,
    /// 30, without drop.
    F30,
}

/// The exact time of every tick of a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TickClock {
    /// Never empty; by tick, the first at tick 0.
    segments: Vec<Segment>,
    /// A unit lasts `numerator / denominator` nanoseconds.
    numerator: u128,
    denominator: u128,
}

/// A stretch of constant tempo.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Segment {
    tick: u64,
    /// Units from the start of the file.
    start: u128,
    /// Units in a tick, never 0.
    tempo: u32,
}

impl Division {
    /// From the third word of a file's header; `None` for 0 ticks or an unknown frame rate.
    pub fn from_word(word: u16) -> Option<Division> {
        let [upper, lower] = word.to_be_bytes();
        if upper < 0x80 {
            return NonZeroU16::new(word).map(Division::PerQuarter);
        }
        let rate = match upper as i8 {
            -24 => FrameRate::F24,
            -25 => FrameRate::F25,
            -29 => FrameRate::F29Drop,
            -30 => FrameRate::F30,
            _ => return None,
        };
        let ticks = NonZeroU8::new(lower)?;
        Some(Division::PerFrame { rate, ticks })
    }
}

impl FrameRate {
    /// Frames and the seconds that they take.
    fn ratio(self) -> (u128, u128) {
        match self {
            FrameRate::F24 => (24, 1),
            FrameRate::F25 => (25, 1),
            FrameRate::F29Drop => (30_000, 1001),
            FrameRate::F30 => (30, 1),
        }
    }
}

impl TickClock {
    /// From tempo changes as (tick, microseconds a quarter note). They are taken in the order of their ticks, of several at
    /// one tick the last counts, and a tempo of 0 is passed over.
    pub fn new(division: Division, changes: &[(u64, u32)]) -> TickClock {
        match division {
            Division::PerQuarter(ticks) => TickClock {
                segments: segments(changes),
                numerator: 1000,
                denominator: u128::from(ticks.get()),
            },
            Division::PerFrame { rate, ticks } => {
                let (frames, seconds) = rate.ratio();
                TickClock {
                    segments: vec![Segment {
                        tick: 0,
                        start: 0,
                        tempo: 1,
                    }],
                    numerator: 1_000_000_000 * seconds,
                    denominator: frames * u128::from(ticks.get()),
                }
            }
        }
    }

    /// When a tick falls since the start of the file: exact, then rounded once to the nearest nanosecond (and held at the
    /// last one that exists, 292 years on).
    pub fn time_of(&self, tick: u64) -> Nanos {
        let after = self.segments.partition_point(|s| s.tick <= tick);
        let segment = self.segments[after - 1];
        let units = segment.start + u128::from(tick - segment.tick) * u128::from(segment.tempo);
        let nanos = (units * self.numerator + self.denominator / 2) / self.denominator;
        Nanos(i64::try_from(nanos).unwrap_or(i64::MAX))
    }

    /// The tick nearest to a time; tick 0 for all that lies before the file.
    pub fn tick_of(&self, at: Nanos) -> u64 {
        let scaled = u128::from(at.0.max(0).unsigned_abs()) * self.denominator;
        let after = self
            .segments
            .partition_point(|s| s.start * self.numerator <= scaled);
        let segment = self.segments[after - 1];
        let into = scaled - segment.start * self.numerator;
        let tick = self.numerator * u128::from(segment.tempo);
        let ticks = (into + tick / 2) / tick;
        segment
            .tick
            .saturating_add(u64::try_from(ticks).unwrap_or(u64::MAX))
    }
}

fn segments(changes: &[(u64, u32)]) -> Vec<Segment> {
    let mut changes: Vec<_> = changes.iter().filter(|change| change.1 > 0).collect();
    changes.sort_by_key(|change| change.0);
    let mut segments = vec![Segment {
        tick: 0,
        start: 0,
        tempo: DEFAULT_TEMPO,
    }];
    for &&(tick, tempo) in &changes {
        let last = segments[segments.len() - 1];
        let start = last.start + u128::from(tick - last.tick) * u128::from(last.tempo);
        if last.tick == tick {
            segments.pop();
        }
        segments.push(Segment { tick, start, tempo });
    }
    segments
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn clock(word: u16, changes: &[(u64, u32)]) -> TickClock {
        TickClock::new(Division::from_word(word).expect("a division"), changes)
    }

    #[test]
    fn a_quarter_lasts_half_a_second_when_no_tempo_is_named() {
        let clock = clock(96, &[]);
        assert_eq!(clock.time_of(96), Nanos::from_ms(500));
        assert_eq!(clock.tick_of(Nanos::from_ms(500)), 96);
        assert_eq!(clock.tick_of(Nanos(-1)), 0);
    }

    #[test]
    fn thirds_of_a_microsecond_do_not_add_up_to_an_error() {
        // 500 000 µs / 96: a tick is 5208.333… µs.
        let clock = clock(96, &[(1, 500_000), (2, 500_000), (3, 500_000)]);
        assert_eq!(clock.time_of(1), Nanos(5_208_333));
        assert_eq!(clock.time_of(2), Nanos(10_416_667));
        assert_eq!(clock.time_of(3), Nanos(15_625_000));
    }

    #[test]
    fn the_last_of_several_tempi_at_one_tick_counts_and_zero_never_does() {
        let clock = clock(100, &[(0, 400_000), (0, 1_000_000), (50, 0)]);
        assert_eq!(clock.time_of(100), Nanos::from_ms(1000));
    }

    /// SMF 1.0: the upper byte is −24, −25, −29 or −30, the lower one ticks a frame; −25 and 40 is milliseconds.
    #[test]
    fn time_code_divisions_ignore_the_tempo() {
        assert_eq!(
            clock(0xE728, &[(0, 1_000_000)]).time_of(1000),
            Nanos::from_ms(1000)
        );
        assert_eq!(clock(0xE801, &[]).time_of(24), Nanos::from_ms(1000));
        assert_eq!(clock(0xE201, &[]).time_of(30), Nanos::from_ms(1000));
        // 30 000 drop frames take exactly 1001 s.
        assert_eq!(
            clock(0xE301, &[]).time_of(30_000),
            Nanos::from_ms(1_001_000)
        );
    }

    #[test]
    fn words_that_divide_nothing_are_refused() {
        for word in [0x0000, 0x8000, 0x8060, 0xE700, 0xE600 | 40, 0xFFFF] {
            assert_eq!(Division::from_word(word), None, "{word:#06x}");
        }
    }

    #[test]
    fn the_end_of_time_is_held_rather_than_wrapped() {
        assert_eq!(clock(1, &[(0, MAX_TEMPO)]).time_of(u64::MAX), Nanos::MAX);
        assert_eq!(clock(0xE301, &[]).time_of(u64::MAX), Nanos::MAX);
        let clock = clock(0x7FFF, &[(0, 1), (u64::MAX, 1)]);
        assert_eq!(clock.tick_of(Nanos::MAX), u64::MAX);
    }

    proptest! {
        #[test]
        fn the_tick_found_is_the_nearest(
            changes in prop::collection::vec((0u64..500_000_000, 100_000u32..3_000_000), 0..8),
            at in 0i64..7_200_000_000_000,
        ) {
            let clock = clock(30_720, &changes);
            let (at, tick) = (Nanos(at), clock.tick_of(Nanos(at)));
            let distance = |tick| (clock.time_of(tick) - at).abs().0;
            prop_assert!(distance(tick) <= distance(tick + 1) + 1);
            prop_assert!(distance(tick) <= distance(tick.saturating_sub(1)) + 1);
            prop_assert_eq!(clock.tick_of(clock.time_of(tick)), tick);
        }

        #[test]
        fn time_never_runs_backwards(
            changes in prop::collection::vec((0u64..1000, any::<u32>()), 0..8),
            word: u16,
            tick in 0u64..2000,
        ) {
            let Some(division) = Division::from_word(word) else { return Ok(()) };
            let clock = TickClock::new(division, &changes);
            prop_assert!(clock.time_of(tick) <= clock.time_of(tick + 1));
        }
    }
}
