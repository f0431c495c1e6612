//! Time to frames and back, in integers: no drift, however long the take.

use crate::units::{Nanos, divide_rounded};

const NANOS_PER_SECOND: i128 = 1_000_000_000;

/// The frame nearest to `time` at `rate` frames a second, both counted from the same origin; halves go away from zero.
pub fn frame_at(time: Nanos, rate: u32) -> i64 {
    divide_rounded(i128::from(time.0) * i128::from(rate), NANOS_PER_SECOND) as i64
}

/// The nanosecond nearest to the start of `frame`, counted from the same origin.
pub fn time_of(frame: i64, rate: u32) -> Nanos {
    Nanos(divide_rounded(i128::from(frame) * NANOS_PER_SECOND, i128::from(rate)) as i64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_time_goes_to_the_nearest_frame() {
        // One frame at 48 kHz lasts 20 833.3… ns.
        assert_eq!(frame_at(Nanos(10_416), 48_000), 0);
        assert_eq!(frame_at(Nanos(10_417), 48_000), 1);
        assert_eq!(frame_at(Nanos(-10_417), 48_000), -1);
        assert_eq!(frame_at(Nanos::from_ms(1000), 44_100), 44_100);
    }

    #[test]
    fn every_frame_of_a_long_take_comes_back_to_itself() {
        for rate in [8_000, 44_100, 48_000, 96_000, 192_000] {
            for frame in (-100_000..50_000_000_000).step_by(99_999_989) {
                assert_eq!(frame_at(time_of(frame, rate), rate), frame);
            }
        }
    }
}
