//! The pitch wheel of a channel: where it stands, since when, and where it came from.

use crate::units::Nanos;

/// A movement up to this is no movement: the wheel's own noise and a finger's intonation.
const STILL_CENTS: i32 = 20;
/// A bend that was left this long ago still explains what happens now: converters centre the wheel as they begin the
/// next note.
const JUST_LEFT: Nanos = Nanos::from_ms(20);
/// Bend range without RPN 0: two semitones (MIDI 1.0, General MIDI's default).
const RANGE_CENTS: i32 = 200;
/// No registered parameter is chosen (MIDI 1.0: RPN null is 127, 127).
const NULL: [u8; 2] = [127, 127];

/// See the module's head.
#[derive(Clone, Copy, Debug)]
pub(super) struct Wheel {
    range: i32,
    parameter: [u8; 2],
    cents: i32,
    /// Where it has stood still, and since when; never moved: `None`.
    rest: i32,
    since: Option<Nanos>,
    left: (i32, Nanos),
}

impl Default for Wheel {
    fn default() -> Wheel {
        Wheel {
            range: RANGE_CENTS,
            parameter: NULL,
            cents: 0,
            rest: 0,
            since: None,
            left: (0, Nanos(i64::MIN / 2)),
        }
    }
}

impl Wheel {
    /// Takes a pitch bend or a control change of the channel.
    pub(super) fn hear(&mut self, at: Nanos, bytes: [u8; 3]) {
        match (bytes[0] & 0xF0, bytes[1]) {
            (0xE0, low) => self.bend(at, i32::from(bytes[2]) * 128 + i32::from(low) - 8192),
            (0xB0, 101) => self.parameter[0] = bytes[2],
            (0xB0, 100) => self.parameter[1] = bytes[2],
            // Non-registered parameters have the same data entry.
            (0xB0, 98 | 99) => self.parameter = NULL,
            (0xB0, 6) if self.parameter == [0, 0] => {
                self.range = 100 * i32::from(bytes[2]) + self.range % 100;
            }
            (0xB0, 38) if self.parameter == [0, 0] => {
                self.range = 100 * (self.range / 100) + i32::from(bytes[2]).min(99);
            }
            _ => {}
        }
    }

    fn bend(&mut self, at: Nanos, of_8192: i32) {
        let cents = self.range * of_8192 / 8192;
        if (cents - self.rest).abs() > STILL_CENTS {
            self.left = (self.cents, at);
            self.rest = cents;
            self.since = Some(at);
        }
        self.cents = cents;
    }

    /// Where it stands, if it has stood there since `by` or earlier.
    pub(super) fn steady_by(&self, by: Nanos) -> Option<i32> {
        self.since.filter(|since| *since <= by).map(|_| self.cents)
    }

    /// How far it is or just was bent, upwards or downwards, in cents.
    pub(super) fn was_bent(&self, at: Nanos, up: bool) -> i32 {
        let (left, when) = self.left;
        let left = if at - when <= JUST_LEFT { left } else { 0 };
        let way = if up { 1 } else { -1 };
        (way * self.cents).max(way * left)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const START: Nanos = Nanos::ZERO;

    #[test]
    fn the_range_is_two_semitones_until_rpn_0_says_otherwise() {
        let mut wheel = Wheel::default();
        wheel.hear(START, [0xE0, 0, 96]);
        assert_eq!(wheel.cents, 100);
        for bytes in [
            [0xB0, 101, 0],
            [0xB0, 100, 0],
            [0xB0, 6, 12],
            [0xB0, 38, 50],
        ] {
            wheel.hear(START, bytes);
        }
        wheel.hear(START, [0xE0, 0, 96]);
        assert_eq!(wheel.cents, 625);
        // After RPN null, or a non-registered parameter, data entry is about something else.
        for bytes in [[0xB0, 101, 127], [0xB0, 100, 127], [0xB0, 6, 2]] {
            wheel.hear(START, bytes);
        }
        wheel.hear(START, [0xE0, 0, 0]);
        assert_eq!(wheel.cents, -1250);
    }

    #[test]
    fn small_movements_leave_it_where_it_stands() {
        let mut wheel = Wheel::default();
        wheel.hear(Nanos::from_ms(5), [0xE0, 0, 96]);
        wheel.hear(Nanos::from_ms(40), [0xE0, 0, 100]);
        assert_eq!(wheel.steady_by(Nanos::from_ms(5)), Some(112));
        assert_eq!(wheel.steady_by(Nanos::from_ms(4)), None);
    }

    #[test]
    fn a_bend_is_remembered_for_a_moment_after_it_is_left() {
        let mut wheel = Wheel::default();
        wheel.hear(Nanos::from_ms(0), [0xE0, 0, 96]);
        wheel.hear(Nanos::from_ms(100), [0xE0, 0, 64]);
        assert_eq!(wheel.was_bent(Nanos::from_ms(110), true), 100);
        assert_eq!(wheel.was_bent(Nanos::from_ms(110), false), 0);
        assert_eq!(wheel.was_bent(Nanos::from_ms(130), true), 0);
    }
}
