//! A standard deviation with its interval.
//!
//! By chi square, on degrees of freedom that know two things: values that are alike count for less,
//! `(1 − r²) / (1 + r²)` of a variance under a first-order autoregression (Bartlett 1946, J. R. Statist. Soc. Suppl. 8:27; from memory),
//! and a variance of values with heavy tails is less sure, by `1 + κ/2` with κ the excess kurtosis (Shoemaker 2003, The American
//! Statistician 57:105; from memory). Two spreads are compared by F on the same degrees of freedom.

use super::estimate::LEVEL;
use statrs::distribution::{ChiSquared, ContinuousCDF, FisherSnedecor};

/// A standard deviation, and what it rests on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Itself.
    pub sd: f64,
    /// Degrees of freedom, as many independent normal values would have.
    pub freedom: f64,
}

impl Spread {
    /// From a sum of squares about the mean with its plain degrees of freedom, the correlation of neighbours and the
    /// excess kurtosis (below 0 counts as 0). `None` without freedom.
    pub fn new(squares: f64, freedom: f64, correlation: f64, kurtosis: f64) -> Option<Spread> {
        if freedom < 1.0 {
            return None;
        }
        let alike = correlation * correlation;
        let worth = (1.0 - alike) / (1.0 + alike) / (1.0 + kurtosis.max(0.0) / 2.0);
        Some(Spread {
            sd: (squares.max(0.0) / freedom).sqrt(),
            freedom: (freedom * worth).max(1.0),
        })
    }

    /// The 95 % interval.
    pub fn interval(&self) -> [f64; 2] {
        let Ok(chi) = ChiSquared::new(self.freedom) else {
            return [0.0, f64::INFINITY];
        };
        let at = |share: f64| self.sd * (self.freedom / chi.inverse_cdf(share)).sqrt();
        [at(0.5 + LEVEL / 2.0), at(0.5 - LEVEL / 2.0)]
    }

    /// How likely chance shows as much when the spread is no more than `limit` (one-sided).
    pub fn chance_below(&self, limit: f64) -> f64 {
        let over = self.freedom * (self.sd / limit).powi(2);
        ChiSquared::new(self.freedom).map_or(1.0, |chi| chi.sf(over))
    }

    /// How likely chance shows as much more than another when the two are the same (one-sided).
    pub fn chance_alike(&self, other: &Spread) -> f64 {
        let ratio = (self.sd / other.sd.max(f64::MIN_POSITIVE)).powi(2);
        FisherSnedecor::new(self.freedom, other.freedom).map_or(1.0, |f| f.sf(ratio))
    }
}

/// Excess kurtosis of values about 0: 0 for normal ones.
pub fn excess_kurtosis(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let count = values.clone().count() as f64;
    let power = |of: fn(f64) -> f64| values.clone().map(of).sum::<f64>();
    let squares = power(|value| value * value);
    if squares <= 0.0 {
        return 0.0;
    }
    count * power(|value| value.powi(4)) / (squares * squares) - 3.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// scipy: `10 * sqrt(24 / stats.chi2.ppf([0.975, 0.025], 24))` = 7.80827, 13.91143; `stats.chi2.sf(24 * 4, 24)` =
    /// 1.4166e-10 (chi square tables: 39.364 and 12.401).
    #[test]
    fn the_interval_of_unlike_normal_values_is_that_of_chi_square() {
        let spread = Spread::new(2400.0, 24.0, 0.0, 0.0).unwrap();
        let [low, high] = spread.interval();
        assert!(
            (low - 10.0 * (24.0f64 / 39.364).sqrt()).abs() < 1e-3,
            "{low}"
        );
        assert!(
            (high - 10.0 * (24.0f64 / 12.401).sqrt()).abs() < 1e-3,
            "{high}"
        );
        assert!(spread.chance_below(10.0) > 0.4 && spread.chance_below(5.0) < 1e-6);
    }

    #[test]
    fn heavy_tails_and_likeness_widen_it() {
        let width = |spread: Option<Spread>| {
            let [low, high] = spread.unwrap().interval();
            high - low
        };
        let plain = width(Spread::new(2400.0, 24.0, 0.0, 0.0));
        assert!(width(Spread::new(2400.0, 24.0, 0.5, 0.0)) > 1.2 * plain);
        assert!(width(Spread::new(2400.0, 24.0, 0.0, 3.0)) > 1.5 * plain);
    }

    /// Two values of equal size have kurtosis 1: an excess of −2.
    #[test]
    fn kurtosis_is_the_fourth_moment_over_the_square_of_the_second() {
        assert_eq!(excess_kurtosis([1.0, -1.0].into_iter()), -2.0);
        assert_eq!(excess_kurtosis([0.0].into_iter()), 0.0);
    }
}
