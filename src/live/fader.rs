//! How loud a session is: one number that a player's hand moves and the audio callback follows, without a lock.
//!
//! Sounds are laid out with the click at [`Level::CAP`]; the fader only ever brings them down, so that it cannot make
//! anything clip, and moving it does not lay anything out anew.

use crate::click::{Level, Stereo};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// A change takes this long: a step at once would be heard as a click of its own, and 10 ms are not heard as a delay.
const CHANGE_S: f64 = 0.010;

/// See the module's head. Shared by whoever moves it and the audio callback.
#[derive(Debug)]
pub struct Fader(AtomicU64);

impl Fader {
    /// One that stands at this level.
    pub fn new(level: Level) -> Fader {
        Fader(AtomicU64::new(level.as_dbfs().to_bits()))
    }

    /// Moves it. Heard from the next block on, within 10 ms of it.
    pub fn set(&self, level: Level) {
        self.0.store(level.as_dbfs().to_bits(), Ordering::Relaxed);
    }

    /// Where it stands: the level of a click that was laid out at [`Level::CAP`].
    pub fn level(&self) -> Level {
        Level::dbfs(f64::from_bits(self.0.load(Ordering::Relaxed)))
    }
}

/// The audio callback's end of a fader: follows it evenly, the same whatever the blocks' length.
#[derive(Debug)]
pub(super) struct Follower {
    fader: Arc<Fader>,
    /// Where the fader stood at the last look.
    level: Level,
    /// Samples are multiplied by this in the end.
    target: f32,
    /// And by this when the change began.
    from: f32,
    /// Frames of the change that are still to come.
    left: u32,
    /// Frames that a change takes.
    frames: u32,
}

impl Follower {
    /// One that is where the fader is.
    pub fn new(fader: Arc<Fader>) -> Follower {
        let level = fader.level();
        let gain = gain(level);
        Follower {
            fader,
            level,
            target: gain,
            from: gain,
            left: 0,
            frames: 1,
        }
    }

    /// Told before the first block.
    pub fn prepare(&mut self, sample_rate: u32) {
        self.frames = ((CHANGE_S * f64::from(sample_rate)) as u32).max(1);
    }

    /// Brings a block down to the level. Real-time safe.
    pub fn follow(&mut self, mut out: Stereo<'_>) {
        self.look();
        let changing = out.frames().min(self.left as usize);
        let change = out.left.iter_mut().zip(&mut *out.right).take(changing);
        for (left, right) in change {
            self.left -= 1;
            let gain = self.gain();
            *left *= gain;
            *right *= gain;
        }
        let rest = out.lend().after(changing);
        for sample in rest.left.iter_mut().chain(rest.right) {
            *sample *= self.target;
        }
    }

    fn look(&mut self) {
        let level = self.fader.level();
        if level != self.level {
            self.level = level;
            self.from = self.gain();
            self.target = gain(level);
            self.left = self.frames;
        }
    }

    fn gain(&self) -> f32 {
        let left = self.left as f32 / self.frames as f32;
        self.target + (self.from - self.target) * left
    }
}

/// What is laid out at the cap is multiplied by this; at most 1, and 1 exactly at the cap.
fn gain(level: Level) -> f32 {
    (level.peak() / Level::CAP.peak()).min(1.0) as f32
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: u32 = 48_000;
    /// Of a change at that rate.
    const FRAMES: usize = 480;

    fn follower(level: Level) -> (Arc<Fader>, Follower) {
        let fader = Arc::new(Fader::new(level));
        let mut follower = Follower::new(Arc::clone(&fader));
        follower.prepare(RATE);
        (fader, follower)
    }

    /// What becomes of a constant 1 in both ears.
    fn followed(follower: &mut Follower, frames: usize) -> Vec<f32> {
        let (mut left, mut right) = (vec![1.0; frames], vec![1.0; frames]);
        follower.follow(Stereo::new(&mut left, &mut right));
        assert_eq!(left, right);
        left
    }

    #[test]
    fn at_a_constant_level_every_sample_is_multiplied_by_the_same_from_the_first_on() {
        let (_, mut at_cap) = follower(Level::CAP);
        assert_eq!(followed(&mut at_cap, 1000), [1.0; 1000]);
        let (fader, mut quiet) = follower(Level::dbfs(-26.0));
        assert_eq!(followed(&mut quiet, 1000), [0.1; 1000]);
        // Set to where it is.
        fader.set(Level::dbfs(-26.0));
        assert_eq!(followed(&mut quiet, 1000), [0.1; 1000]);
    }

    #[test]
    fn a_change_is_even_and_ends_exactly_at_the_new_level() {
        let (fader, mut follower) = follower(Level::CAP);
        for (from, level, to) in [(1.0, Level::dbfs(-26.0), 0.1), (0.1, Level::CAP, 1.0f32)] {
            fader.set(level);
            assert_eq!(fader.level(), level);
            let change = followed(&mut follower, FRAMES + 100);
            assert_eq!(change[FRAMES - 1..], [to; 101]);
            let step = (to - from) / FRAMES as f32;
            let mut last = from;
            for gain in &change[..FRAMES] {
                assert!((gain - last - step).abs() < 1e-6, "{last} to {gain}");
                last = *gain;
            }
        }
    }

    #[test]
    fn the_sound_does_not_depend_on_the_block_length() {
        let run = |blocks: &[usize]| {
            let (fader, mut follower) = follower(Level::dbfs(-18.0));
            let mut sound = followed(&mut follower, 300);
            // The second change comes in the middle of the first one.
            for level in [Level::CAP, Level::QUIETEST] {
                fader.set(level);
                for block in blocks {
                    sound.extend(followed(&mut follower, *block));
                }
            }
            sound.extend(followed(&mut follower, 1000));
            sound
        };
        let whole = run(&[300]);
        assert_eq!(whole, run(&[1; 300]));
        assert_eq!(whole, run(&[7, 193, 64, 36]));
        let steepest = whole.windows(2).map(|pair| (pair[1] - pair[0]).abs());
        let steepest = steepest.fold(0.0, f32::max);
        assert!(steepest <= 1.0 / FRAMES as f32, "{steepest}");
    }

    #[test]
    fn nothing_is_made_louder_and_the_quietest_is_60_db_below_full_scale() {
        assert_eq!(gain(Level::dbfs(20.0)), 1.0);
        assert_eq!(gain(Level::dbfs(f64::NEG_INFINITY)), 0.0);
        let quietest = f64::from(gain(Level::QUIETEST)) * Level::CAP.peak();
        assert!((quietest - 0.001).abs() < 1e-9, "{quietest}");
    }
}
