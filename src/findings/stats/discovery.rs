//! Asking many questions of one take: how many of the answers may be chance.

/// Share of the findings that may be chance (Benjamini & Hochberg 1995, J. R. Statist. Soc. B 57:289). Of takes in
/// which nothing is there, no more than this share carries any finding at all.
pub const FALSE_SHARE: f64 = 0.01;

/// Which of these answers stand when their chances (p) are judged together: all up to the largest with
/// `p ≤ share · rank / count`.
pub fn standing(chances: &[f64], share: f64) -> Vec<bool> {
    let mut sorted = chances.to_vec();
    sorted.sort_by(f64::total_cmp);
    let count = chances.len() as f64;
    let limit = (1..)
        .zip(&sorted)
        .filter(|(rank, chance)| **chance <= share * f64::from(*rank) / count)
        .map(|(_, chance)| *chance)
        .last();
    chances
        .iter()
        .map(|chance| limit.is_some_and(|limit| *chance <= limit))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The fifteen values of the example in Benjamini & Hochberg (1995, section 4; from memory): at 5 % four stand.
    #[test]
    fn the_published_example_keeps_four() {
        let chances = [
            0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262,
            0.5719, 0.6528, 0.7590, 1.0,
        ];
        let kept = standing(&chances, 0.05);
        assert_eq!(kept.iter().filter(|kept| **kept).count(), 4);
        assert!(kept[..4].iter().all(|kept| *kept));
    }

    #[test]
    fn nothing_asked_is_nothing_found() {
        assert!(standing(&[], 0.05).is_empty());
    }
}
