//! Accents and ghost notes from velocities, only where they fall clearly apart.
//!
//! The velocities are cut where [`APART`] or more lie between two neighbours. Of two or three groups, each no wider than
//! [`WIDTH`] and with at least two notes and 3 % of all, the one with at least half of the notes is plain; what is louder
//! is accented, what is softer is a ghost note. Anything else says nothing.

use crate::line::Marks;

const APART: u8 = 16;
const WIDTH: u8 = 24;
/// Fewer notes say nothing.
const LEAST: usize = 8;

/// Velocities below are ghosts, above are accents.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Touch {
    /// The softest and the hardest plain note.
    plain: (u8, u8),
}

impl Touch {
    /// The groups of some velocities, if they are apart.
    pub fn of(velocities: impl Iterator<Item = u8>) -> Option<Touch> {
        let mut sorted: Vec<u8> = velocities.collect();
        sorted.sort_unstable();
        if sorted.len() < LEAST {
            return None;
        }
        let groups: Vec<&[u8]> = sorted.chunk_by(|a, b| b - a < APART).collect();
        let least = (sorted.len() * 3).div_ceil(100).max(2);
        let compact =
            |group: &&[u8]| group[group.len() - 1] - group[0] <= WIDTH && group.len() >= least;
        let several = (2..=3).contains(&groups.len());
        let plain = groups
            .iter()
            .find(|group| group.len() * 2 >= sorted.len())?;
        let clear = several && groups.iter().all(compact);
        clear.then_some(Touch {
            plain: (plain[0], plain[plain.len() - 1]),
        })
    }

    /// The marks of a velocity.
    pub fn marks(self, velocity: u8) -> Marks {
        Marks {
            accent: velocity > self.plain.1,
            optional: velocity < self.plain.0,
            ..Marks::default()
        }
    }
}

impl std::fmt::Display for Touch {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (softest, hardest) = self.plain;
        write!(
            f,
            "velocities {softest} to {hardest} are plain notes, louder ones accents, softer ones ghost notes"
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn groups_that_are_apart_are_accents_and_ghosts() {
        let played = [20, 22, 70, 71, 72, 75, 78, 80, 80, 110, 112];
        let touch = Touch::of(played.into_iter()).expect("three groups");
        assert!(touch.marks(112).accent && !touch.marks(112).optional);
        assert!(touch.marks(20).optional && !touch.marks(20).accent);
        assert_eq!(touch.marks(70), Marks::default());
    }

    #[test]
    fn velocities_that_run_into_one_another_say_nothing() {
        assert_eq!(Touch::of((40..120).step_by(3)), None);
        assert_eq!(Touch::of([80; 30].into_iter()), None);
        // One stray note makes no group.
        let stray = [80; 30].into_iter().chain([120]);
        assert_eq!(Touch::of(stray), None);
        // No group is the plain one.
        let thirds = [20, 60, 100].into_iter().flat_map(|v| [v; 10]);
        assert_eq!(Touch::of(thirds), None);
    }
}
