//! Written position to time, exactly, across tempo changes.

use crate::units::{Nanos, TICKS_PER_QUARTER, Ticks, divide_rounded};

/// A tempo at a speed, exact: quarter notes a minute as a ratio.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rate {
    /// Quarter notes a minute times [`Rate::denominator`], in lowest terms.
    pub numerator: u64,
    /// See [`Rate::numerator`].
    pub denominator: u64,
}

/// How fast the line is played against its written tempo, in thousandths of a percent: 100 % is 100 000.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Speed(pub u32);

impl Speed {
    /// As written.
    pub const WRITTEN: Speed = Speed(100_000);

    /// In percent of the written tempo.
    pub fn percent(self) -> f64 {
        f64::from(self.0) / 1000.0
    }
}

/// Tempo segments from bar 1 beat 1 onwards; the first also covers what lies before, the last what lies after.
#[derive(Clone, Debug)]
pub struct TempoMap {
    segments: Vec<Segment>,
}

/// A stretch of constant tempo.
#[derive(Clone, Copy, Debug)]
struct Segment {
    start: Ticks,
    /// Femtoseconds since bar 1 beat 1, so that many segments add up to less than a nanosecond of rounding.
    start_fs: i128,
    rate: Rate,
}

/// See [`TempoMap::steady_around`]; both ends are inside.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Steady {
    /// The first time.
    pub from: Nanos,
    /// The last time.
    pub to: Nanos,
    /// What all of them move by.
    pub shift: Nanos,
}

impl Steady {
    /// No time at all.
    pub const NOWHERE: Steady = Steady {
        from: Nanos::MAX,
        to: Nanos(i64::MIN),
        shift: Nanos::ZERO,
    };
    // Far from overflow, and 146 years from bar 1.
    const FIRST: Nanos = Nanos(i64::MIN / 2);
    const LAST: Nanos = Nanos(i64::MAX / 2);
}

/// Femtoseconds that a tick lasts at one quarter note a minute: a whole number.
const FS_PER_SLOWEST_TICK: i128 = 60_000_000_000_000_000 / TICKS_PER_QUARTER as i128;
const FS_PER_NS: i128 = 1_000_000;

impl Rate {
    /// A tempo in thousandths of a quarter note a minute, at a speed.
    pub fn new(tempo: crate::line::Tempo, speed: Speed) -> Rate {
        let numerator = u64::from(tempo.0) * u64::from(speed.0);
        let denominator = 1000 * u64::from(Speed::WRITTEN.0);
        let common = gcd(numerator, denominator);
        Rate {
            numerator: numerator / common,
            denominator: denominator / common,
        }
    }

    /// How long a written length lasts, to the nearest nanosecond.
    pub fn duration(self, length: Ticks) -> Nanos {
        to_nanos(self.femtoseconds(i128::from(length.0), 1))
    }

    /// `ticks / divisor` in femtoseconds, rounded to the nearest.
    fn femtoseconds(self, ticks: i128, divisor: i128) -> i128 {
        let over = ticks * FS_PER_SLOWEST_TICK * i128::from(self.denominator);
        divide_rounded(over, divisor * i128::from(self.numerator))
    }
}

impl TempoMap {
    /// One tempo from bar 1 beat 1 on.
    pub fn new(first: Rate) -> TempoMap {
        TempoMap {
            segments: vec![Segment {
                start: Ticks(0),
                start_fs: 0,
                rate: first,
            }],
        }
    }

    /// Continues at another tempo from `start` on, which must not lie before the last change.
    pub fn change(&mut self, start: Ticks, rate: Rate) {
        let last = *self.segments.last().expect("a map has a first segment");
        assert!(start >= last.start, "tempo changes come in order");
        if last.rate == rate {
            return;
        }
        if last.start == start {
            self.segments.pop();
        }
        let start_fs = last.start_fs
            + last
                .rate
                .femtoseconds(i128::from((start - last.start).0), 1);
        self.segments.push(Segment {
            start,
            start_fs,
            rate,
        });
    }

    /// The time of a written position given as `ticks / divisor` ticks (swing puts notes between ticks).
    pub fn time_at(&self, ticks: i128, divisor: i128) -> Nanos {
        let segment = self.segment_at(|start| i128::from(start.0) * divisor <= ticks);
        let into = ticks - i128::from(segment.start.0) * divisor;
        to_nanos(segment.start_fs + segment.rate.femtoseconds(into, divisor))
    }

    /// The written position nearest to a time, in parts of a tick: `parts` of them are one.
    pub fn position_at(&self, time: Nanos, parts: i64) -> i64 {
        let after = self
            .segments
            .partition_point(|s| to_nanos(s.start_fs) <= time);
        let segment = &self.segments[after.saturating_sub(1)];
        let into_fs = i128::from(time.0) * FS_PER_NS - segment.start_fs;
        let into = segment.rate.ticks(into_fs * i128::from(parts));
        segment.start.0 * parts + into as i64
    }

    /// The time that lies `by` written ticks after (before, when negative) a time, through tempo changes.
    pub fn displaced(&self, time: Nanos, by: Ticks) -> Nanos {
        let from_fs = i128::from(time.0) * FS_PER_NS;
        let mut index = self
            .segments
            .partition_point(|s| to_nanos(s.start_fs) <= time)
            .saturating_sub(1);
        let (mut left, mut at_fs) = (i128::from(by.0), from_fs);
        loop {
            let segment = &self.segments[index];
            let target_fs = at_fs + segment.rate.femtoseconds(left, 1);
            let next = self.segments.get(index + 1);
            let (edge_fs, onward) = match next {
                Some(next) if target_fs > next.start_fs => (next.start_fs, index + 1),
                _ if target_fs < segment.start_fs && index > 0 => (segment.start_fs, index - 1),
                _ => return to_nanos(target_fs),
            };
            left -= segment.rate.ticks(edge_fs - at_fs);
            at_fs = edge_fs;
            index = onward;
        }
    }

    /// The stretch of times around `time` that move by the same span when they move by `by` written ticks; it is
    /// `time` alone where that crosses a tempo change.
    pub fn steady_around(&self, time: Nanos, by: Ticks) -> Steady {
        let index = self
            .segments
            .partition_point(|s| to_nanos(s.start_fs) <= time)
            .saturating_sub(1);
        let shift = to_nanos(self.segments[index].rate.femtoseconds(i128::from(by.0), 1));
        let opens = if index == 0 {
            Steady::FIRST
        } else {
            to_nanos(self.segments[index].start_fs)
        };
        let closes = self
            .segments
            .get(index + 1)
            .map_or(Steady::LAST, |next| to_nanos(next.start_fs) - Nanos(1));
        let from = opens.max(opens - shift);
        let to = closes.min(closes - shift);
        if (from..=to).contains(&time) {
            Steady { from, to, shift }
        } else {
            Steady {
                from: time,
                to: time,
                shift: self.displaced(time, by) - time,
            }
        }
    }

    /// The time at which the tempo changes, with the tempo that begins there; the first entry is the initial tempo at 0.
    pub fn changes(&self) -> impl Iterator<Item = (Ticks, Nanos, Rate)> + '_ {
        self.segments
            .iter()
            .map(|s| (s.start, to_nanos(s.start_fs), s.rate))
    }

    fn segment_at(&self, starts_by: impl Fn(Ticks) -> bool) -> &Segment {
        let after = self
            .segments
            .partition_point(|segment| starts_by(segment.start));
        &self.segments[after.saturating_sub(1)]
    }
}

impl Rate {
    /// The nearest whole number of ticks in a span of femtoseconds.
    fn ticks(self, femtoseconds: i128) -> i128 {
        let over = femtoseconds * i128::from(self.numerator);
        divide_rounded(over, FS_PER_SLOWEST_TICK * i128::from(self.denominator))
    }

    /// Quarter notes a minute.
    pub fn quarters_per_minute(self) -> f64 {
        self.numerator as f64 / self.denominator as f64
    }
}

fn gcd(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

fn to_nanos(femtoseconds: i128) -> Nanos {
    Nanos(divide_rounded(femtoseconds, FS_PER_NS) as i64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::Tempo;

    fn rate(bpm: u32) -> Rate {
        Rate::new(Tempo(bpm * 1000), Speed::WRITTEN)
    }

    #[test]
    fn a_quarter_at_120_lasts_half_a_second() {
        let map = TempoMap::new(rate(120));
        assert_eq!(map.time_at(960, 1), Nanos::from_ms(500));
        assert_eq!(map.time_at(-960, 1), Nanos::from_ms(-500));
    }

    #[test]
    fn speed_scales_the_tempo() {
        let map = TempoMap::new(Rate::new(Tempo(120_000), Speed(50_000)));
        assert_eq!(map.time_at(960, 1), Nanos::from_ms(1000));
    }

    #[test]
    fn the_third_part_of_a_tick_is_exact() {
        let map = TempoMap::new(rate(60));
        // 1/3 of a quarter at 60 is 333 333 333.3… ns.
        assert_eq!(map.time_at(960, 3), Nanos(333_333_333));
        assert_eq!(map.time_at(1920, 3), Nanos(666_666_667));
    }

    #[test]
    fn a_time_leads_back_to_its_position_on_both_sides_of_a_tempo_change() {
        let mut map = TempoMap::new(rate(126));
        map.change(Ticks(3840), rate(71));
        for parts in [-960, 0, 1, 12_799, 3840 * 32, 3840 * 32 + 1, 1_000_003] {
            assert_eq!(map.position_at(map.time_at(parts.into(), 32), 32), parts);
        }
    }

    #[test]
    fn displacement_crosses_a_tempo_change_in_both_directions() {
        let mut map = TempoMap::new(rate(120));
        map.change(Ticks(3840), rate(60));
        // One quarter before the change is 1.5 s; two quarters on: half a second at 120, one second at 60.
        assert_eq!(
            map.displaced(Nanos::from_ms(1500), Ticks(1920)),
            Nanos::from_ms(3000)
        );
        assert_eq!(
            map.displaced(Nanos::from_ms(3000), Ticks(-1920)),
            Nanos::from_ms(1500)
        );
    }

    #[test]
    fn an_equal_tempo_adds_no_segment() {
        let mut map = TempoMap::new(rate(120));
        map.change(Ticks(3840), rate(120));
        assert_eq!(map.changes().count(), 1);
    }
}
