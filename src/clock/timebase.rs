//! One timebase: a MIDI driver's stamps and an audio driver's block times to stream time, and a promise over them.

use super::glitch::{Glitch, GlitchKind, Pending};
use super::order::Order;
use super::port::PortClock;
use super::stream::StreamClock;
use crate::units::Nanos;

/// No event is later than this behind the clock; one that is is moved, and counted. A burst of 50 ms and an
/// exponential delay of 5 ms on top stay below it but for one event in 20 000.
const LATEST_ARRIVAL: Nanos = Nanos::from_ms(100);
/// A new fit is good after this.
const SETTLING: Nanos = Nanos::from_ms(500);

/// What a driver knows about the time of an event.
#[derive(Clone, Copy, Debug)]
pub struct PortTime {
    /// The driver's stamp, since an origin of its own.
    pub stamp: Nanos,
    /// When the callback began, in host time.
    pub arrival: Nanos,
}

/// The fits of one session, and what went wrong with them.
#[derive(Clone, Debug)]
pub struct Timebase {
    stream: StreamClock,
    port: PortClock,
    order: Order,
    glitches: Pending,
    last_event: Nanos,
    squared_error: f64,
    events: f64,
}

impl Timebase {
    /// Nothing is known yet. What is allocated is allocated here.
    pub fn new(sample_rate: u32) -> Timebase {
        Timebase {
            stream: StreamClock::new(sample_rate),
            port: PortClock::new(),
            order: Order::new(),
            glitches: Pending::default(),
            last_event: Nanos::ZERO,
            squared_error: 0.0,
            events: 0.0,
        }
    }

    /// Frames and time are related anew: after an xrun, or on another device.
    pub fn break_stream(&mut self) {
        self.stream.break_off();
    }

    /// The port was connected anew; its stamps have another origin.
    pub fn reconnect_port(&mut self) {
        self.port.restart();
        let from = self.last_event;
        let now = self.stream.end();
        self.doubt(from, from.max(now), GlitchKind::ClockReset);
    }

    /// Learns from a block of `frames` frames of sound that begins with `frame` and is heard at the host time `heard`.
    pub fn block(&mut self, frame: u64, frames: u32, heard: Nanos) {
        let was_told = self.stream.is_broken();
        if let Some(from) = self.stream.block(frame, frames, heard) {
            let what = if was_told {
                GlitchKind::Xrun
            } else {
                GlitchKind::ClockReset
            };
            self.doubt(from, self.stream.end() + SETTLING, what);
        }
    }

    /// Learns from an event that is not wanted.
    pub fn learn(&mut self, time: PortTime) {
        self.port.happened(time.stamp, time.arrival);
    }

    /// The stream time of an event, in order.
    pub fn event(&mut self, time: PortTime) -> Nanos {
        let happened = self.port.happened(time.stamp, time.arrival);
        let at = self.stream.stream_time(happened.at);
        let moved = self.order.moved();
        let placed = self.order.place(at.unwrap_or(Nanos(i64::MIN)));
        if self.order.moved() > moved {
            self.doubt(placed, placed, GlitchKind::Moved);
        }
        if happened.is_doubtful {
            self.doubt(placed, placed + SETTLING, GlitchKind::ClockReset);
        }
        self.last_event = placed;
        self.remember_error();
        placed
    }

    /// Events were lost up to the host time `now`.
    pub fn lost_events(&mut self, now: Nanos) {
        let until = self.stream.stream_time(now).unwrap_or(self.last_event);
        self.doubt(
            self.last_event,
            until.max(self.last_event),
            GlitchKind::Lost,
        );
    }

    /// The stream time before which no later event is, at the host time `now`: never beyond the sound that was asked for.
    pub fn promise(&mut self, now: Nanos) -> Nanos {
        let settled = self.stream.stream_time(now - LATEST_ARRIVAL);
        let settled = settled.map_or(Nanos(i64::MIN), |at| at.min(self.stream.end()));
        self.order.promise(settled)
    }

    /// The stream time that is heard at the host time `now`: never beyond the sound that was asked for.
    pub fn heard(&self, now: Nanos) -> Nanos {
        let heard = self.stream.stream_time(now);
        heard.map_or(Nanos(i64::MIN), |at| at.min(self.stream.end()))
    }

    /// What went wrong since the last call, in stream time.
    pub fn take_glitch(&mut self) -> Option<Glitch> {
        self.glitches.take()
    }

    /// How well the fits knew the times of the events so far: root mean square of one standard deviation each. Before
    /// the first event, how well the stream is known.
    pub fn residual(&self) -> Nanos {
        if self.events == 0.0 {
            return self.stream.standard_error();
        }
        Nanos((self.squared_error / self.events).sqrt().round() as i64)
    }

    /// How many events were moved to keep the order.
    pub fn moved(&self) -> u64 {
        self.order.moved()
    }

    fn remember_error(&mut self) {
        let (stream, port) = (self.stream.standard_error(), self.port.standard_error());
        let (stream, port) = (stream.0 as f64, port.0 as f64);
        self.squared_error += stream * stream + port * port;
        self.events += 1.0;
    }

    fn doubt(&mut self, from: Nanos, until: Nanos, what: GlitchKind) {
        self.glitches.add(Glitch { from, until, what });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: u32 = 48_000;

    fn ms(ms: i64) -> Nanos {
        Nanos::from_ms(ms)
    }

    /// Ten seconds of blocks of 10 ms, heard 30 ms after their nominal time.
    fn playing() -> Timebase {
        let mut timebase = Timebase::new(RATE);
        for n in 0..1000u64 {
            timebase.block(480 * n, 480, ms(10 * n as i64 + 30));
        }
        timebase
    }

    fn time(stamp: i64, arrival: i64) -> PortTime {
        PortTime {
            stamp: ms(stamp),
            arrival: ms(arrival),
        }
    }

    #[test]
    fn before_the_first_block_nothing_is_promised() {
        let mut timebase = Timebase::new(RATE);
        assert!(timebase.promise(ms(5000)) < Nanos::ZERO);
    }

    #[test]
    fn after_a_standstill_nothing_is_promised_beyond_the_sound() {
        let mut timebase = playing();
        assert!((timebase.promise(ms(9130)) - ms(9000)).abs() < Nanos(10_000));
        assert!((timebase.heard(ms(9130)) - ms(9100)).abs() < Nanos(10_000));
        assert_eq!(timebase.heard(ms(60_000)), ms(10_000));
        assert_eq!(timebase.promise(ms(60_000)), ms(10_000));
        assert_eq!(timebase.event(time(0, 60_000)), ms(10_250));
    }

    #[test]
    fn an_event_behind_the_promise_is_moved_and_told() {
        let mut timebase = playing();
        timebase.event(time(0, 5000));
        timebase.promise(ms(9130));
        assert_eq!(timebase.take_glitch(), None);
        let placed = timebase.event(time(3900, 8900));
        let told = timebase.take_glitch().unwrap();
        assert_eq!((told.what, told.from), (GlitchKind::Moved, placed));
        assert!(told.has(placed) && timebase.moved() == 1);
    }

    #[test]
    fn a_port_connected_anew_and_events_lost_are_told() {
        let mut timebase = playing();
        let last = timebase.event(time(0, 5000));
        timebase.reconnect_port();
        let told = timebase.take_glitch().unwrap();
        assert_eq!((told.from, told.until), (last, ms(10_000)));
        timebase.lost_events(ms(5500));
        let told = timebase.take_glitch().unwrap();
        assert_eq!((told.what, told.from), (GlitchKind::Lost, last));
        assert!((told.until - ms(5470)).abs() < Nanos(10_000), "{told:?}");
    }
}
