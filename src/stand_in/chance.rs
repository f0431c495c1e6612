//! Seeded chance: one independent stream a habit, the same numbers on every platform.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// Who draws; the number is the stream and must not change, or known takes change with it.
#[derive(Clone, Copy, Debug)]
pub(super) enum Stream {
    Timing = 1,
    Velocity = 2,
    WrongFrets = 3,
    Dropped = 4,
    Extra = 5,
    Converter = 6,
    RoughBars = 7,
    OctaveSlips = 8,
    NextString = 9,
    Clock = 10,
    Hand = 11,
}

/// One stream of a seed.
pub(super) struct Chance(ChaCha8Rng);

impl Chance {
    pub(super) fn new(seed: u64, stream: Stream) -> Chance {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        generator.set_stream(stream as u64);
        Chance(generator)
    }

    /// A draw from the normal distribution of mean 0 and standard deviation 1.
    pub(super) fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }

    /// An even draw from 0 up to, but without, 1.
    pub(super) fn even(&mut self) -> f64 {
        self.0.random()
    }

    /// True with this probability.
    pub(super) fn happens(&mut self, share: f64) -> bool {
        self.even() < share
    }
}
