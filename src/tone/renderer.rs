//! The line as sound.

use super::score::{Layout, Score};
use super::voice::{Release, Voice};
use crate::click::Level;
use crate::expected::Expected;

/// A line's notes as plucked strings, at exact frames.
///
/// Each note's first sample is on `origin_frame + round(onset × rate)`, as a click's is; from its expected end on it
/// falls silent within 42 ms. What is rendered does not depend on the lengths of the blocks.
#[derive(Clone, Debug)]
pub struct Tone {
    score: Score,
    /// The next strike, once a block was asked for.
    next: Option<usize>,
    voices: Vec<Voice>,
}

impl Tone {
    /// Lays the line out, bar 1 beat 1 at `origin_frame`; `level` is the peak of an accented note. It allocates.
    pub fn new(expected: &Expected, origin_frame: u64, sample_rate: u32, level: Level) -> Tone {
        let release = Release::new(sample_rate);
        let layout = Layout {
            origin_frame,
            sample_rate,
            peak: level.peak(),
            release: release.frames(),
        };
        let score = Score::new(expected, layout);
        Tone {
            voices: vec![Voice::new(&score.recipes, release); score.voices],
            next: None,
            score,
        }
    }

    /// Adds the notes to `out`, a block of any length whose first sample is frame `first_frame`.
    ///
    /// What should have begun before the first block is left out. Blocks follow each other. Where frames are left out, a note that should have begun in them begins at once, if it
    /// is not over yet. Never allocates, locks, logs or waits.
    pub fn mix(&mut self, first_frame: u64, out: &mut [f32]) {
        let (mut now, mut rest) = (first_frame, out);
        while !rest.is_empty() {
            let next = self.strike_until(now);
            let next = self.score.strikes.get(next);
            let length = next.map_or(rest.len(), |strike| {
                usize::try_from(strike.frame - now).map_or(rest.len(), |gap| gap.min(rest.len()))
            });
            let (part, after) = rest.split_at_mut(length);
            for voice in &mut self.voices {
                voice.mix(&self.score.recipes, now, part);
            }
            (now, rest) = (now + length as u64, after);
        }
    }

    /// Strikes what is due at frame `now`, and says which strike is the next.
    fn strike_until(&mut self, now: u64) -> usize {
        let strikes = &self.score.strikes;
        let mut next = self
            .next
            .unwrap_or_else(|| strikes.partition_point(|strike| strike.frame < now));
        while let Some(strike) = strikes.get(next) {
            if strike.frame > now {
                break;
            }
            if strike.end > now {
                let voice = &mut self.voices[strike.voice];
                voice.strike(&self.score.recipes, strike.recipe, strike.end);
            }
            next += 1;
        }
        self.next = Some(next);
        next
    }
}
