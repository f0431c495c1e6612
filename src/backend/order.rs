//! The promise of a session: times never run back, and never before a watermark already given out.

use crate::units::Nanos;

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

    /// The time to give an event that happened at `at`; moved up and counted where the promise demands it.
    pub fn place(&mut self, at: Nanos) -> Nanos {
        let floor = self.watermark.max(self.last);
        if at < floor {
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
        let mut order = Order::new();
        assert_eq!(order.place(Nanos(-5)), Nanos(-5));
        assert_eq!(order.place(Nanos(20)), Nanos(20));
        assert_eq!(order.place(Nanos(10)), Nanos(20));
        assert_eq!(order.promise(Nanos(30)), Nanos(30));
        assert_eq!(order.promise(Nanos(25)), Nanos(30));
        assert_eq!(order.place(Nanos(29)), Nanos(30));
        assert_eq!(order.place(Nanos(31)), Nanos(31));
        assert_eq!(order.moved(), 2);
    }
}
