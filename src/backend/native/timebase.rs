//! Three clocks to one: a MIDI driver's stamp and an audio driver's block times to stream time.

use super::audio::Block;
use super::midi::PortTime;
use crate::backend::order::Order;
use crate::clock::dll::Dll;
use crate::clock::envelope::Envelope;
use crate::units::Nanos;

/// No event is later than this behind the clock; one that is is moved, and counted.
const LATEST_ARRIVAL: Nanos = Nanos::from_ms(20);

/// The fits of one session and the promise made over them.
#[derive(Debug)]
pub struct Timebase {
    dll: Dll,
    envelope: Envelope,
    order: Order,
}

impl Timebase {
    /// Nothing is known yet.
    pub fn new(sample_rate: u32) -> Timebase {
        Timebase {
            dll: Dll::new(sample_rate),
            envelope: Envelope::new(),
            order: Order::new(),
        }
    }

    /// Frames and time are related anew: after an xrun, or on another device.
    pub fn break_stream(&mut self) {
        self.dll.restart();
    }

    /// The port was connected anew; its stamps have another origin.
    pub fn reconnect_port(&mut self) {
        self.envelope = Envelope::new();
    }

    /// Learns from a block of sound.
    pub fn block(&mut self, block: &Block) {
        self.dll.update(block.frame, block.frames, block.heard);
    }

    /// Learns from an event that is not wanted.
    pub fn learn(&mut self, time: PortTime) {
        self.envelope.happened(time.stamp, time.arrival);
    }

    /// The stream time of an event, in order.
    pub fn event(&mut self, time: PortTime) -> Nanos {
        let happened = self.envelope.happened(time.stamp, time.arrival);
        // Without a fit (an xrun a moment ago) the event only keeps its place in the order.
        let at = self.dll.stream_time(happened);
        self.order.place(at.unwrap_or(Nanos(i64::MIN)))
    }

    /// The stream time before which no later event is, at the host time `now`.
    pub fn promise(&mut self, now: Nanos) -> Nanos {
        let settled = self.dll.stream_time(now - LATEST_ARRIVAL);
        self.order.promise(settled.unwrap_or(Nanos(i64::MIN)))
    }

    /// How far block times lie from the fit, root mean square.
    pub fn residual(&self) -> Nanos {
        self.dll.residual()
    }

    /// How many events were moved to keep the order.
    pub fn moved(&self) -> u64 {
        self.order.moved()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{Rng, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    const RATE: u32 = 48_000;
    const PERIOD: u32 = 256;
    /// From the callback to the ear.
    const OUTPUT_DELAY: Nanos = Nanos::from_ms(20);

    /// A machine whose sound runs 150 parts in a million slow and whose MIDI clock runs 100 fast.
    struct Machine {
        random: ChaCha8Rng,
        timebase: Timebase,
        next_block: u64,
    }

    impl Machine {
        /// When the stream time `at` is heard, in host time.
        fn heard(at: Nanos) -> Nanos {
            Nanos(3_000_000_000 + (at.0 as f64 * 1.00015) as i64)
        }

        fn delay(&mut self, mean_ms: f64) -> Nanos {
            Nanos::from_ms_f64(-mean_ms * (1.0 - self.random.random::<f64>()).ln())
        }

        /// Runs the callbacks of all blocks that begin before the host time `until`.
        fn play_until(&mut self, until: Nanos) {
            loop {
                let frame = u64::from(PERIOD) * self.next_block;
                let stream = Nanos((frame as f64 * 1e9 / f64::from(RATE)) as i64);
                let called = Machine::heard(stream) - OUTPUT_DELAY + self.delay(0.2);
                if called > until {
                    return;
                }
                self.next_block += 1;
                self.timebase.block(&Block {
                    frame,
                    frames: PERIOD,
                    called,
                    heard: called + OUTPUT_DELAY,
                });
            }
        }

        /// Strikes a note exactly when the stream time `at` is heard; how far it is misplaced.
        fn strike(&mut self, at: Nanos) -> Nanos {
            let struck = Machine::heard(at);
            let arrival = struck + self.delay(1.0);
            self.play_until(arrival);
            let stamp = Nanos((struck.0 as f64 * 1.0001) as i64 - 1_234_567_890);
            let placed = self.timebase.event(PortTime { stamp, arrival });
            self.timebase.promise(arrival);
            placed - at
        }
    }

    #[test]
    fn a_note_struck_with_a_click_has_the_time_of_the_click() {
        let mut machine = Machine {
            random: ChaCha8Rng::seed_from_u64(5),
            timebase: Timebase::new(RATE),
            next_block: 0,
        };
        let mut errors: Vec<f64> = (1..240)
            .map(|n| machine.strike(Nanos::from_ms(125 * n)).abs().ms())
            .skip(16)
            .collect();
        errors.sort_by(f64::total_cmp);
        let (median, worst) = (errors[errors.len() / 2], errors[errors.len() - 1]);
        assert!(median < 0.5 && worst < 2.0, "{median} {worst}");
        assert_eq!(machine.timebase.moved(), 0);
        assert!(machine.timebase.residual() < Nanos::from_ms(1));
    }

    #[test]
    fn before_the_first_block_nothing_is_promised() {
        let mut timebase = Timebase::new(RATE);
        assert!(timebase.promise(Nanos::from_ms(5000)) < Nanos::ZERO);
    }
}
