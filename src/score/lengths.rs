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

/// The written lengths that add up to `length` from `at` in a bar on: as few as will do, cut where the bar is counted,
/// after as many whole notes as a very long note needs; `None` where no three lengths make the rest.
pub fn written(at: Ticks, length: Ticks) -> Option<Vec<NoteLength>> {
    let whole = one(TICKS_PER_WHOLE)?;
    let wholes = usize::try_from(length.0 / TICKS_PER_WHOLE - 1).unwrap_or(0);
    let long = Ticks(wholes as i64 * TICKS_PER_WHOLE);
    if wholes > 0 && length == long + Ticks(TICKS_PER_WHOLE) {
        return Some(vec![whole; wholes + 1]);
    }
    let mut written = vec![whole; wholes];
    let rest = length - long;
    written.extend(short(at + long, rest).or_else(|| Some(vec![rare(rest)?]))?);
    Some(written)
}

/// One length for what cannot be tied, if there is one.
pub fn single(length: Ticks) -> Option<NoteLength> {
    one(length.0).or_else(|| rare(length))
}

fn one(ticks: i64) -> Option<NoteLength> {
    LENGTHS.get(&ticks).copied()
}

/// A double dot in a triplet.
fn rare(length: Ticks) -> Option<NoteLength> {
    let look = |value| NoteLength {
        value,
        dots: 2,
        triplet: true,
    };
    let all = [1, 2, 4, 8, 16, 32].map(look);
    all.into_iter().find(|rare| rare.ticks() == length)
}

/// One, two or three lengths.
fn short(at: Ticks, length: Ticks) -> Option<Vec<NoteLength>> {
    if let Some(length) = one(length.0) {
        return Some(vec![length]);
    }
    if let Some([first, second]) = halves(at.0, length.0) {
        return Some(vec![first, second]);
    }
    let mut starts: Vec<(i64, NoteLength)> = LENGTHS
        .iter()
        .map(|(ticks, length)| (*ticks, *length))
        .collect();
    starts.sort_by_key(|(ticks, _)| (-roundness(at.0 + ticks), -ticks));
    let mut starts = starts.into_iter().filter(|(ticks, _)| *ticks < length.0);
    starts.find_map(|(ticks, first)| {
        let [second, third] = halves(at.0 + ticks, length.0 - ticks)?;
        Some(vec![first, second, third])
    })
}

/// Two lengths that meet at the place in the bar that is counted most.
fn halves(at: i64, length: i64) -> Option<[NoteLength; 2]> {
    let cuts = LENGTHS
        .iter()
        .filter_map(|(first, name)| Some((*first, *name, one(length - first)?)));
    let best = cuts.max_by_key(|(first, ..)| (roundness(at + first), *first));
    best.map(|(_, first, second)| [first, second])
}

/// How much a place in the bar is counted: how many of the halvings of a whole note fall on it.
fn roundness(at: i64) -> i64 {
    let grains = (0..6).map(|halvings| TICKS_PER_WHOLE >> halvings);
    grains.filter(|grain| at % grain == 0).count() as i64
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
        assert_eq!(text(640, 1280 + 960).as_deref(), Some("2t 4"));
        assert_eq!(text(0, 4320).as_deref(), Some("1 8"));
        assert_eq!(text(0, 15_360).as_deref(), Some("1 1 1 1"));
        assert_eq!(text(0, 13_440).as_deref(), Some("1 1 1."));
    }

    #[test]
    fn what_no_lengths_add_up_to_is_not_written() {
        for ticks in [192, 137, 60, 40, 1] {
            assert_eq!(text(0, ticks), None);
        }
    }
}
