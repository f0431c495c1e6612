//! When a stamped MIDI event happened on the host's clock.
//!
//! An event arrives late but never early: the [`Envelope`] of arrival − stamp is the port clock's offset, and the time
//! of an event is its stamp plus that, never later than its arrival. Stamps that jump start a new fit; a stamp of 32
//! bits that wraps does not; a single wild stamp is passed over; and while stamps say nothing, arrivals count.

use super::envelope::Envelope;
use super::grain::Grain;
use crate::units::Nanos;

/// How far back points count: crystals keep their rate for much longer, and events are few.
const WINDOW: Nanos = Nanos::from_ms(60_000);
/// A point so far below the line, which no delay explains, means that the port's clock has jumped ahead.
const JUMP_DOWN: Nanos = Nanos::from_ms(50);
/// A point so far above the line is no delay either.
const JUMP_UP: Nanos = Nanos::from_ms(1000);
/// A stamp that stands still for this long of arrivals says nothing.
const STANDSTILL: Nanos = Nanos::from_ms(100);
/// Many events in a row above the line by this much have no delay in common: the clock has stepped.
const SHIFT: Nanos = Nanos::from_ms(20);
const SHIFTED_EVENTS: u32 = 8;
const SHIFTED_FOR: Nanos = Nanos::from_ms(500);
/// From so many points on a fit is worth holding on to, and its loss worth a word.
const ESTABLISHED: usize = 8;
/// Where stamps of 32 bits wrap: counted in microseconds (after 71.6 minutes) and in milliseconds (49.7 days).
const WRAPS: [i64; 2] = [(1 << 32) * 1000, (1 << 32) * 1_000_000];
/// Scheduling of a waking thread where nothing is measured yet.
const UNMEASURED: Nanos = Nanos::from_ms(1);

/// The fit of one port's clock. Arrivals are counted from the owner's origin, stamps from the port's.
#[derive(Clone, Debug)]
pub struct PortClock {
    envelope: Envelope,
    grain: Grain,
    last: Option<Stamped>,
    /// Added to stamps that have wrapped.
    unwrapped: Nanos,
    /// A wild stamp was passed over just before.
    is_doubted: bool,
    high: Option<High>,
    is_stuck: bool,
}

/// Events in a row that lie high above the line.
#[derive(Clone, Copy, Debug)]
struct High {
    events: u32,
    since: Nanos,
}

#[derive(Clone, Copy, Debug)]
struct Stamped {
    stamp: Nanos,
    arrival: Nanos,
}

/// What is known of an event.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Happened {
    /// When it happened, on the clock of the arrivals; never later than it arrived.
    pub at: Nanos,
    /// Whether a good fit was lost, or left aside, with this event: its time and the next ones' are in doubt.
    pub is_doubtful: bool,
}

impl PortClock {
    /// Nothing is known yet. What is allocated is allocated here.
    pub fn new() -> PortClock {
        PortClock {
            envelope: Envelope::new(WINDOW),
            grain: Grain::default(),
            last: None,
            unwrapped: Nanos::ZERO,
            is_doubted: false,
            high: None,
            is_stuck: false,
        }
    }

    /// Forgets the fit: the port was connected anew.
    pub fn restart(&mut self) {
        self.envelope.restart();
        self.grain.restart();
        self.last = None;
        self.unwrapped = Nanos::ZERO;
        self.is_doubted = false;
        self.high = None;
    }

    /// When an event happened. Real-time safe.
    pub fn happened(&mut self, stamp: Nanos, arrival: Nanos) -> Happened {
        let event = self.unwrap(Stamped {
            stamp: stamp + self.unwrapped,
            arrival,
        });
        let mut is_doubtful = false;
        if self.fits(event) {
            self.is_doubted = false;
        } else {
            is_doubtful = self.is_doubted || self.is_established();
            if self.is_established() && !self.is_doubted {
                self.is_doubted = true;
                return Happened {
                    at: arrival,
                    is_doubtful,
                };
            }
            // The second in a row, or nothing worth keeping.
            self.restart();
        }
        let event = Stamped {
            stamp: stamp + self.unwrapped,
            arrival,
        };
        let at = self.learn(event);
        Happened { at, is_doubtful }
    }

    /// How well the fit knows an event's time, one standard deviation.
    pub fn standard_error(&self) -> Nanos {
        // An even spread over ±h has a standard deviation of h/√3.
        let grain = self.grain.half().0 as f64 / 3f64.sqrt();
        let fit = match self.envelope.standard_error() {
            Some(error) if self.envelope.points() > 3 => error,
            _ => UNMEASURED,
        };
        Nanos((fit.0 as f64).hypot(grain).round() as i64)
    }

    fn is_established(&self) -> bool {
        self.envelope.points() >= ESTABLISHED
    }

    fn learn(&mut self, event: Stamped) -> Nanos {
        self.grain.add(event.stamp);
        self.envelope.add(event.stamp, event.arrival - event.stamp);
        self.last = Some(event);
        let offset = self.envelope.offset_at(event.stamp);
        let fitted = event.stamp + offset.unwrap_or(event.arrival - event.stamp);
        (fitted + self.grain.half()).min(event.arrival)
    }

    /// How far above the line an event is.
    fn above(&self, event: Stamped) -> Option<Nanos> {
        Some(event.arrival - event.stamp - self.envelope.offset_at(event.stamp)?)
    }

    /// Brings a stamp that fell back by a whole count on from where it was.
    fn unwrap(&mut self, event: Stamped) -> Stamped {
        if self.last.is_none_or(|last| event.stamp >= last.stamp) {
            return event;
        }
        for wrap in WRAPS {
            let stamp = event.stamp + Nanos(wrap);
            let on = Stamped { stamp, ..event };
            if self.above(on).is_some_and(is_plausible) {
                self.unwrapped += Nanos(wrap);
                return on;
            }
        }
        event
    }

    fn fits(&mut self, event: Stamped) -> bool {
        let (Some(last), Some(above)) = (self.last, self.above(event)) else {
            return true;
        };
        if self.has_stepped(event, above) {
            // Not one wild stamp: it has gone on for long enough.
            self.is_doubted = true;
            return false;
        }
        // A stamp that stood still once is not believed when it does again.
        let stood = event.arrival - last.arrival;
        self.is_stuck = event.stamp == last.stamp && (self.is_stuck || stood > STANDSTILL);
        event.stamp >= last.stamp && is_plausible(above) && !self.is_stuck
    }

    fn has_stepped(&mut self, event: Stamped, above: Nanos) -> bool {
        if above <= SHIFT {
            self.high = None;
            return false;
        }
        let high = self.high.get_or_insert(High {
            events: 0,
            since: event.arrival,
        });
        high.events += 1;
        high.events >= SHIFTED_EVENTS && event.arrival - high.since > SHIFTED_FOR
    }
}

fn is_plausible(above: Nanos) -> bool {
    (-JUMP_DOWN..=JUMP_UP).contains(&above)
}

impl Default for PortClock {
    fn default() -> PortClock {
        PortClock::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ms(ms: i64) -> Nanos {
        Nanos::from_ms(ms)
    }

    fn at(clock: &mut PortClock, stamp: Nanos, arrival: Nanos) -> Nanos {
        clock.happened(stamp, arrival).at
    }

    /// Events every 200 ms without delay, the port's clock 100 ms behind the host's.
    fn established() -> PortClock {
        let mut clock = PortClock::new();
        for n in 0..20 {
            at(&mut clock, ms(200 * n), ms(200 * n + 100));
        }
        clock
    }

    #[test]
    fn a_late_arrival_does_not_move_its_event() {
        let mut clock = established();
        let late = at(&mut clock, ms(4000), ms(4140));
        assert!((late - ms(4100)).abs() < Nanos(100_000), "{late:?}");
    }

    #[test]
    fn a_new_port_is_fitted_anew_and_a_lost_fit_is_told() {
        let mut clock = PortClock::new();
        let first = clock.happened(ms(5000), ms(100));
        assert_eq!((first.at, first.is_doubtful), (ms(100), false));
        // Backwards, far ahead, standing still: nothing was established, nothing is lost.
        for (stamp, arrival) in [(0, 1100), (9000, 2100), (9000, 3100), (9000, 4100)] {
            let next = clock.happened(ms(stamp), ms(arrival));
            assert_eq!((next.at, next.is_doubtful), (ms(arrival), false));
        }
        let mut clock = established();
        let jumped = [(10, 4100), (210, 4300), (410, 4540)]
            .map(|(stamp, arrival)| clock.happened(ms(stamp), ms(arrival)));
        let doubtful = jumped.map(|event| event.is_doubtful);
        assert_eq!((jumped[0].at, jumped[1].at), (ms(4100), ms(4300)));
        assert_eq!(doubtful, [true, true, false]);
        assert!(
            (jumped[2].at - ms(4500)).abs() < Nanos(200_000),
            "{jumped:?}"
        );
    }

    #[test]
    fn one_wild_stamp_is_passed_over() {
        let mut clock = established();
        assert_eq!(at(&mut clock, ms(77_000), ms(4105)), ms(4105));
        let next = clock.happened(ms(4200), ms(4330));
        assert!(!next.is_doubtful);
        assert!((next.at - ms(4300)).abs() < Nanos(100_000), "{next:?}");
    }

    #[test]
    fn stamps_of_32_bits_go_on_when_they_wrap() {
        for wrap in WRAPS {
            let mut clock = PortClock::new();
            for n in 0..40 {
                let stamp = (wrap - 4_000_000_000 + 200_000_000 * n) % wrap;
                let event = clock.happened(Nanos(stamp), ms(200 * n + 100));
                assert!(!event.is_doubtful, "{n}");
            }
            let late = at(&mut clock, Nanos(4_000_000_000), ms(8140));
            assert!((late - ms(8100)).abs() < Nanos(100_000), "{late:?}");
        }
    }

    #[test]
    fn a_clock_that_stops_for_a_while_is_fitted_anew() {
        let mut clock = established();
        // The port's clock stands for 300 ms: no delay would last.
        let mut lost = 0;
        for n in 20..60 {
            let event = clock.happened(ms(200 * n), ms(200 * n + 400));
            lost += i32::from(event.is_doubtful);
        }
        assert_eq!(lost, 1);
        let late = at(&mut clock, ms(12_000), ms(12_430));
        assert!((late - ms(12_400)).abs() < Nanos(200_000), "{late:?}");
    }

    #[test]
    fn stamps_that_say_nothing_leave_the_arrivals() {
        let mut clock = PortClock::new();
        for n in 0..50 {
            let arrival = ms(250 * n + 3 * (n % 5));
            let event = clock.happened(Nanos::ZERO, arrival);
            assert_eq!((event.at, event.is_doubtful), (arrival, false));
        }
        assert_eq!(clock.standard_error(), UNMEASURED);
    }
}
