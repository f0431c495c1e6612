//! Least squares over sessions whose own noise is known and that differ by the day as well.
//!
//! The values of sessions are taken for `Σ βⱼ xⱼ + day + noise`, the noise of a known variance, the day's variance τ² by the
//! moments of Paule & Mandel (1982, J. Res. Natl. Bur. Stand. 87:377): `Σ r² / (v + τ²)` comes to its degrees of freedom. Intervals
//! are Student's t on those degrees, with the variance of Knapp & Hartung (2003, Stat. Med. 22:2693), never
//! below what the known noise makes it. Both are standard in meta-analysis; here a session is a study.

use crate::findings::stats::estimate::Estimate;

/// A fit of session values.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// One a column, with its standard error.
    pub coefficients: Vec<Estimate>,
    /// What is left of the values.
    pub left: Vec<f64>,
    /// The variance of a day, τ².
    pub day_variance: f64,
}

/// Fits values of known variances with columns, the first usually all 1. `None` where the columns are not told apart or as
/// many as the values.
pub fn fit(values: &[f64], variances: &[f64], columns: &[Vec<f64>]) -> Option<Fit> {
    let freedom = values.len().checked_sub(columns.len())?;
    if freedom == 0 {
        return None;
    }
    let freedom = freedom as f64;
    let squares = |tau2: f64| {
        let weights = weights(variances, tau2);
        Some(weighted(values, &weights, columns)?.squares)
    };
    let day_variance = moments(squares, freedom, values)?;
    let weighted = weighted(values, &weights(variances, day_variance), columns)?;
    let scale = (weighted.squares / freedom).max(1.0);
    let estimate = |(mean, variance): (&f64, &f64)| Estimate {
        mean: *mean,
        standard_error: (scale * variance).sqrt(),
        freedom,
    };
    Some(Fit {
        coefficients: std::iter::zip(&weighted.coefficients, &weighted.variances)
            .map(estimate)
            .collect(),
        left: weighted.left,
        day_variance,
    })
}

/// The τ² at which the weighted squares come to `freedom`; 0 where they are no more than that without it. The squares fall
/// as τ² rises.
pub fn moments(squares: impl Fn(f64) -> Option<f64>, freedom: f64, values: &[f64]) -> Option<f64> {
    if squares(0.0)? <= freedom {
        return Some(0.0);
    }
    let largest = values.iter().map(|value| value * value).sum::<f64>();
    let (mut low, mut high) = (0.0, largest.max(f64::MIN_POSITIVE));
    // Beyond the sum of all squares no day varies; forty halvings leave a trillionth.
    const HALVINGS: usize = 40;
    for _ in 0..HALVINGS {
        let middle = (low + high) / 2.0;
        if squares(middle)? > freedom {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some((low + high) / 2.0)
}

fn weights(variances: &[f64], tau2: f64) -> Vec<f64> {
    variances.iter().map(|v| 1.0 / (v + tau2)).collect()
}

struct Weighted {
    coefficients: Vec<f64>,
    /// Diagonal of the inverse of `XᵀWX`.
    variances: Vec<f64>,
    left: Vec<f64>,
    squares: f64,
}

/// Weighted least squares by the normal equations, which two or three columns of about one can bear.
fn weighted(values: &[f64], weights: &[f64], columns: &[Vec<f64>]) -> Option<Weighted> {
    let product = |one: &[f64], other: &[f64]| -> f64 {
        let terms = std::iter::zip(one, other).zip(weights);
        terms.map(|((a, b), w)| w * a * b).sum()
    };
    let normal: Vec<Vec<f64>> = columns
        .iter()
        .map(|one| columns.iter().map(|other| product(one, other)).collect())
        .collect();
    let inverse = inverse(normal)?;
    let against: Vec<f64> = columns.iter().map(|one| product(one, values)).collect();
    let coefficients: Vec<f64> = inverse
        .iter()
        .map(|row| std::iter::zip(row, &against).map(|(a, b)| a * b).sum())
        .collect();
    let fitted = |index: usize| -> f64 {
        let terms = std::iter::zip(&coefficients, columns);
        terms.map(|(size, column)| size * column[index]).sum()
    };
    let left: Vec<f64> = (0..values.len())
        .map(|index| values[index] - fitted(index))
        .collect();
    Some(Weighted {
        squares: product(&left, &left),
        variances: (0..columns.len()).map(|at| inverse[at][at]).collect(),
        coefficients,
        left,
    })
}

/// The inverse of a symmetric positive definite matrix, by Gauss and Jordan; `None` where it is as good as singular.
fn inverse(mut matrix: Vec<Vec<f64>>) -> Option<Vec<Vec<f64>>> {
    const SINGULAR: f64 = 1e-10;
    let size = matrix.len();
    let diagonal: Vec<f64> = (0..size).map(|at| matrix[at][at]).collect();
    for (at, row) in matrix.iter_mut().enumerate() {
        row.extend((0..size).map(|column| f64::from(u8::from(column == at))));
    }
    for pivot in 0..size {
        if matrix[pivot][pivot].is_nan() || matrix[pivot][pivot] <= SINGULAR * diagonal[pivot] {
            return None;
        }
        let by = matrix[pivot][pivot];
        matrix[pivot].iter_mut().for_each(|value| *value /= by);
        let of_pivot = matrix[pivot].clone();
        for (_, row) in matrix.iter_mut().enumerate().filter(|(at, _)| *at != pivot) {
            let times = row[pivot];
            for (value, of_pivot) in row.iter_mut().zip(&of_pivot) {
                *value -= times * of_pivot;
            }
        }
    }
    Some(matrix.into_iter().map(|row| row[size..].to_vec()).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(count: usize) -> Vec<Vec<f64>> {
        vec![vec![1.0; count], (0..count).map(|at| at as f64).collect()]
    }

    /// By hand: values 1, 5, 2, 4, 3 over 0 to 4 have slope 0.3 and residual squares 9.1. With noise of 0 to speak of, τ² is
    /// 9.1 / 3, and the standard error √(9.1 / 3 / 10).
    #[test]
    fn without_known_noise_it_is_plain_least_squares() {
        let fit = fit(&[1.0, 5.0, 2.0, 4.0, 3.0], &[1e-12; 5], &line(5)).unwrap();
        assert!((fit.coefficients[1].mean - 0.3).abs() < 1e-9);
        assert!((fit.day_variance - 9.1 / 3.0).abs() < 1e-9);
        let error = (9.1f64 / 3.0 / 10.0).sqrt();
        assert!((fit.coefficients[1].standard_error - error).abs() < 1e-9);
        assert_eq!(fit.coefficients[1].freedom, 3.0);
    }

    #[test]
    fn values_that_lie_closer_than_their_noise_are_not_taken_for_surer() {
        let fit = fit(&[3.0; 5], &[4.0; 5], &line(5)).unwrap();
        assert_eq!(fit.day_variance, 0.0);
        assert!((fit.coefficients[1].standard_error - (4.0f64 / 10.0).sqrt()).abs() < 1e-12);
    }

    #[test]
    fn columns_that_are_the_same_are_not_fitted() {
        let columns = vec![vec![1.0; 4], vec![2.0; 4]];
        assert_eq!(fit(&[1.0, 2.0, 3.0, 5.0], &[1.0; 4], &columns), None);
        assert_eq!(fit(&[1.0, 2.0], &[1.0; 2], &line(2)), None);
    }
}
