//! Counting slips: is it more than a slip now and then?

use statrs::distribution::{Binomial, DiscreteCDF};

/// How likely at least `count` of `of` are by chance when each is with this probability (one-sided binomial test).
pub fn chance(count: usize, of: usize, share: f64) -> f64 {
    match (count, Binomial::new(share, of as u64)) {
        (0, _) | (_, Err(_)) => 1.0,
        (count, Ok(slips)) => slips.sf(count as u64 - 1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: 1 − 0.95³; 0.05³; three or more heads of five tosses are as likely as three or more tails.
    #[test]
    fn the_chance_is_the_binomial_tail() {
        assert!((chance(1, 3, 0.05) - (1.0 - 0.95f64.powi(3))).abs() < 1e-12);
        assert!((chance(3, 3, 0.05) - 0.05f64.powi(3)).abs() < 1e-12);
        assert!((chance(3, 5, 0.5) - 0.5).abs() < 1e-12);
        assert_eq!(chance(0, 5, 0.05), 1.0);
        assert_eq!(chance(0, 0, 0.05), 1.0);
    }
}
