//! What a strike of one pitch with one touch puts into the string, and the string's loop.

use super::loop_filter::{Damping, LoopFilter};
use crate::units::Key;
use std::f64::consts::TAU;

/// How wide the pulse is that the pluck sends along the string, as a share of one time around …
const PULSE: f64 = 0.2;
/// … and how long after it the one that went the other way passes the pickup, upside down from the string's end.
const REFLECTED: f64 = 0.42;
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

/// One time around: what a pickup sees of a string let go at a point, two pulses of which the second is the first
/// one's reflection. (The paper fills the string with noise; this way every strike of a note is like the one before.)
/// The finger's softness smooths them. What goes in has no mean, which the loop would keep, and begins at once.
fn pluck(frames: usize, smoothing: f64, peak: f64) -> Vec<f32> {
    let share = |share: f64| (share * frames as f64).round() as usize;
    let (wide, reflected) = (share(PULSE).max(1), share(REFLECTED).max(1));
    let mut last = 0.0;
    let smooth = |n: usize| {
        let within = |start: usize| f64::from(u8::from((start..start + wide).contains(&n)));
        let force = within(0) - within(reflected);
        last = (1.0 - smoothing) * force + smoothing * last;
        last
    };
    let mut pulses: Vec<f64> = (0..frames).map(smooth).collect();
    let mean = pulses.iter().sum::<f64>() / frames as f64;
    if frames > 1 {
        pulses.iter_mut().for_each(|force| *force -= mean);
    }
    let greatest = pulses
        .iter()
        .fold(0f64, |peak, force| peak.max(force.abs()));
    let scaled = pulses.iter().map(|force| peak * force / greatest);
    scaled.map(|force| force as f32).collect()
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
