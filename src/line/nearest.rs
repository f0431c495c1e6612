//! The known word that a mistyped one was probably meant to be.

/// The candidate with the fewest edits from `word`, when they are few enough to be a slip of the finger.
pub(super) fn nearest(
    word: &str,
    candidates: impl Iterator<Item = &'static str>,
) -> Option<&'static str> {
    if word.chars().count() > 40 {
        return None;
    }
    candidates
        .map(|candidate| (edits(&word.to_lowercase(), candidate), candidate))
        .filter(|(edits, candidate)| *edits <= candidate.chars().count().div_ceil(3))
        .min_by_key(|(edits, _)| *edits)
        .map(|(_, candidate)| candidate)
}

/// Insertions, deletions and replacements between two words (Levenshtein 1966).
fn edits(from: &str, to: &str) -> usize {
    let to: Vec<char> = to.chars().collect();
    let mut row: Vec<usize> = (0..=to.len()).collect();
    for (i, a) in from.chars().enumerate() {
        let mut diagonal = row[0];
        row[0] = i + 1;
        for (j, b) in to.iter().enumerate() {
            let replaced = diagonal + usize::from(a != *b);
            diagonal = row[j + 1];
            row[j + 1] = replaced.min(row[j] + 1).min(diagonal + 1);
        }
    }
    row[to.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn edits_are_counted_as_published() {
        assert_eq!(edits("kitten", "sitting"), 3);
        assert_eq!(edits("", "key"), 3);
        assert_eq!(edits("key", "key"), 0);
    }

    #[test]
    fn a_slip_finds_its_word_and_another_word_finds_none() {
        let known = || ["tempo", "tuning", "title"].into_iter();
        assert_eq!(nearest("tmepo", known()), Some("tempo"));
        assert_eq!(nearest("Tunning", known()), Some("tuning"));
        assert_eq!(nearest("composer", known()), None);
    }
}
