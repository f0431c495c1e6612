//! Where bar 1 beat 1 falls in a take that does not say: silence, a count-in or some noodling may come before.
//!
//! Every (expected, played) pair of the same key votes for the shift that would bring them together; the shifts with
//! most votes are then scored on the take itself, and the best one is centred on the notes it brings together. A
//! steady lean cannot be told from a shift, so an estimated start takes the lean out.

use crate::expected::Expected;
use crate::units::{Key, Nanos};
use std::cmp::Reverse;

/// The longest stretch before bar 1 that is searched.
pub const LATEST: Nanos = Nanos(60_000_000_000);
/// A take may also begin in the middle of the line.
const EARLIEST: Nanos = Nanos(-60_000_000_000);
/// Expected notes that vote, and that a shift is scored on.
const VOTERS: usize = 256;
const SCORED: usize = 2048;
/// Votes this close together are for the same shift.
const TOGETHER: Nanos = Nanos::from_ms(80);
/// Two notes this close are the same one.
const CLOSE: Nanos = Nanos::from_ms(120);
const CANDIDATES: usize = 24;

/// An estimated start.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Start {
    /// Bar 1 beat 1 in the take's own time.
    pub at: Nanos,
    /// How many of the scored notes found their key close to their place, 0 to 1.
    pub share: f64,
}

/// Estimates the start; `played` are the onsets of the take in its own time, in order. `None` when no played note
/// has the key of any expected one.
pub fn estimate(expected: &Expected, played: &[(Nanos, Key)]) -> Option<Start> {
    let line: Vec<(Nanos, Key)> = expected
        .notes
        .iter()
        .filter_map(|note| Some((note.onset, note.key?)))
        .take(SCORED)
        .collect();
    let candidates = candidates(votes(&line[..line.len().min(VOTERS)], played));
    let scored = candidates
        .into_iter()
        .map(|shift| (score(&line, played, shift), shift));
    // A line that repeats itself fits again a pass later, and an unfinished take of it a pass earlier too. Of equally
    // good shifts the one that leaves out least of the line's beginning counts, and of those the earliest.
    let (score, shift) = scored.max_by_key(|(score, shift)| {
        let left_out = left_out(&line, played, *shift);
        (*score, Reverse(left_out), Reverse(*shift))
    })?;
    let possible = line.len().min(played.len()).max(1);
    Some(Start {
        at: centre(&line, played, shift),
        share: score as f64 / possible as f64,
    })
}

fn votes(line: &[(Nanos, Key)], played: &[(Nanos, Key)]) -> Vec<Nanos> {
    let mut votes = Vec::new();
    for (onset, key) in line {
        let from = played.partition_point(|note| note.0 < *onset + EARLIEST);
        let near = played[from..]
            .iter()
            .take_while(|note| note.0 <= *onset + LATEST);
        votes.extend(
            near.filter(|note| note.1 == *key)
                .map(|note| note.0 - *onset),
        );
    }
    votes.sort_unstable();
    votes
}

/// The centres of the fullest windows of votes, the fullest first, each apart from the others.
fn candidates(votes: Vec<Nanos>) -> Vec<Nanos> {
    let mut last = 0;
    let mut windows: Vec<(usize, Nanos)> = Vec::with_capacity(votes.len());
    for (first, from) in votes.iter().enumerate() {
        while votes
            .get(last)
            .is_some_and(|vote| *vote - *from <= TOGETHER)
        {
            last += 1;
        }
        windows.push((last - first, votes[first + (last - first) / 2]));
    }
    windows.sort_by_key(|(count, shift)| (Reverse(*count), *shift));
    let mut chosen: Vec<Nanos> = Vec::new();
    for (_, shift) in windows {
        if chosen.iter().all(|other| (*other - shift).abs() > TOGETHER) {
            chosen.push(shift);
            if chosen.len() == CANDIDATES {
                break;
            }
        }
    }
    chosen
}

/// How many notes of the line find their key close to where they would be.
fn score(line: &[(Nanos, Key)], played: &[(Nanos, Key)], shift: Nanos) -> usize {
    line.iter()
        .filter(|note| nearest(played, note.0 + shift, note.1).is_some())
        .count()
}

/// How many notes of the line go by before the first one that was played.
fn left_out(line: &[(Nanos, Key)], played: &[(Nanos, Key)], shift: Nanos) -> usize {
    line.iter()
        .take_while(|note| nearest(played, note.0 + shift, note.1).is_none())
        .count()
}

/// Moves the shift to the median of what it leaves.
fn centre(line: &[(Nanos, Key)], played: &[(Nanos, Key)], shift: Nanos) -> Nanos {
    let mut left: Vec<Nanos> = line
        .iter()
        .filter_map(|note| nearest(played, note.0 + shift, note.1))
        .collect();
    left.sort_unstable();
    match left.len() {
        0 => shift,
        n if n % 2 == 1 => shift + left[n / 2],
        n => shift + Nanos((left[n / 2 - 1].0 + left[n / 2].0) / 2),
    }
}

/// How far from `at` the nearest played note of the key is, when it is close.
fn nearest(played: &[(Nanos, Key)], at: Nanos, key: Key) -> Option<Nanos> {
    let from = played.partition_point(|note| note.0 < at - CLOSE);
    let near = played[from..]
        .iter()
        .take_while(|note| note.0 <= at + CLOSE);
    near.filter(|note| note.1 == key)
        .map(|note| note.0 - at)
        .min_by_key(|away| away.abs())
}
