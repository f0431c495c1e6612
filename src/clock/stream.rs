//! Which frame is heard at a host time: blocks of sound in, stream time out.
//!
//! The time at which a block is heard is the time of its callback plus the delay that the driver reports. A callback
//! can run late, never early, and a driver whose count of played frames is stale reports too long a delay, never too
//! short a one; where the driver measures both at once (cpal's `playback − callback` on ALSA) most of it cancels and
//! the rest is still late. So the [`Envelope`] under the block times comes first and takes lateness out, and the
//! [`Dll`] after it smooths what is left and makes the frames of a block run evenly. A delay that every block has is
//! not seen by any fit: it belongs to the latency that is measured for port and device.

use super::dll::Dll;
use super::envelope::Envelope;
use super::frames::time_of;
use crate::units::Nanos;

/// How far back blocks count: there are many, and the host's clock may be steered.
const WINDOW: Nanos = Nanos::from_ms(10_000);
/// A block this much later than its prediction is no late callback: time was lost.
const JUMP_UP: Nanos = Nanos::from_ms(200);
/// A block this much earlier has no explanation in lateness.
const JUMP_DOWN: Nanos = Nanos::from_ms(20);
/// Blocks in a row that are all late by this much, for this long, and so many of them: sound stood still for a moment
/// and no driver said so.
const SHIFT: Nanos = Nanos::from_ms(3);
const SHIFTED_FOR: Nanos = Nanos::from_ms(500);
const SHIFTED_BLOCKS: u32 = 20;
/// Once a fit was older than this, its loss and that of all later ones is worth a word.
const ESTABLISHED: Nanos = Nanos::from_ms(1000);
/// No event is placed further than this after the last block: whatever comes after a standstill is not known yet.
const AHEAD: Nanos = Nanos::from_ms(250);

/// The fit of one audio stream.
#[derive(Clone, Debug)]
pub struct StreamClock {
    sample_rate: u32,
    envelope: Envelope,
    dll: Dll,
    is_broken: bool,
    was_established: bool,
    next_frame: u64,
    late: Option<Late>,
}

/// Blocks in a row that are late.
#[derive(Clone, Copy, Debug)]
struct Late {
    blocks: u32,
    since: Nanos,
}

impl StreamClock {
    /// Nothing is known yet. What is allocated is allocated here.
    pub fn new(sample_rate: u32) -> StreamClock {
        StreamClock {
            sample_rate,
            envelope: Envelope::new(WINDOW),
            dll: Dll::new(sample_rate),
            is_broken: false,
            was_established: false,
            next_frame: 0,
            late: None,
        }
    }

    /// Frames and time are related anew from the next block on: after an xrun, or on another device.
    pub fn break_off(&mut self) {
        self.is_broken = true;
    }

    /// Whether the next block starts a new fit.
    pub fn is_broken(&self) -> bool {
        self.is_broken
    }

    /// Learns from a block of `frames` frames that begins with `frame` and is heard at the host time `heard`. When a
    /// fit is lost with it, in a stream that had one worth something: up to which stream time that fit held.
    pub fn block(&mut self, frame: u64, frames: u32, heard: Nanos) -> Option<Nanos> {
        let nominal = time_of(frame as i64, self.sample_rate);
        let offset = heard - nominal;
        let broken_from = self.broken_from(nominal, offset);
        let mut lost = None;
        if let Some(from) = broken_from {
            lost = self.was_established.then_some(from);
            self.restart();
        }
        self.envelope.add(nominal, offset);
        self.was_established |= self.envelope.span() > ESTABLISHED;
        let unhindered = self.envelope.offset_at(nominal).unwrap_or(offset);
        self.dll
            .update(frame, frames, nominal + unhindered.min(offset));
        self.next_frame = frame + u64::from(frames);
        lost
    }

    /// The stream time that is heard at the host time `host`, and no more than a quarter of a second after the last
    /// block; `None` before the first one.
    pub fn stream_time(&self, host: Nanos) -> Option<Nanos> {
        let latest = self.end() + AHEAD;
        self.dll.stream_time(host).map(|at| at.min(latest))
    }

    /// Where the next block begins.
    pub fn end(&self) -> Nanos {
        time_of(self.next_frame as i64, self.sample_rate)
    }

    /// How well the fit knows which frame is heard, one standard deviation.
    pub fn standard_error(&self) -> Nanos {
        let fit = self.envelope.standard_error().unwrap_or(Nanos::ZERO);
        let loop_error = self.dll.residual();
        Nanos((fit.0 as f64).hypot(loop_error.0 as f64).round() as i64)
    }

    fn restart(&mut self) {
        self.envelope.restart();
        self.dll.restart();
        self.is_broken = false;
        self.late = None;
    }

    /// If the fit ends before this block: where it does.
    fn broken_from(&mut self, nominal: Nanos, offset: Nanos) -> Option<Nanos> {
        if self.is_broken {
            return Some(self.end());
        }
        let above = offset - self.envelope.offset_at(nominal)?;
        if !(-JUMP_DOWN..=JUMP_UP).contains(&above) {
            return Some(self.end());
        }
        if above <= SHIFT {
            self.late = None;
            return None;
        }
        let late = self.late.get_or_insert(Late {
            blocks: 0,
            since: nominal,
        });
        late.blocks += 1;
        let has_shifted = late.blocks >= SHIFTED_BLOCKS && nominal - late.since > SHIFTED_FOR;
        has_shifted.then_some(late.since)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: u32 = 48_000;

    /// Blocks of 10 ms, heard `offset` after their nominal time.
    fn play(clock: &mut StreamClock, blocks: std::ops::Range<u64>, offset: Nanos) -> Vec<Nanos> {
        blocks
            .filter_map(|n| clock.block(480 * n, 480, Nanos::from_ms(10 * n as i64) + offset))
            .collect()
    }

    fn ms(ms: i64) -> Nanos {
        Nanos::from_ms(ms)
    }

    fn near(clock: &StreamClock, host: Nanos, stream: Nanos) {
        let found = clock.stream_time(host).unwrap();
        assert!(
            (found - stream).abs() < Nanos(20_000),
            "{found:?} {stream:?}"
        );
    }

    #[test]
    fn a_xrun_that_is_told_starts_a_new_fit_at_the_next_block() {
        let mut clock = StreamClock::new(RATE);
        assert_eq!(clock.stream_time(ms(5)), None);
        assert_eq!(play(&mut clock, 0..200, ms(30)), []);
        near(&clock, ms(1535), ms(1505));
        clock.break_off();
        // Until then the old fit serves, as far as it goes.
        near(&clock, ms(2100), ms(2070));
        assert_eq!(clock.stream_time(ms(9000)), Some(ms(2250)));
        assert_eq!(play(&mut clock, 200..300, ms(42)), [ms(2000)]);
        near(&clock, ms(2542), ms(2500));
        // Another one soon after.
        play(&mut clock, 300..305, ms(42));
        clock.break_off();
        assert_eq!(play(&mut clock, 305..310, ms(50)), [ms(3050)]);
    }

    #[test]
    fn time_that_is_lost_without_a_word_is_noticed() {
        for lost in [5, 60, 30_000] {
            let mut clock = StreamClock::new(RATE);
            assert_eq!(play(&mut clock, 0..300, ms(30)), []);
            assert_eq!(
                play(&mut clock, 300..400, ms(30 + lost)),
                [ms(3000)],
                "{lost}"
            );
            near(&clock, ms(3930 + lost), ms(3900));
        }
    }

    #[test]
    fn a_hiccup_of_some_callbacks_is_none() {
        let mut clock = StreamClock::new(RATE);
        play(&mut clock, 0..300, ms(30));
        for n in 300..308u64 {
            // Eight callbacks run at once.
            assert_eq!(clock.block(480 * n, 480, ms(3080 + 30)), None);
        }
        assert_eq!(play(&mut clock, 308..400, ms(30)), []);
        near(&clock, ms(3930), ms(3900));
    }

    #[test]
    fn a_break_before_anything_is_known_is_no_loss() {
        let mut clock = StreamClock::new(RATE);
        clock.break_off();
        assert_eq!(play(&mut clock, 0..20, ms(30)), []);
        clock.break_off();
        assert_eq!(play(&mut clock, 20..40, ms(60)), []);
        near(&clock, ms(350), ms(290));
    }
}
