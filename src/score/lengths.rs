//! Lengths in the fewest characters: a stretch of time as one written length, or as two or three tied ones.

use crate::line::length::NoteLength;
use crate::units::{TICKS_PER_WHOLE, Ticks};
use std::collections::HashMap;
use std::sync::LazyLock;

/// The lengths that a tidy line uses, each with the fewest characters: no triplet where a plain length is the same, no
/// double dot in a triplet.
static LENGTHS: LazyLock<HashMap<i64, NoteLength>> = LazyLock::new(|| {
    let mut lengths: HashMap<i64, NoteLength> = HashMap::new();
    let values = [1, 2, 4, 8, 16, 32];
    let looks = [(false, 0), (false, 1), (true, 0), (false, 2), (true, 1)];
    for (triplet, dots) in looks {
        for value in values {
            let length = NoteLength {
                value,
                dots,
                triplet,
            };
            lengths.entry(length.ticks().0).or_insert(length);
        }
    }
    lengths
});

/// The written lengths that add up to `length` from `at` in a bar on: as few as will do, cut where the bar is counted;
/// `None` where three are not enough.
pub fn written(at: Ticks, length: Ticks) -> Option<Vec<NoteLength>> {
    let one = |ticks: i64| LENGTHS.get(&ticks).copied();
    if let Some(length) = one(length.0) {
        return Some(vec![length]);
    }
    let cut = |from: i64, ticks: i64| {
        let halves = LENGTHS
            .iter()
            .filter_map(|(first, length)| Some((*first, *length, one(ticks - first)?)));
        halves.max_by_key(|(first, length, _)| {
            (roundness(from + first), -i64::from(length.value), *first)
        })
    };
    if let Some((_, first, second)) = cut(at.0, length.0) {
        return Some(vec![first, second]);
    }
    // Whole notes first, then what two can do.
    let mut starts: Vec<(i64, NoteLength)> = LENGTHS
        .iter()
        .map(|(ticks, length)| (*ticks, *length))
        .collect();
    starts.sort_by_key(|(ticks, _)| (-roundness(at.0 + ticks), -ticks));
    starts
        .into_iter()
        .filter(|(ticks, _)| *ticks < length.0)
        .find_map(|(ticks, first)| {
            let (_, second, third) = cut(at.0 + ticks, length.0 - ticks)?;
            Some(vec![first, second, third])
        })
}

/// Rests may be cut anywhere: however many are needed, whole notes first.
pub fn rests(at: Ticks, length: Ticks) -> Option<Vec<NoteLength>> {
    let mut rests = Vec::new();
    let (mut at, mut left) = (at.0, length.0);
    let whole = NoteLength {
        value: 1,
        dots: 0,
        triplet: false,
    };
    while left > 3 * TICKS_PER_WHOLE {
        rests.push(whole);
        (at, left) = (at + TICKS_PER_WHOLE, left - TICKS_PER_WHOLE);
    }
    rests.extend(written(Ticks(at), Ticks(left))?);
    Some(rests)
}

/// How much a place in the bar is counted: the largest power of two of a tick that divides it.
fn roundness(at: i64) -> i64 {
    i64::from(at.trailing_zeros().min(12))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(at: i64, length: i64) -> Option<String> {
        let lengths = written(Ticks(at), Ticks(length))?;
        assert_eq!(
            lengths.iter().map(|length| length.ticks().0).sum::<i64>(),
            length
        );
        Some(
            lengths
                .iter()
                .map(NoteLength::to_string)
                .collect::<Vec<_>>()
                .join(" "),
        )
    }

    #[test]
    fn one_length_has_the_fewest_characters() {
        for (ticks, length) in [
            (960, "4"),
            (1440, "4."),
            (1680, "4.."),
            (640, "4t"),
            (320, "8t"),
            (480, "8"),
            (3360, "2.."),
            (5760, "1."),
        ] {
            assert_eq!(text(0, ticks).as_deref(), Some(length));
        }
    }

    #[test]
    fn tied_lengths_meet_where_the_bar_is_counted() {
        assert_eq!(text(0, 2400).as_deref(), Some("2 8"));
        assert_eq!(text(1440, 2400).as_deref(), Some("8 2"));
        assert_eq!(text(640, 1280).as_deref(), Some("2t"));
        assert_eq!(text(640, 1280 + 960).as_deref(), Some("8t 2"));
        assert_eq!(text(0, 4320).as_deref(), Some("1 8"));
    }

    #[test]
    fn what_no_lengths_add_up_to_is_not_written() {
        for ticks in [192, 137, 60, 40, 1] {
            assert_eq!(text(0, ticks), None);
        }
    }
}
