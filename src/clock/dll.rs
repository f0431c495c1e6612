//! A delay-locked loop that fits the frames of an audio stream to the host's clock.
//!
//! Source: F. Adriaensen, "Using a DLL to filter time", Linux Audio Conference 2005: with ω = 2πBT, b = √2·ω, c = ω²,
//! each block at time t does `e = t − t1; t0 = t1; t1 += b·e + e2; e2 += c·e`. Two differences: e2 is kept as the length
//! of one frame, so that blocks may have any length; and the bandwidth B narrows while the loop settles.
//!
//! The loop tracks the **mean** of the block times: what they are late by on average would stay in. It is therefore fed
//! by [`super::stream`] with times from which lateness has been taken out.

use crate::units::Nanos;
use std::f64::consts::{SQRT_2, TAU};

/// While the loop settles, in Hz.
const WIDEST_HZ: f64 = 1.0;
/// After ten seconds, in Hz: slow enough to smooth over scheduling, fast enough to follow a warming crystal.
const NARROWEST_HZ: f64 = 0.1;
/// The loop swings when ω comes near 1, so long blocks make it slower.
const LARGEST_OMEGA: f64 = 0.5;
/// A block this far from its prediction belongs to another stretch of time: the fit starts anew.
const JUMP: Nanos = Nanos::from_ms(200);
/// A fit this long knows the length of a frame.
const LONG: Nanos = Nanos::from_ms(5000);
/// How long the residual remembers, in blocks.
const RESIDUAL_BLOCKS: f64 = 500.0;

/// The fit. Host times are counted from the owner's origin, frames from the start of the stream.
#[derive(Clone, Debug)]
pub struct Dll {
    nominal_frame_ns: f64,
    /// What a new fit starts from: the length of a frame as the last fit found it.
    usual_frame_ns: f64,
    fit: Option<Fit>,
}

#[derive(Clone, Copy, Debug)]
struct Fit {
    /// The first frame of the last block, and when it is.
    frame: u64,
    at_ns: f64,
    /// The first frame of the next block, and when it will be.
    next_frame: u64,
    next_ns: f64,
    frame_ns: f64,
    started_ns: f64,
    squared_error: f64,
    blocks: f64,
}

impl Dll {
    /// No fit yet; `sample_rate` is the nominal one.
    pub fn new(sample_rate: u32) -> Dll {
        Dll {
            nominal_frame_ns: 1e9 / f64::from(sample_rate),
            usual_frame_ns: 1e9 / f64::from(sample_rate),
            fit: None,
        }
    }

    /// Forgets the fit: after an xrun frames and time are related anew. The length of a frame is still the same.
    pub fn restart(&mut self) {
        if let Some(fit) = self.fit.take()
            && fit.next_ns - fit.started_ns > LONG.0 as f64
        {
            self.usual_frame_ns = fit.frame_ns;
        }
    }

    /// A block of `frames` frames that begins with `frame` was timed at `at`. Blocks that are left out are made good
    /// by the fit; a jump in time, or back in frames, starts a new one.
    pub fn update(&mut self, frame: u64, frames: u32, at: Nanos) {
        let next_frame = frame + u64::from(frames);
        let at_ns = at.0 as f64;
        match &mut self.fit {
            Some(fit) if fit.is_continued_by(frame, at_ns) => {
                fit.pass_over(frame);
                fit.update(next_frame, at_ns);
            }
            fit => *fit = Some(Fit::new(frame, next_frame, at_ns, self.usual_frame_ns)),
        }
    }

    /// The stream time that is heard at the host time `host`; `None` before the first block.
    pub fn stream_time(&self, host: Nanos) -> Option<Nanos> {
        let fit = self.fit?;
        let frames = (host.0 as f64 - fit.at_ns) / fit.slope_ns();
        let stream_ns = (fit.frame as f64 + frames) * self.nominal_frame_ns;
        Some(Nanos(stream_ns.round() as i64))
    }

    /// The root mean square of how far blocks were from their prediction, the latest weighing most.
    pub fn residual(&self) -> Nanos {
        let rms = self.fit.map_or(0.0, |fit| fit.squared_error.sqrt());
        Nanos(rms.round() as i64)
    }
}

impl Fit {
    fn new(frame: u64, next_frame: u64, at_ns: f64, frame_ns: f64) -> Fit {
        Fit {
            frame,
            at_ns,
            next_frame,
            next_ns: at_ns + (next_frame - frame) as f64 * frame_ns,
            frame_ns,
            started_ns: at_ns,
            squared_error: 0.0,
            blocks: 0.0,
        }
    }

    fn is_continued_by(&self, frame: u64, at_ns: f64) -> bool {
        let left_out = frame.checked_sub(self.next_frame);
        left_out.is_some_and(|left_out| {
            let predicted_ns = self.next_ns + left_out as f64 * self.frame_ns;
            (at_ns - predicted_ns).abs() < JUMP.0 as f64
        })
    }

    /// Predicts up to `frame` without a measurement.
    fn pass_over(&mut self, frame: u64) {
        self.next_ns += (frame - self.next_frame) as f64 * self.frame_ns;
        self.next_frame = frame;
    }

    fn update(&mut self, next_frame: u64, at_ns: f64) {
        let frames = (next_frame - self.next_frame) as f64;
        if frames == 0.0 {
            return;
        }
        let error = at_ns - self.next_ns;
        let elapsed_s = (self.next_ns - self.started_ns) / 1e9;
        let bandwidth = (1.0 / elapsed_s).clamp(NARROWEST_HZ, WIDEST_HZ);
        let omega = (TAU * bandwidth * frames * self.frame_ns / 1e9).min(LARGEST_OMEGA);
        self.frame = self.next_frame;
        self.at_ns = self.next_ns;
        self.next_frame = next_frame;
        self.next_ns += SQRT_2 * omega * error + frames * self.frame_ns;
        self.frame_ns += omega * omega * error / frames;
        self.blocks = (self.blocks + 1.0).min(RESIDUAL_BLOCKS);
        self.squared_error += (error * error - self.squared_error) / self.blocks;
    }

    fn slope_ns(&self) -> f64 {
        (self.next_ns - self.at_ns) / (self.next_frame - self.frame).max(1) as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{Rng, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    /// Worked by hand: B = 1 Hz and blocks of 0.5/(2π) s make ω = 0.5, b = √2/2, c = 1/4.
    #[test]
    fn two_blocks_go_as_the_published_formula_says() {
        let period = 0.5e9 / TAU;
        let mut fit = Fit::new(0, 1000, 0.0, period / 1000.0);
        // The second block is 1 ms late.
        fit.update(2000, period + 1e6);
        assert!((fit.at_ns - period).abs() < 1e-3);
        assert!((fit.next_ns - (2.0 * period + SQRT_2 / 2.0 * 1e6)).abs() < 1e-3);
        assert!((fit.frame_ns - (period + 0.25e6) / 1000.0).abs() < 1e-6);
        let dll = Dll {
            nominal_frame_ns: 1.0,
            usual_frame_ns: 1.0,
            fit: Some(fit),
        };
        assert_eq!(dll.residual(), Nanos::from_ms(1));
    }

    #[test]
    fn an_exact_clock_is_met_exactly() {
        let mut dll = Dll::new(48_000);
        assert_eq!(dll.stream_time(Nanos(0)), None);
        for block in 0..100 {
            dll.update(480 * block, 480, Nanos::from_ms(7000 + 10 * block as i64));
        }
        assert_eq!(
            dll.stream_time(Nanos::from_ms(7500)),
            Some(Nanos::from_ms(500))
        );
        assert_eq!(dll.residual(), Nanos::ZERO);
    }

    /// The median distance from the truth after two seconds, in ms. The truth includes the mean of the delay.
    fn median_error_ms(ppm: f64, period: u32, seed: u64) -> f64 {
        let rate = 48_000;
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let mut dll = Dll::new(rate);
        let frame_ns = 1e9 / f64::from(rate) * (1.0 + ppm * 1e-6);
        let mut errors = Vec::new();
        for block in 0..20 * rate / period {
            let frame = u64::from(block * period);
            let truth_ns = frame as f64 * frame_ns;
            let delay_ms = -(1.0 - random.random::<f64>()).ln();
            dll.update(frame, period, Nanos((truth_ns + delay_ms * 1e6) as i64));
            if truth_ns > 2e9 {
                let heard = dll.stream_time(Nanos(truth_ns as i64 + 1_000_000)).unwrap();
                let stream_ns = frame as f64 * 1e9 / f64::from(rate);
                errors.push((heard.0 as f64 - stream_ns).abs() / 1e6);
            }
        }
        errors.sort_by(f64::total_cmp);
        errors[errors.len() / 2]
    }

    #[test]
    fn drift_and_jitter_leave_less_than_half_a_millisecond() {
        for (seed, ppm) in [-200.0, 0.0, 200.0].into_iter().enumerate() {
            for period in [64, 256, 1024] {
                let error = median_error_ms(ppm, period, seed as u64);
                assert!(error < 0.5, "{error} ms at {ppm} ppm, {period} frames");
            }
        }
    }

    #[test]
    fn a_third_of_a_second_a_block_does_not_make_it_swing() {
        let error = median_error_ms(200.0, 16_384, 7);
        assert!(error < 1.0, "{error} ms");
    }

    #[test]
    fn a_jump_starts_a_new_fit_and_a_block_left_out_does_not() {
        let mut dll = Dll::new(1000);
        dll.update(0, 10, Nanos::from_ms(0));
        dll.update(10, 10, Nanos::from_ms(500));
        assert_eq!(
            dll.stream_time(Nanos::from_ms(505)),
            Some(Nanos::from_ms(15))
        );
        dll.update(100, 10, Nanos::from_ms(590));
        assert_eq!(
            dll.stream_time(Nanos::from_ms(595)),
            Some(Nanos::from_ms(105))
        );
        assert_eq!(dll.residual(), Nanos::ZERO);
        dll.update(50, 10, Nanos::from_ms(600));
        assert_eq!(
            dll.stream_time(Nanos::from_ms(600)),
            Some(Nanos::from_ms(50))
        );
        dll.restart();
        assert_eq!(dll.stream_time(Nanos::from_ms(510)), None);
    }
}
