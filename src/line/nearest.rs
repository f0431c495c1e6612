//! The known word that a mistyped one was probably meant to be.

/// The candidate with the fewest edits from `word`, when they are few enough to be a slip of the finger.
pub(crate) fn nearest<'c>(
    word: &str,
    candidates: impl Iterator<Item = &'c str>,
) -> Option<&'c str> {
    if word.chars().count() > 40 {
        return None;
    }
    candidates
        .map(|candidate| {
            let edits = edits(&word.to_lowercase(), &candidate.to_lowercase());
            (edits, candidate)
        })
        .filter(|(edits, candidate)| {
            let length = candidate.chars().count();
            *edits <= length.div_ceil(3) && *edits < length
        })
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
        // Any letter is one edit from any other, but the same in a capital is none.
        assert_eq!(nearest("b", ["A", "B"].into_iter()), Some("B"));
        assert_eq!(nearest("C", ["A", "B"].into_iter()), None);
    }
}
