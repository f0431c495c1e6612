//! How much of a covariance is left when each stretch has its line taken out.

/// Sums of products of what is left of intervals, at lags 0, 1 and 2.
#[derive(Clone, Copy, Default)]
pub struct Sums {
    pub lag_0: f64,
    pub lag_1: f64,
    pub lag_2: f64,
}

impl Sums {
    pub fn plus(self, other: Sums) -> Sums {
        Sums {
            lag_0: self.lag_0 + other.lag_0,
            lag_1: self.lag_1 + other.lag_1,
            lag_2: self.lag_2 + other.lag_2,
        }
    }
}

/// Shorter stretches have their mean taken out and no slope: it would leave too little, and they have no time to drift.
const SLOPED: usize = 8;

/// A length of stretch: what its line is.
pub struct Shape {
    /// An orthonormal constant, and a slope where it is long enough to tell one.
    line: Vec<Vec<f64>>,
}

impl Shape {
    pub fn of(length: usize) -> Shape {
        let n = length as f64;
        let slope: Vec<f64> = (0..length).map(|i| i as f64 - (n - 1.0) / 2.0).collect();
        let size = slope.iter().map(|x| x * x).sum::<f64>().sqrt();
        let mut line = vec![vec![1.0 / n.sqrt(); length]];
        if length >= SLOPED {
            line.push(slope.iter().map(|x| x / size).collect());
        }
        Shape { line }
    }

    /// How many intervals it has.
    pub fn length(&self) -> usize {
        self.line[0].len()
    }

    /// Those of intervals with their line taken out.
    pub fn sums(&self, intervals: &[f64]) -> Sums {
        let mut left = intervals.to_vec();
        for column in &self.line {
            let share: f64 = std::iter::zip(&left, column).map(|(y, x)| y * x).sum();
            left.iter_mut()
                .zip(column)
                .for_each(|(y, x)| *y -= share * x);
        }
        let lagged = |lag: usize| {
            std::iter::zip(&left, &left[lag..])
                .map(|(a, b)| a * b)
                .sum()
        };
        Sums {
            lag_0: lagged(0),
            lag_1: lagged(1),
            lag_2: lagged(2),
        }
    }

    /// What the sums at lag 0 and 1 are on average for γ(0) = 1, and for γ(1) = 1. With R = 1 − QQᵀ, which takes the line out, and
    /// L = 1 on both neighbouring diagonals: tr(R), tr(RL); ½ tr(RL), ½ tr(RLRL).
    fn expected(&self) -> [[f64; 2]; 2] {
        let n = self.line[0].len();
        let neighbours = |column: &[f64]| -> Vec<f64> {
            (0..n)
                .map(|i| {
                    let before = if i > 0 { column[i - 1] } else { 0.0 };
                    before + column.get(i + 1).copied().unwrap_or(0.0)
                })
                .collect()
        };
        let dot = |a: &[f64], b: &[f64]| std::iter::zip(a, b).map(|(a, b)| a * b).sum::<f64>();
        let moved: Vec<Vec<f64>> = self.line.iter().map(|column| neighbours(column)).collect();
        let (mut trace_rl, mut trace_rlrl) = (0.0, 2.0 * (n as f64 - 1.0));
        for (column, own) in std::iter::zip(&self.line, &moved) {
            trace_rl -= dot(column, own);
            trace_rlrl -= 2.0 * dot(own, own);
            trace_rlrl += moved
                .iter()
                .map(|other| dot(column, other).powi(2))
                .sum::<f64>();
        }
        [
            [n as f64 - self.line.len() as f64, trace_rl],
            [trace_rl / 2.0, trace_rlrl / 2.0],
        ]
    }
}

/// What all stretches together make of clock and hand.
pub struct Design([[f64; 2]; 2]);

impl Design {
    pub fn of(shapes: &[Shape]) -> Design {
        let mut all = [[0.0; 2]; 2];
        for shape in shapes {
            let one = shape.expected();
            for (row, add) in all.iter_mut().zip(one) {
                row.iter_mut().zip(add).for_each(|(sum, add)| *sum += add);
            }
        }
        Design(all)
    }

    /// The variances of clock and hand.
    pub fn solve(&self, sums: Sums) -> [f64; 2] {
        let [[a, b], [c, d]] = self.0;
        let determinant = a * d - b * c;
        let gamma_0 = (d * sums.lag_0 - b * sums.lag_1) / determinant;
        let gamma_1 = (a * sums.lag_1 - c * sums.lag_0) / determinant;
        clock_and_hand(gamma_0, gamma_1)
    }
}

/// `σC² = γ(0) + 2 γ(1)`, `σM² = −γ(1)`.
fn clock_and_hand(gamma_0: f64, gamma_1: f64) -> [f64; 2] {
    [gamma_0 + 2.0 * gamma_1, -gamma_1]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// references (Wing & Kristofferson 1973, computed): clock 20 and hand 8 give a lag-1 correlation of −0.1212.
    #[test]
    fn clock_and_hand_are_those_of_the_two_covariances() {
        let (gamma_0, gamma_1) = (20.0f64.powi(2) + 2.0 * 8.0f64.powi(2), -(8.0f64.powi(2)));
        assert!((gamma_1 / gamma_0 - -0.1212).abs() < 5e-5);
        assert_eq!(clock_and_hand(gamma_0, gamma_1), [400.0, 64.0]);
    }

    /// The sums of intervals whose covariance matrix is known, from all unit vectors, are those that the traces say.
    #[test]
    fn the_traces_are_those_of_the_matrices() {
        for length in [4, 5, 9, 16] {
            let shape = Shape::of(length);
            let unit = |at: usize| -> Vec<f64> {
                (0..length).map(|i| f64::from(u8::from(i == at))).collect()
            };
            // E[q(y)] for covariance S is the sum of S over the polar form of q.
            let both = |a: usize, b: usize| -> [f64; 2] {
                let sum: Vec<f64> = std::iter::zip(unit(a), unit(b))
                    .map(|(a, b)| a + b)
                    .collect();
                let [one, other, all] = [unit(a), unit(b), sum].map(|y| shape.sums(&y));
                [
                    (all.lag_0 - one.lag_0 - other.lag_0) / 2.0,
                    (all.lag_1 - one.lag_1 - other.lag_1) / 2.0,
                ]
            };
            let [[a, b], [c, d]] = shape.expected();
            let diagonal: Vec<[f64; 2]> = (0..length).map(|i| both(i, i)).collect();
            let beside: Vec<[f64; 2]> = (1..length).map(|i| both(i - 1, i)).collect();
            let sum = |of: &[[f64; 2]], lag: usize| of.iter().map(|one| one[lag]).sum::<f64>();
            for (traced, summed) in [
                (a, sum(&diagonal, 0)),
                (c, sum(&diagonal, 1)),
                (b, 2.0 * sum(&beside, 0)),
                (d, 2.0 * sum(&beside, 1)),
            ] {
                assert!(
                    (traced - summed).abs() < 1e-9,
                    "{length}: {traced} {summed}"
                );
            }
        }
    }
}
