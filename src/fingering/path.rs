//! The cheapest way through a line: dynamic programming over the grips of each group (Viterbi 1967, from memory;
//! Sayegh 1989 for strings and frets).

use super::cost::{Between, way};
use super::grip::{Ask, Grip, Grips};
use crate::units::Key;
use std::collections::HashMap;

/// Notes struck together that have a place.
#[derive(Clone, Copy)]
pub(super) struct Step {
    /// Index into the grips that [`Repertoire`] keeps.
    pub(super) grips: usize,
    /// What lies between the step before and this one.
    pub(super) between: Between,
}

/// The grips of every different group of a line, each worked out once.
pub(super) struct Repertoire<'a> {
    open: &'a [Key],
    known: HashMap<Vec<Ask>, usize>,
    pub(super) grips: Vec<Grips>,
}

impl<'a> Repertoire<'a> {
    pub(super) fn new(open: &'a [Key]) -> Repertoire<'a> {
        Repertoire {
            open,
            known: HashMap::new(),
            grips: Vec::new(),
        }
    }

    pub(super) fn index_of(&mut self, asks: &[Ask]) -> usize {
        if let Some(&index) = self.known.get(asks) {
            return index;
        }
        self.grips.push(Grips::of(asks, self.open));
        self.known.insert(asks.to_vec(), self.grips.len() - 1);
        self.grips.len() - 1
    }
}

/// A state that the steps so far cannot lead to.
const NOWHERE: u32 = u32::MAX;

/// The grip of each step, on the cheapest way through them all. Of equal ways, the one whose last steps lie lowest.
///
/// Every step must have a grip. O(n · g²) time for n steps of g grips, g under 50 for a note; two bytes a grip.
pub(super) fn cheapest(steps: &[Step], repertoire: &Repertoire<'_>) -> Vec<usize> {
    let grips_of = |step: &Step| repertoire.grips[step.grips].grips.as_slice();
    let mut came_from: Vec<u16> = Vec::new();
    let mut before: Option<&[Grip]> = None;
    let (mut costs, mut next) = (Vec::new(), Vec::new());
    for step in steps {
        let grips = grips_of(step);
        next.clear();
        for grip in grips {
            let (from, cost) = match before {
                None => (0, 0),
                Some(before) => best_way(before, &costs, grip, step.between),
            };
            came_from.push(from);
            next.push(if cost == NOWHERE {
                cost
            } else {
                cost + grip.cost
            });
        }
        std::mem::swap(&mut costs, &mut next);
        rebase(&mut costs);
        before = Some(grips);
    }
    let mut grip = lowest(&costs);
    let mut way = vec![0; steps.len()];
    let mut end = came_from.len();
    for (index, step) in steps.iter().enumerate().rev() {
        way[index] = grip;
        end -= grips_of(step).len();
        grip = usize::from(came_from[end + grip]);
    }
    way
}

/// Where the cheapest way to a grip comes from, and what it costs.
fn best_way(before: &[Grip], costs: &[u32], to: &Grip, between: Between) -> (u16, u32) {
    let mut best = (0, NOWHERE);
    for (index, (from, cost)) in (0..).zip(before.iter().zip(costs)) {
        if *cost >= best.1 {
            continue;
        }
        if let Some(way) = way(from, to, between)
            && cost + way < best.1
        {
            best = (index, cost + way);
        }
    }
    best
}

/// Counts from the cheapest state, so that a line of any length fits.
fn rebase(costs: &mut [u32]) {
    let least = costs.iter().copied().min().unwrap_or(0);
    for cost in costs.iter_mut().filter(|cost| **cost != NOWHERE) {
        *cost -= least;
    }
}

/// The first of the cheapest.
fn lowest(costs: &[u32]) -> usize {
    let indexed = costs.iter().enumerate();
    indexed.min_by_key(|(_, cost)| **cost).map_or(0, |(i, _)| i)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// What a way through the steps costs in all; `None` where the hand cannot go that way.
    fn cost(steps: &[Step], grips: &[&Grip]) -> Option<u32> {
        let own: u32 = grips.iter().map(|grip| grip.cost).sum();
        let pairs = grips.windows(2).zip(&steps[1..]);
        let ways: Option<Vec<u32>> = pairs
            .map(|(pair, step)| way(pair[0], pair[1], step.between))
            .collect();
        Some(own + ways?.iter().sum::<u32>())
    }

    /// The least cost over every assignment, one after the other.
    fn exhaustive(steps: &[Step], repertoire: &Repertoire<'_>) -> Option<u32> {
        let mut ways: Vec<Vec<&Grip>> = vec![Vec::new()];
        for step in steps {
            let grips = &repertoire.grips[step.grips].grips;
            ways = ways
                .iter()
                .flat_map(|way| {
                    grips
                        .iter()
                        .map(move |grip| [way.as_slice(), &[grip]].concat())
                })
                .collect();
        }
        ways.iter().filter_map(|way| cost(steps, way)).min()
    }

    /// Up to three notes struck together on a bass in fourths, some with a string, a finger or neither; some dead.
    fn group() -> impl Strategy<Value = Vec<Ask>> {
        let string = prop::option::weighted(0.3, 1u8..=4);
        let finger = prop::option::weighted(0.3, 0u8..=4);
        let single = (prop::option::weighted(0.9, 28u8..60), string, finger)
            .prop_map(|(key, string, finger)| vec![Ask::new(key, string, finger)]);
        let double = (28u8..50, 3u8..13).prop_map(|(key, interval)| {
            vec![
                Ask::new(Some(key), None, None),
                Ask::new(Some(key + interval), None, None),
            ]
        });
        prop_oneof![5 => single, 1 => double]
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(200))]

        #[test]
        fn no_other_way_through_a_short_line_is_cheaper(
            groups in prop::collection::vec((group(), any::<bool>()), 1..4),
        ) {
            let open = [43, 38, 33, 28].map(Key);
            let mut repertoire = Repertoire::new(&open);
            let mut steps = Vec::new();
            for (asks, rest) in &groups {
                let grips = repertoire.index_of(asks);
                let between = if *rest { Between::Time } else { Between::Nothing };
                if !repertoire.grips[grips].grips.is_empty() {
                    steps.push(Step { grips, between });
                }
            }
            prop_assume!(!steps.is_empty());
            let found = cheapest(&steps, &repertoire);
            let grips: Vec<&Grip> = steps
                .iter()
                .zip(found)
                .map(|(step, grip)| &repertoire.grips[step.grips].grips[grip])
                .collect();
            prop_assert_eq!(cost(&steps, &grips), exhaustive(&steps, &repertoire));
        }
    }
}
