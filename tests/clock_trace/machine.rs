//! A machine whose clocks are known: sound, host and port each run at their own rate, and callbacks are late.

use super::{Step, Trace};
use leadsman::units::Nanos;
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

const RATE: u32 = 48_000;
/// A walking line in eighths: a note-on or a note-off every 125 ms.
const EVENT_EVERY: Nanos = Nanos::from_ms(125);
const OUTPUT_DELAY: Nanos = Nanos::from_ms(20);

/// What happens in the middle of the take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Mishap {
    /// Nothing.
    None,
    /// The port is unplugged and connected anew; its stamps start at 0. The session knows.
    Reconnect,
    /// The same, unknown to the session.
    StampJump,
    /// Sound stands still for this long, and the driver says so.
    Xrun(Nanos),
    /// The same without a word.
    SilentXrun(Nanos),
    /// The machine sleeps for this long; the host's clock goes on, sound and port stand still.
    Suspend(Nanos),
    /// The stamp of 32 bits of a microsecond wraps.
    Wrap,
}

/// A machine and a take on it.
#[derive(Clone, Copy, Debug)]
pub struct Machine {
    /// Sound against the host, parts in a million: positive is slow.
    pub sound_ppm: f64,
    /// The port's clock against the host, positive is fast.
    pub port_ppm: f64,
    /// Mean of the exponential delay of every callback.
    pub jitter: Nanos,
    /// That of the MIDI callback, where it is another one.
    pub port_jitter: Option<Nanos>,
    /// Every three seconds nothing runs for this long.
    pub burst: Nanos,
    /// Stamps are whole multiples of it.
    pub grain: Nanos,
    /// Stamps are always 0.
    pub stamps_say_nothing: bool,
    pub period: u32,
    pub length: Nanos,
    pub mishap: Mishap,
    pub seed: u64,
}

impl Default for Machine {
    fn default() -> Machine {
        Machine {
            sound_ppm: 200.0,
            port_ppm: -200.0,
            jitter: Nanos::from_ms(5),
            port_jitter: None,
            burst: Nanos::ZERO,
            grain: Nanos(1000),
            stamps_say_nothing: false,
            period: 256,
            length: Nanos::from_ms(120_000),
            mishap: Mishap::None,
            seed: 1,
        }
    }
}

impl Machine {
    /// The callbacks of a take, in the order in which they ran.
    pub fn play(&self) -> Trace {
        let mut random = ChaCha8Rng::seed_from_u64(self.seed);
        let mut timed: Vec<(Nanos, Step)> = Vec::new();
        timed.extend(self.blocks(&mut random));
        timed.extend(self.events(&mut random));
        timed.extend(self.told());
        timed.sort_by_key(|(at, _)| *at);
        Trace {
            rate: RATE,
            steps: timed.into_iter().map(|(_, step)| step).collect(),
        }
    }

    fn middle(&self) -> Nanos {
        Nanos(self.length.0 / 2)
    }

    /// When a stream time is heard, in host time.
    fn heard(&self, stream: Nanos) -> Nanos {
        let lost = match self.mishap {
            Mishap::Xrun(lost) | Mishap::SilentXrun(lost) | Mishap::Suspend(lost) => lost,
            _ => Nanos::ZERO,
        };
        let lost = if stream >= self.middle() {
            lost
        } else {
            Nanos::ZERO
        };
        let drift = (stream.0 as f64 * self.sound_ppm * 1e-6) as i64;
        Nanos(3_000_000_000 + stream.0 + drift) + lost
    }

    fn stamp(&self, stream: Nanos, host: Nanos) -> Nanos {
        if self.stamps_say_nothing {
            return Nanos::ZERO;
        }
        let is_late = stream >= self.middle();
        let (origin, slept) = match self.mishap {
            Mishap::Reconnect | Mishap::StampJump if is_late => (self.heard(self.middle()), 0),
            Mishap::Suspend(slept) if is_late => (Nanos::ZERO, slept.0),
            Mishap::Wrap => (self.heard(self.middle()), 0),
            _ => (Nanos(1_234_567), 0),
        };
        let awake = (host - origin).0 - slept;
        let stamp = (awake as f64 * (1.0 + self.port_ppm * 1e-6)) as i64;
        let stamp = match self.mishap {
            Mishap::Wrap => stamp.rem_euclid((1 << 32) * 1000),
            _ => stamp,
        };
        Nanos(stamp.div_euclid(self.grain.0) * self.grain.0)
    }

    /// When a callback that is due runs; none runs before the one before it.
    fn runs(&self, due: Nanos, jitter: Nanos, last: &mut Nanos, random: &mut ChaCha8Rng) -> Nanos {
        let delay = -jitter.ms() * (1.0 - random.random::<f64>()).ln();
        let mut at = due + Nanos::from_ms_f64(delay);
        let into_burst = Nanos(at.0.rem_euclid(3_000_000_000));
        if into_burst < self.burst {
            at += self.burst - into_burst;
        }
        *last = at.max(*last + Nanos(1));
        *last
    }

    fn blocks(&self, random: &mut ChaCha8Rng) -> Vec<(Nanos, Step)> {
        let mut last = Nanos(i64::MIN / 2);
        let count = self.length.0 as u64 * u64::from(RATE) / 1_000_000_000 / u64::from(self.period);
        let block = |n: u64| {
            let frame = n * u64::from(self.period);
            let nominal = Nanos((frame as f64 * 1e9 / f64::from(RATE)) as i64);
            let due = self.heard(nominal) - OUTPUT_DELAY;
            let called = self.runs(due, self.jitter, &mut last, random);
            let step = Step::Block {
                frame,
                frames: self.period,
                heard: called + OUTPUT_DELAY,
                called,
            };
            (called, step)
        };
        (0..count).map(block).collect()
    }

    fn events(&self, random: &mut ChaCha8Rng) -> Vec<(Nanos, Step)> {
        let mut last = Nanos(i64::MIN / 2);
        let count = self.length.0 / EVENT_EVERY.0 - 2;
        let event = |n: i64| {
            let truth = Nanos(EVENT_EVERY.0 * n + random.random_range(0..60_000_000));
            let happened = self.heard(truth);
            let jitter = self.port_jitter.unwrap_or(self.jitter);
            let arrival = self.runs(happened, jitter, &mut last, random);
            let stamp = self.stamp(truth, happened);
            let step = Step::Event {
                stamp,
                arrival,
                truth,
            };
            (arrival, step)
        };
        (1..count).map(event).collect()
    }

    /// What the drivers tell of the mishap, and that it is one.
    fn told(&self) -> Vec<(Nanos, Step)> {
        let at = self.heard(self.middle() - Nanos(1)) - OUTPUT_DELAY;
        let told = match self.mishap {
            Mishap::Xrun(_) => Some(Step::Xrun),
            Mishap::Reconnect => Some(Step::Reconnect),
            _ => None,
        };
        let is_reset = !matches!(self.mishap, Mishap::None | Mishap::Wrap);
        let reset = is_reset.then_some(Step::Reset);
        told.into_iter()
            .chain(reset)
            .map(|step| (at, step))
            .collect()
    }
}
