//! One string that sounds, from its strike to its silence.

use super::recipe::Recipe;
use std::sync::Arc;

/// A stopped string falls to 1/e in this time …
const RELEASE_S: f64 = 0.006;
/// … and is silent after so many of them: 42 ms.
const RELEASES: f64 = 7.0;
/// Frames that the filter looks at.
const TAPS: usize = 3;

/// How a stopped string falls silent, frame by frame.
#[derive(Clone, Debug)]
pub struct Release(Arc<[f32]>);

impl Release {
    /// For a sample rate.
    pub fn new(sample_rate: u32) -> Release {
        let tau = RELEASE_S * f64::from(sample_rate);
        let length = (RELEASES * tau).ceil();
        let fade = |n: u32| ((1.0 - f64::from(n) / length) * (-f64::from(n) / tau).exp()) as f32;
        Release((0..length as u32).map(fade).collect())
    }

    /// Frames until silence.
    pub fn frames(&self) -> u64 {
        self.0.len() as u64
    }

    /// The share that is left `late` frames after the end; none when all is over.
    fn at(&self, late: u64) -> Option<f32> {
        self.0.get(usize::try_from(late).ok()?).copied()
    }
}

/// A string. It allocates only when it is made.
#[derive(Clone, Debug)]
pub struct Voice {
    release: Release,
    /// What was in the string of late: `length` frames, those after it unused.
    string: Vec<f32>,
    length: usize,
    at: usize,
    smoothed: f32,
    /// Frames since the strike.
    age: usize,
    sounding: Option<Sounding>,
}

#[derive(Clone, Copy, Debug)]
struct Sounding {
    recipe: usize,
    end: u64,
}

impl Voice {
    /// A silent string that can sound any of the recipes.
    pub fn new(recipes: &[Recipe], release: Release) -> Voice {
        let longest = recipes.iter().map(length).max().unwrap_or(0);
        Voice {
            release,
            string: vec![0.0; longest],
            length: longest,
            at: 0,
            smoothed: 0.0,
            age: 0,
            sounding: None,
        }
    }

    /// Strikes the string with `recipes[index]`; it is stopped at frame `end`.
    pub fn strike(&mut self, recipes: &[Recipe], index: usize, end: u64) {
        self.length = length(&recipes[index]);
        self.string[..self.length].fill(0.0);
        (self.at, self.smoothed, self.age) = (0, 0.0, 0);
        self.sounding = Some(Sounding { recipe: index, end });
    }

    /// Adds the string's sound to a block that begins at frame `first`.
    pub fn mix(&mut self, recipes: &[Recipe], first: u64, out: &mut [f32]) {
        let Some(Sounding { recipe, end }) = self.sounding else {
            return;
        };
        let recipe = &recipes[recipe];
        let open = usize::try_from(end.saturating_sub(first)).unwrap_or(usize::MAX);
        let open = open.min(out.len());
        for sample in &mut out[..open] {
            *sample += self.next(recipe);
        }
        let late = (first + open as u64).saturating_sub(end);
        for (late, sample) in (late..).zip(&mut out[open..]) {
            let Some(left) = self.release.at(late) else {
                self.sounding = None;
                return;
            };
            *sample += left * self.next(recipe);
        }
    }

    /// The string's next sample.
    fn next(&mut self, recipe: &Recipe) -> f32 {
        let length = self.length;
        let wrapped = |place: usize| place.checked_sub(length).unwrap_or(place);
        // The string holds so many frames more than the filter's whole delay.
        let back = |by: usize| self.string[wrapped(self.at + TAPS - by)];
        let [near, middle, far] = recipe.around.taps;
        let returned = near * back(0) + middle * back(1) + far * back(2);
        let keep = recipe.around.smoothing;
        self.smoothed = (1.0 - keep) * returned + keep * self.smoothed;
        let sample = self.smoothed + recipe.pluck.get(self.age).copied().unwrap_or(0.0);
        self.string[self.at] = sample;
        self.at = wrapped(self.at + 1);
        self.age += 1;
        sample
    }
}

/// Frames that the loop looks back, and the present one.
fn length(recipe: &Recipe) -> usize {
    recipe.around.frames + TAPS
}

#[cfg(test)]
mod tests {
    use super::super::recipe::{Sound, Touch};
    use super::*;
    use crate::units::Key;

    fn struck(sound: Sound, rate: u32, frames: usize) -> Vec<f32> {
        let recipes = [Recipe::new(sound, Touch::Plain, 1.0, rate)];
        let mut voice = Voice::new(&recipes, Release::new(rate));
        voice.strike(&recipes, 0, u64::MAX);
        let mut sound = vec![0.0; frames];
        voice.mix(&recipes, 0, &mut sound);
        sound
    }

    /// The frequency of the strongest sinusoid within a quarter-tone of `near_hz`: the phase between two stretches,
    /// half a second apart, of the sound against that sinusoid (phase vocoder; Flanagan & Golden 1966, from memory).
    fn fundamental_hz(sound: &[f32], rate: u32, near_hz: f64) -> f64 {
        let rate = f64::from(rate);
        let (window, hop) = ((rate / 2.0) as usize, (rate / 20.0) as usize);
        let phase = |start: usize| {
            let (mut real, mut imaginary) = (0.0, 0.0);
            for n in 0..window {
                let hann = 0.5 - 0.5 * (std::f64::consts::TAU * n as f64 / window as f64).cos();
                let turn = std::f64::consts::TAU * near_hz * (start + n) as f64 / rate;
                real += hann * f64::from(sound[start + n]) * turn.cos();
                imaginary -= hann * f64::from(sound[start + n]) * turn.sin();
            }
            f64::atan2(imaginary, real)
        };
        let turned = phase(hop + 1000) - phase(1000);
        let turned = (turned + std::f64::consts::PI).rem_euclid(std::f64::consts::TAU)
            - std::f64::consts::PI;
        near_hz + turned * rate / (std::f64::consts::TAU * hop as f64)
    }

    #[test]
    fn every_pitch_from_e1_to_g4_is_in_tune_within_a_cent() {
        let mut worst = 0f64;
        for rate in [44_100, 48_000] {
            for key in 28..=67 {
                let wanted = Key(key).frequency_hz();
                let sound = struck(Sound::Pitch(Key(key)), rate, rate as usize);
                let cents = 1200.0 * (fundamental_hz(&sound, rate, wanted) / wanted).log2();
                assert!(cents.abs() < 1.0, "key {key} at {rate}: {cents:+.3} cents");
                worst = worst.max(cents.abs());
            }
        }
        println!("largest error: {worst:.4} cents");
    }

    #[test]
    fn the_measuring_of_pitch_sees_a_string_that_is_two_cents_sharp() {
        let sharp = 55.0 * 2f64.powf(2.0 / 1200.0);
        let sine = |n: u32| (std::f64::consts::TAU * sharp * f64::from(n) / 48_000.0).sin() as f32;
        let sound: Vec<f32> = (0..48_000).map(sine).collect();
        let cents = 1200.0 * (fundamental_hz(&sound, 48_000, 55.0) / 55.0).log2();
        assert!((cents - 2.0).abs() < 0.02, "{cents}");
    }

    #[test]
    fn no_key_at_any_rate_rises_above_its_pluck_or_goes_astray() {
        for rate in [8_000, 48_000, 192_000] {
            for key in (0..128).step_by(3) {
                let sound = struck(Sound::Pitch(Key(key)), rate, rate as usize / 4);
                let peak = sound.iter().fold(0f32, |peak, s| peak.max(s.abs()));
                let most = Touch::Plain.gain() as f32 * 1.0001;
                assert!(sound.iter().all(|s| s.is_finite()) && peak <= most, "{key}");
            }
        }
    }

    #[test]
    fn a_dead_note_is_a_thump_that_is_over_in_a_tenth_of_a_second() {
        let sound = struck(Sound::Dead(Key(28)), 48_000, 9600);
        let power = |part: &[f32]| part.iter().map(|s| s * s).sum::<f32>();
        assert!(power(&sound[4800..]) < 1e-4 * power(&sound[..4800]));
    }

    #[test]
    fn a_stopped_string_is_silent_to_the_last_bit_after_its_release() {
        let recipes = [Recipe::new(
            Sound::Pitch(Key(40)),
            Touch::Accent,
            1.0,
            48_000,
        )];
        let mut voice = Voice::new(&recipes, Release::new(48_000));
        voice.strike(&recipes, 0, 4800);
        let mut sound = vec![0.0; 9600];
        voice.mix(&recipes, 0, &mut sound);
        assert!(sound[4700..4800].iter().any(|s| s.abs() > 0.1));
        assert!(sound[4800 + 2016..].iter().all(|s| *s == 0.0));
    }
}
