//! How often something happens: a share of cases with its uncertainty.

use super::estimate::LEVEL;
use statrs::distribution::{Beta, Binomial, ContinuousCDF, DiscreteCDF};

/// So many of so many.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Proportion {
    /// In how many cases it happened.
    pub count: usize,
    /// Out of how many.
    pub of: usize,
}

impl Proportion {
    /// So many of so many.
    pub fn new(count: usize, of: usize) -> Proportion {
        Proportion { count, of }
    }

    /// The share, 0 to 1; 0 of no cases.
    pub fn share(self) -> f64 {
        self.count as f64 / self.of.max(1) as f64
    }

    /// The exact 95 % interval of the share behind it (Clopper & Pearson 1934, Biometrika 26:404; by the quantiles of beta
    /// distributions). Of no cases nothing is known: 0 to 1.
    pub fn interval(self) -> [f64; 2] {
        let tail = (1.0 - LEVEL) / 2.0;
        let (count, left) = (self.count as f64, (self.of - self.count) as f64);
        let quantile = |a, b, p| Beta::new(a, b).map(|beta: Beta| beta.inverse_cdf(p));
        // A first shape of 0 has all its weight at 0, a second one all at 1: `new` refuses them.
        [
            quantile(count, left + 1.0, tail).unwrap_or(0.0),
            quantile(count + 1.0, left, 1.0 - tail).unwrap_or(1.0),
        ]
    }

    /// How likely it is to happen this often or more where it happens in this share of cases (the upper tail of the
    /// binomial distribution).
    pub fn chance(self, share: f64) -> f64 {
        let below = self.count.checked_sub(1);
        let tail = |below| {
            let binomial = Binomial::new(share.clamp(0.0, 1.0), self.of as u64).ok()?;
            Some(binomial.sf(below as u64))
        };
        below.and_then(tail).unwrap_or(1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// statsmodels 0.15.0: `proportion.proportion_confint(k, n, 0.05, "beta")`; scipy 1.17.1: `binom.sf(k - 1, n, 0.01)`.
    const GOLDEN: [(usize, usize, [f64; 2], f64); 6] = [
        (0, 10, [0.0, 0.308_497_107_818_76], 1.0),
        (
            3,
            24,
            [0.026_559_314_986_25, 0.323_611_358_188_83],
            0.001_729_426_847_026,
        ),
        (
            3,
            60,
            [0.010_432_329_644_35, 0.139_243_246_721_07],
            0.022_420_164_788_835,
        ),
        (
            5,
            60,
            [0.027_613_310_337_43, 0.183_857_783_376_59],
            0.000_345_754_347_856,
        ),
        (10, 10, [0.691_502_892_181_24, 1.0], 1e-20),
        (
            40,
            400,
            [0.072_406_294_194_04, 0.133_677_858_290_69],
            5.800_125_264_24e-27,
        ),
    ];

    #[test]
    fn interval_and_chance_are_those_of_statsmodels_and_scipy() {
        for (count, of, interval, chance) in GOLDEN {
            let found = Proportion { count, of };
            for (found, golden) in found.interval().into_iter().zip(interval) {
                assert!((found - golden).abs() < 1e-9, "{count} of {of}: {found}");
            }
            let error = (found.chance(0.01) / chance - 1.0).abs();
            assert!(error < 1e-6, "{count} of {of}: {}", found.chance(0.01));
        }
    }

    #[test]
    fn of_nothing_nothing_is_known() {
        let none = Proportion { count: 0, of: 0 };
        assert_eq!(none.interval(), [0.0, 1.0]);
        assert_eq!((none.share(), none.chance(0.01)), (0.0, 1.0));
    }
}
