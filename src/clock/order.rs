//! The promise of a session: times never run back, and never before a watermark already given out.

use crate::units::Nanos;

/// Two events close together may come out of two fits in the wrong order by less than this; no reading turns on it.
const SMALL: Nanos = Nanos(500_000);
/// Stands for no time at all.
const LONG_AGO: Nanos = Nanos(i64::MIN / 4);

/// Keeps the promise for one session.
#[derive(Clone, Copy, Debug)]
pub struct Order {
    watermark: Nanos,
    last: Nanos,
    moved: u64,
}

impl Order {
    /// Before anything was promised. Events may lie up to a second before frame 0 (a latency can put them there).
    pub fn new() -> Order {
        Order {
            watermark: Nanos::from_ms(-1000),
            last: Nanos::from_ms(-1000),
            moved: 0,
        }
    }

    /// The time to give an event that happened at `at`; moved up where the promise demands it,
    /// and counted where that is more than half a millisecond.
    pub fn place(&mut self, at: Nanos) -> Nanos {
        let floor = self.watermark.max(self.last);
        if floor - at.max(LONG_AGO) > SMALL {
            self.moved += 1;
        }
        self.last = at.max(floor);
        self.last
    }

    /// Promises that nothing comes before `to` any more, and says what is promised now.
    pub fn promise(&mut self, to: Nanos) -> Nanos {
        self.watermark = self.watermark.max(to);
        self.watermark
    }

    /// How many events were moved.
    pub fn moved(&self) -> u64 {
        self.moved
    }
}

impl Default for Order {
    fn default() -> Order {
        Order::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn events_never_run_back_nor_before_a_watermark() {
        let ms = Nanos::from_ms;
        let mut order = Order::new();
        assert_eq!(order.place(ms(-5)), ms(-5));
        assert_eq!(order.place(ms(20)), ms(20));
        assert_eq!(order.place(ms(10)), ms(20));
        assert_eq!(order.promise(ms(30)), ms(30));
        assert_eq!(order.promise(ms(25)), ms(30));
        assert_eq!(order.place(ms(29)), ms(30));
        assert_eq!(order.place(ms(31)), ms(31));
        assert_eq!(order.moved(), 2);
        assert_eq!(order.place(ms(31) - Nanos(400_000)), ms(31));
        assert_eq!(order.moved(), 2);
        assert_eq!(order.place(Nanos(i64::MIN)), ms(31));
        assert_eq!(order.moved(), 3);
    }
}
