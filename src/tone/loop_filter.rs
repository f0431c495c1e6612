//! The filter in the string's loop: how long it takes and what it loses each time around.

use std::f64::consts::TAU;

/// Where the loss of the upper partials is set.
const BRIGHT_HZ: f64 = 1000.0;
/// The loop always loses a little, so that nothing stays in it.
const GREATEST_GAIN: f64 = 0.999;
/// The middle tap's distance and half a frame each way are the range of a spline's delay.
const LEAST_SPLINE: f64 = 0.5;

/// How fast a string falls silent: times in which a partial falls to 1/e.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Damping {
    /// The fundamental's, in seconds. Where the upper partials' loss alone is greater, it is that.
    pub fundamental_s: f64,
    /// That of a partial at 1 kHz, in seconds.
    pub bright_s: f64,
}

/// One time around: a whole delay, a spline of three taps for the fraction, and a smoother of one pole.
///
/// The taps are the quadratic B-spline at the fraction: for half a frame the two-point average of Karplus & Strong, and
/// for every other fraction three weights of the same variance, so that no pitch is brighter than its neighbour. All
/// weights of spline and smoother are positive and add up to one: what goes around never rises above what was put in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LoopFilter {
    /// Whole frames of delay.
    pub frames: usize,
    /// Weights of what left `frames`, `frames + 1` and `frames + 2` ago; the gain is in them.
    pub taps: [f32; 3],
    /// How much of its last value the smoother keeps.
    pub smoothing: f32,
}

impl LoopFilter {
    /// The filter for a pitch; that of a key too high for the sample rate sounds lower than asked.
    pub fn new(pitch_hz: f64, damping: Damping, sample_rate: u32) -> LoopFilter {
        let rate = f64::from(sample_rate);
        let period = rate / pitch_hz;
        let at_pitch = TAU / period;
        let smoother = Smoother::losing(
            (1.0 / damping.bright_s - 1.0 / damping.fundamental_s) / pitch_hz,
            TAU * BRIGHT_HZ.min(rate / 4.0) / rate,
        )
        .at_most(period / 4.0);
        let delay = (period - smoother.delay(at_pitch)).max(1.0 + LEAST_SPLINE);
        let frames = (delay - LEAST_SPLINE).floor();
        let spline = spline(delay - frames);
        let wanted = (-1.0 / (pitch_hz * damping.fundamental_s)).exp();
        let lost = smoother.gain(at_pitch) * gain(spline, at_pitch);
        let gain = (wanted / lost).min(GREATEST_GAIN);
        LoopFilter {
            frames: frames as usize,
            taps: spline.map(|tap| (gain * tap) as f32),
            smoothing: smoother.0 as f32,
        }
    }
}

/// The quadratic B-spline's weights at a mean delay of 0.5 to 1.5 frames. (Its phase delay differs from its mean delay
/// by a term in the square of the frequency: under 0.01 cents at G4 and 44.1 kHz.)
fn spline(delay: f64) -> [f64; 3] {
    let last = (delay - 0.5).powi(2) / 2.0;
    let first = (1.5 - delay).powi(2) / 2.0;
    [first, 1.0 - first - last, last]
}

fn gain(taps: [f64; 3], frequency: f64) -> f64 {
    let [a, b, c] = taps;
    let real = a + b * frequency.cos() + c * (2.0 * frequency).cos();
    let imaginary = b * frequency.sin() + c * (2.0 * frequency).sin();
    real.hypot(imaginary)
}

/// `y(n) = (1 − p) x(n) + p y(n − 1)`; frequencies in radians a frame.
#[derive(Clone, Copy)]
struct Smoother(f64);

impl Smoother {
    /// The smoother that loses `nepers` at `frequency`.
    ///
    /// From `|H|⁻² = 1 + 2q (1 − cos ω)` with `q = p / (1 − p)²`, solved for p.
    fn losing(nepers: f64, frequency: f64) -> Smoother {
        let q = (2.0 * nepers.max(0.0)).exp_m1() / (2.0 * (1.0 - frequency.cos()));
        if q <= 0.0 {
            return Smoother(0.0);
        }
        Smoother((2.0 * q + 1.0 - (4.0 * q + 1.0).sqrt()) / (2.0 * q))
    }

    /// Smoothing no longer than so many frames, its delay at low frequencies.
    fn at_most(self, frames: f64) -> Smoother {
        Smoother(self.0.min(frames / (1.0 + frames)))
    }

    /// The phase delay in frames.
    fn delay(self, frequency: f64) -> f64 {
        let p = self.0;
        (p * frequency.sin()).atan2(1.0 - p * frequency.cos()) / frequency
    }

    fn gain(self, frequency: f64) -> f64 {
        let p = self.0;
        (1.0 - p) / (1.0 - 2.0 * p * frequency.cos() + p * p).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Key;

    const DAMPING: Damping = Damping {
        fundamental_s: 1.0,
        bright_s: 0.1,
    };

    #[test]
    fn half_a_frame_is_the_two_point_average_of_the_paper() {
        assert_eq!(spline(0.5), [0.5, 0.5, 0.0]);
        assert_eq!(spline(1.0), [0.125, 0.75, 0.125]);
    }

    #[test]
    fn what_goes_around_never_rises() {
        for rate in [8_000, 44_100, 48_000, 192_000] {
            for key in 0..128 {
                let filter = LoopFilter::new(Key(key).frequency_hz(), DAMPING, rate);
                let sum: f32 = filter.taps.iter().sum();
                assert!(filter.taps.iter().all(|tap| *tap >= 0.0), "{filter:?}");
                assert!((0.0..1.0).contains(&filter.smoothing) && sum < 1.0);
                assert!(filter.frames >= 1 && sum > 0.0, "{key} at {rate}");
            }
        }
    }

    /// E1: one time around takes 1/41.2 s, so 1 kHz loses exp(−1 / (41.2 · 0.1)) each time.
    #[test]
    fn a_kilohertz_fades_as_fast_as_it_was_asked_to() {
        let pitch_hz = Key(28).frequency_hz();
        let filter = LoopFilter::new(pitch_hz, DAMPING, 48_000);
        let frequency = TAU * 1000.0 / 48_000.0;
        let taps = filter.taps.map(f64::from);
        let around = gain(taps, frequency) * Smoother(f64::from(filter.smoothing)).gain(frequency);
        let fading_s = -1.0 / (pitch_hz * around.ln());
        assert!((fading_s - 0.1).abs() < 0.003, "{fading_s}");
    }
}
