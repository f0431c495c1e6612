//! What a strike of one pitch with one touch puts into the string, and the string's loop.

use super::loop_filter::{Damping, LoopFilter};
use crate::units::Key;
use std::f64::consts::TAU;

/// Where the string is plucked, as a share of its length from the bridge.
const PLUCKED_AT: f64 = 0.2;
const OPEN: Damping = Damping {
    fundamental_s: 1.2,
    bright_s: 0.15,
};
/// Under a hand that lies on the string.
const DEAD: Damping = Damping {
    fundamental_s: 0.012,
    bright_s: 0.006,
};

/// How hard a note is struck. Softer is duller as well.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Touch {
    /// A ghost note.
    Ghost,
    /// Any other.
    Plain,
    /// Marked with an accent.
    Accent,
}

impl Touch {
    /// The note's peak against an accent's.
    pub fn gain(self) -> f64 {
        match self {
            Touch::Ghost => 0.35,
            Touch::Plain => 0.7,
            Touch::Accent => 1.0,
        }
    }

    /// Above this the pluck has little.
    fn bright_hz(self) -> f64 {
        match self {
            Touch::Ghost => 700.0,
            Touch::Plain => 1500.0,
            Touch::Accent => 2500.0,
        }
    }
}

/// What is struck.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Sound {
    /// A pitch.
    Pitch(Key),
    /// A string of that open pitch under a damping hand.
    Dead(Key),
}

/// One pitch struck with one touch.
#[derive(Clone, Debug, PartialEq)]
pub struct Recipe {
    /// What the string gets in the first time around.
    pub pluck: Vec<f32>,
    /// What the rest is made of.
    pub around: LoopFilter,
}

impl Recipe {
    /// A strike whose greatest sample is `peak` for an accent.
    pub fn new(sound: Sound, touch: Touch, peak: f64, sample_rate: u32) -> Recipe {
        let (key, damping) = match sound {
            Sound::Pitch(key) => (key, OPEN),
            Sound::Dead(key) => (key, DEAD),
        };
        let around = LoopFilter::new(key.frequency_hz(), damping, sample_rate);
        let smoothing = (-TAU * touch.bright_hz() / f64::from(sample_rate)).exp();
        let pluck = pluck(around.frames, smoothing, peak * touch.gain());
        Recipe { pluck, around }
    }
}

/// One time around of an ideal string let go at a point: at the bridge its force is a pulse as wide as the point is
/// far. (The paper fills the string with noise; this way every strike of a note is like the one before.) The finger's
/// softness smooths it. It has no mean, since the loop would keep one, and begins at its first sample.
fn pluck(frames: usize, smoothing: f64, peak: f64) -> Vec<f32> {
    let wide = ((PLUCKED_AT * frames as f64).round() as usize).max(1);
    let mut last = 0.0;
    let smooth = |n: usize| {
        let force = if n < wide { 1.0 } else { 0.0 };
        last = (1.0 - smoothing) * force + smoothing * last;
        last
    };
    let mut pulse: Vec<f64> = (0..frames).map(smooth).collect();
    if frames > 1 {
        let mean = pulse.iter().sum::<f64>() / frames as f64;
        // The first sample is the softest of the pulse's rise; it stays what it is, so that it can be seen.
        pulse[1..]
            .iter_mut()
            .for_each(|force| *force -= mean * frames as f64 / (frames - 1) as f64);
    }
    let greatest = pulse.iter().fold(0f64, |peak, force| peak.max(force.abs()));
    pulse
        .iter()
        .map(|force| (peak * force / greatest) as f32)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pluck_has_its_peak_no_mean_and_begins_at_once() {
        for key in 23..90 {
            for touch in [Touch::Ghost, Touch::Plain, Touch::Accent] {
                let recipe = Recipe::new(Sound::Pitch(Key(key)), touch, 0.5, 48_000);
                let pluck = &recipe.pluck;
                let peak = pluck.iter().fold(0f32, |peak, force| peak.max(force.abs()));
                let sum: f64 = pluck.iter().map(|force| f64::from(*force)).sum();
                let mean = sum / pluck.len() as f64;
                assert!((f64::from(peak) - 0.5 * touch.gain()).abs() < 1e-6);
                assert!(mean.abs() < 1e-6, "{key}: {mean}");
                assert!(pluck[0] > 0.05 * peak, "{key}: {}", pluck[0]);
            }
        }
    }

    #[test]
    fn a_softer_touch_is_a_duller_one() {
        let steepest = |touch| {
            let pluck = Recipe::new(Sound::Pitch(Key(33)), touch, 1.0, 48_000).pluck;
            let steps = pluck.windows(2).map(|pair| (pair[1] - pair[0]).abs());
            steps.fold(0f32, f32::max) / touch.gain() as f32
        };
        assert!(steepest(Touch::Ghost) < 0.8 * steepest(Touch::Plain));
        assert!(steepest(Touch::Plain) < 0.8 * steepest(Touch::Accent));
    }
}
