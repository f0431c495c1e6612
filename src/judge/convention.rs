//! The transcription field's note measure: how many notes of the reference were played at all, whatever their length.
//!
//! A reference note and an estimated one are a hit when their keys are equal and their onsets lie within 50 ms (50 ms
//! counts). Each note takes part in one hit at most, and the hits are as many as can be. Source: `mir_eval` 0.8.2 (MIT),
//! `transcription.match_notes` with `offset_ratio=None, strict=False`, which rounds onset distances to four decimals of a
//! second first, as numpy does: 50.05 ms is a hit, 50.06 ms is not. Its pitch window of 50 cents is equality on MIDI keys.

use crate::units::{Key, Nanos};
use serde::Serialize;

/// How far apart two onsets of one note may be, in units of the rounding: 500 tenths of a millisecond.
const ONSET_TOLERANCE: f64 = 500.0;
/// Units of the rounding in a second.
const ROUNDING: f64 = 1e4;

/// The measure of one take. Empty lists give 0 throughout.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Convention {
    /// Hits.
    pub matched: usize,
    /// Hits per estimated note, 0 to 1.
    pub precision: f64,
    /// Hits per reference note, 0 to 1.
    pub recall: f64,
    /// The harmonic mean of both, 0 to 1.
    pub f_measure: f64,
}

/// Measures `estimated` against `reference`, each a list of onsets and keys in any order. O(n log n).
pub fn convention(reference: &[(Nanos, Key)], estimated: &[(Nanos, Key)]) -> Convention {
    let (reference_by_key, estimated_by_key) = (by_key(reference), by_key(estimated));
    let matched = reference_by_key
        .iter()
        .zip(&estimated_by_key)
        .map(|(reference, estimated)| hits(reference, estimated))
        .sum();
    if matched == 0 {
        return Convention::default();
    }
    let precision = matched as f64 / estimated.len() as f64;
    let recall = matched as f64 / reference.len() as f64;
    Convention {
        matched,
        precision,
        recall,
        f_measure: 2.0 * precision * recall / (precision + recall),
    }
}

/// Onsets in seconds by key, sorted.
fn by_key(notes: &[(Nanos, Key)]) -> Vec<Vec<f64>> {
    let mut keys = vec![Vec::new(); 256];
    for (onset, key) in notes {
        keys[usize::from(key.0)].push(onset.seconds());
    }
    for onsets in &mut keys {
        onsets.sort_unstable_by(f64::total_cmp);
    }
    keys
}

/// The largest number of one-to-one hits between the sorted onsets of one key.
///
/// Walks both lists and pairs the earliest two that fit. That is a maximum: let r and e be the earliest of each. If r lies
/// too early for e, it lies too early for every later e, so no matching uses r; likewise for e. If r and e fit, take
/// any maximum matching. Were both unused, it could be enlarged; if one is used, its partner can be exchanged for the
/// other; and if r is matched with e' ≥ e and e with r' ≥ r, then r' fits e' too: e' − r' ≤ e' − r, which is within the
/// tolerance, and r' − e' ≤ r' − e likewise. So some maximum matching holds (r, e), and the rest is a smaller case.
/// Rounding is monotone and keeps these orders.
fn hits(reference: &[f64], estimated: &[f64]) -> usize {
    let (mut r, mut e, mut count) = (0, 0, 0);
    while let (Some(&reference), Some(&estimated)) = (reference.get(r), estimated.get(e)) {
        if is_hit(reference, estimated) {
            (r, e, count) = (r + 1, e + 1, count + 1);
        } else if reference < estimated {
            r += 1;
        } else {
            e += 1;
        }
    }
    count
}

/// Whether two onsets in seconds are one note's. Operation by operation what `numpy.around(abs(r − e), 4) <= 0.05` does;
/// dividing both sides by 10⁴ changes nothing, because 500 / 10⁴ rounds to 0.05.
fn is_hit(reference: f64, estimated: f64) -> bool {
    ((reference - estimated).abs() * ROUNDING).round_ties_even() <= ONSET_TOLERANCE
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn notes(onsets_ms: &[f64]) -> Vec<(Nanos, Key)> {
        let note = |&ms| (Nanos::from_ms_f64(ms), Key(40));
        onsets_ms.iter().map(note).collect()
    }

    fn matched(reference: &[f64], estimated: &[f64]) -> usize {
        convention(&notes(reference), &notes(estimated)).matched
    }

    /// mir_eval 0.8.2: distances are rounded to four decimals of a second before they are compared.
    #[test]
    fn the_edge_of_the_window_is_rounded_before_it_is_compared() {
        assert_eq!(matched(&[0.0], &[50.05]), 1);
        assert_eq!(matched(&[0.0], &[50.06]), 0);
    }

    #[test]
    fn empty_lists_measure_nothing() {
        let one = notes(&[0.0]);
        for (reference, estimated) in [(&[][..], &[][..]), (&one, &[]), (&[], &one)] {
            assert_eq!(convention(reference, estimated), Convention::default());
        }
    }

    #[test]
    fn one_note_is_not_hit_twice() {
        let measure = convention(&notes(&[0.0]), &notes(&[-10.0, 10.0]));
        assert_eq!(
            (measure.matched, measure.precision, measure.recall),
            (1, 0.5, 1.0)
        );
    }

    #[test]
    fn equal_onsets_of_unequal_keys_are_no_hit() {
        let measure = convention(&[(Nanos(0), Key(40))], &[(Nanos(0), Key(41))]);
        assert_eq!(measure.matched, 0);
    }

    /// The most hits by trying every partner for every note.
    fn most_hits(reference: &[f64], estimated: &mut Vec<f64>) -> usize {
        let Some((&first, rest)) = reference.split_first() else {
            return 0;
        };
        let mut best = most_hits(rest, estimated);
        for index in 0..estimated.len() {
            if is_hit(first, estimated[index]) {
                let taken = estimated.swap_remove(index);
                best = best.max(1 + most_hits(rest, estimated));
                estimated.push(taken);
                let last = estimated.len() - 1;
                estimated.swap(index, last);
            }
        }
        best
    }

    proptest! {
        #[test]
        fn no_other_matching_has_more_hits(
            mut reference in prop::collection::vec(0u8..40, 0..7),
            mut estimated in prop::collection::vec(0u8..40, 0..7),
        ) {
            reference.sort_unstable();
            estimated.sort_unstable();
            let seconds = |units: &[u8]| -> Vec<f64> { units.iter().map(|&u| f64::from(u) / 100.0).collect() };
            let (reference, mut estimated) = (seconds(&reference), seconds(&estimated));
            prop_assert_eq!(hits(&reference, &estimated), most_hits(&reference, &mut estimated));
        }
    }
}
