//! Which bursts are played when.

use crate::clock::frames::{frame_at, time_of};
use crate::units::{Key, Nanos};
use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// The open strings and an octave up, and how often each comes in a block of sixteen. The fixed part is the line's
/// value at a period of 0, so it is known best when the shortest and the longest period come most often (a c-optimal
/// design has these two only; the others show whether it is a line).
const BLOCK: [(Key, usize); 8] = [
    (Key(28), 4), // E1
    (Key(33), 1), // A1
    (Key(38), 1), // D2
    (Key(43), 1), // G2
    (Key(40), 1), // E2
    (Key(45), 2), // A2
    (Key(50), 2), // D3
    (Key(55), 4), // G3
];
/// From one burst to the next, evenly spread: what recurs at a fixed rate (hum, a converter's own blocks) falls
/// differently into each.
const SPACING: std::ops::RangeInclusive<i64> = 280..=360;
/// A burst's pitch class differs from those of so many before it, so that an answer can be told by pitch even in
/// the wrong octave, and even when it comes after the next burst.
const APART: usize = 2;
/// Blocks laid out anew before one is taken as it comes; one in some tens needs a second try.
const TRIES: usize = 1000;

/// One tone burst.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Burst {
    /// Its onset in stream time.
    pub at: Nanos,
    /// Its pitch.
    pub key: Key,
}

/// The bursts in order of time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Schedule {
    bursts: Vec<Burst>,
}

impl Schedule {
    /// Mean time from burst to burst.
    pub const MEAN_SPACING: Nanos = Nanos::from_ms((*SPACING.start() + *SPACING.end()) / 2);
    /// Time to put the headphones down.
    pub const LEAD: Nanos = Nanos::from_ms(5000);

    /// `count` bursts in shuffled order, the first after `lead`. The same seed gives the same schedule everywhere.
    pub fn new(lead: Nanos, count: usize, seed: u64) -> Schedule {
        let mut chance = ChaCha8Rng::seed_from_u64(seed);
        let mut keys: Vec<Key> = Vec::with_capacity(count + 16);
        while keys.len() < count {
            let block = block(&keys, &mut chance);
            keys.extend(block);
        }
        keys.truncate(count);
        let mut at = lead;
        let burst = |key| {
            let burst = Burst { at, key };
            at += Nanos::from_ms(chance.random_range(SPACING));
            burst
        };
        Schedule {
            bursts: keys.into_iter().map(burst).collect(),
        }
    }

    /// The bursts as they were laid out.
    pub fn bursts(&self) -> &[Burst] {
        &self.bursts
    }

    /// The bursts as they are heard: each on the frame nearest to its time.
    pub fn on_frames(&self, sample_rate: u32) -> Vec<Burst> {
        let on_frame = |burst: &Burst| Burst {
            at: time_of(frame_at(burst.at, sample_rate), sample_rate),
            ..*burst
        };
        self.bursts.iter().map(on_frame).collect()
    }
}

fn block(before: &[Key], chance: &mut ChaCha8Rng) -> Vec<Key> {
    let mut last = Vec::new();
    for _ in 0..TRIES {
        let (block, whole) = try_block(before, chance);
        if whole {
            return block;
        }
        last = block;
    }
    last
}

/// A block, and whether it came out whole.
fn try_block(before: &[Key], chance: &mut ChaCha8Rng) -> (Vec<Key>, bool) {
    let mut left = BLOCK;
    let mut recent = before[before.len().saturating_sub(APART)..].to_vec();
    let skip = recent.len();
    loop {
        let barred = &recent[recent.len().saturating_sub(APART)..];
        let free = |key: Key| barred.iter().all(|other| class(*other) != class(key));
        // What there is most of comes sooner, or it would be left over at the end.
        let weight = |(key, count): &(Key, usize)| if free(*key) { count * count } else { 0 };
        let total: usize = left.iter().map(weight).sum();
        if total == 0 {
            let whole = left.iter().all(|(_, count)| *count == 0);
            return (recent.split_off(skip), whole);
        }
        let mut drawn = chance.random_range(0..total as u32) as usize;
        let chosen = left.iter().position(|entry| {
            let weight = weight(entry);
            let here = drawn < weight;
            drawn = drawn.saturating_sub(weight);
            here
        });
        if let Some(entry) = chosen.map(|index| &mut left[index]) {
            entry.1 -= 1;
            recent.push(entry.0);
        }
    }
}

fn class(key: Key) -> u8 {
    key.0 % 12
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_answer_can_be_told_by_its_pitch_class() {
        for seed in 0..20 {
            let schedule = Schedule::new(Schedule::LEAD, 1600, seed);
            assert_eq!(schedule.bursts().len(), 1600);
            for three in schedule.bursts().windows(3) {
                assert_ne!(class(three[0].key), class(three[1].key));
                assert_ne!(class(three[0].key), class(three[2].key));
            }
        }
    }

    #[test]
    fn every_block_has_all_strings_in_another_order() {
        let schedule = Schedule::new(Nanos::ZERO, 160, 3);
        let keys: Vec<Key> = schedule.bursts().iter().map(|burst| burst.key).collect();
        for block in keys.chunks(16) {
            for (key, count) in BLOCK {
                assert_eq!(block.iter().filter(|other| **other == key).count(), count);
            }
        }
        assert_ne!(keys[..16], keys[16..32]);
    }

    #[test]
    fn a_seed_names_a_schedule() {
        let of = |seed| Schedule::new(Schedule::LEAD, 50, seed);
        assert_eq!(of(1), of(1));
        assert_ne!(of(1), of(2));
    }
}
