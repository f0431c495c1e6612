//! A straight line through points some of which are wrong.
//!
//! Start: the median of the slopes between the medians at each x (Theil 1950; Sen 1968, JASA 63:1379). Then
//! iteratively reweighted least squares with Tukey's biweight (Beaton & Tukey 1974, Technometrics 16:147; tuning
//! constant 4.685, 95 % efficient for normal errors: Holland & Welsch 1977, Comm. Stat. A6:813), the scale by the
//! median absolute residual in each step. Standard errors by Huber 1981, *Robust Statistics*, section 7.6, with his
//! correction factor K.

/// The biweight gives no weight to residuals of so many scales and more.
const TUNING: f64 = 4.685;
/// The median absolute value of a normal distribution is its standard deviation divided by this.
const MAD_TO_SD: f64 = 1.482_602_218_505_602;
/// Steps after which the fit is taken as it is; ten are usual.
const STEPS: usize = 60;

/// One point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Known exactly.
    pub x: f64,
    /// Measured.
    pub y: f64,
}

/// `y = intercept + slope · x`.
#[derive(Clone, Debug, PartialEq)]
pub struct RobustLine {
    /// y at x = 0.
    pub intercept: f64,
    /// Its standard error.
    pub intercept_se: f64,
    /// Rise for each unit of x.
    pub slope: f64,
    /// Its standard error.
    pub slope_se: f64,
    /// Scatter of the points about the line, as a standard deviation.
    pub scale: f64,
    /// y in the middle of the points, weighted, and its standard error: the estimate where the slope is taken as 0.
    pub centre: (f64, f64),
    /// Indices of the points that got no weight.
    pub rejected: Vec<usize>,
}

/// Fits a line. `finest` is the smallest scatter that is believed, such as the resolution of y. `None` for fewer than
/// four points or where all have the same x.
pub fn robust_line(points: &[Point], finest: f64) -> Option<RobustLine> {
    let mut line = start(points)?;
    if points.len() < 4 {
        return None;
    }
    let mut weights = vec![1.0; points.len()];
    let mut scale = finest;
    for _ in 0..STEPS {
        scale = (MAD_TO_SD * median_size(points, line)?).max(finest);
        for (weight, point) in weights.iter_mut().zip(points) {
            *weight = biweight(line.residual(*point) / scale);
        }
        let next = least_squares(points, &weights)?;
        let moved = (next.intercept - line.intercept).abs() + (next.slope - line.slope).abs();
        line = next;
        if moved < 1e-9 * (1.0 + line.intercept.abs()) {
            break;
        }
    }
    Some(with_errors(points, line, scale, &weights))
}

#[derive(Clone, Copy)]
struct Line {
    intercept: f64,
    slope: f64,
}

impl Line {
    fn residual(self, point: Point) -> f64 {
        point.y - self.intercept - self.slope * point.x
    }
}

fn start(points: &[Point]) -> Option<Line> {
    let mut sorted = points.to_vec();
    sorted.sort_by(|one, other| one.x.total_cmp(&other.x));
    let of_equal_x = sorted.chunk_by(|one, other| one.x == other.x);
    let medians: Vec<Point> = of_equal_x
        .filter_map(|chunk| {
            let y = median(chunk.iter().map(|point| point.y).collect())?;
            Some(Point { x: chunk[0].x, y })
        })
        .collect();
    let slopes = medians.iter().enumerate().flat_map(|(index, one)| {
        let later = &medians[index + 1..];
        later
            .iter()
            .map(move |other| (other.y - one.y) / (other.x - one.x))
    });
    let slope = median(slopes.collect())?;
    let intercept = median(
        points
            .iter()
            .map(|point| point.y - slope * point.x)
            .collect(),
    )?;
    Some(Line { intercept, slope })
}

fn median_size(points: &[Point], line: Line) -> Option<f64> {
    median(
        points
            .iter()
            .map(|point| line.residual(*point).abs())
            .collect(),
    )
}

/// The upper median; `None` of nothing.
fn median(mut values: Vec<f64>) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let middle = values.len() / 2;
    Some(*values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

fn biweight(u: f64) -> f64 {
    let inside = 1.0 - (u / TUNING).powi(2);
    if inside > 0.0 { inside * inside } else { 0.0 }
}

/// Derivative of u · biweight(u).
fn slope_of_influence(u: f64) -> f64 {
    let v = (u / TUNING).powi(2);
    if v < 1.0 {
        (1.0 - v) * (1.0 - 5.0 * v)
    } else {
        0.0
    }
}

/// Weighted sums about the weighted middle: total weight, middle, Σw(x−x̄)², Σw(x−x̄)(y−ȳ).
struct Sums {
    weight: f64,
    middle: Point,
    xx: f64,
    xy: f64,
}

fn sums(points: &[Point], weights: &[f64]) -> Sums {
    let weighted = || points.iter().zip(weights);
    let weight: f64 = weights.iter().sum();
    let x = weighted().map(|(point, w)| w * point.x).sum::<f64>() / weight;
    let y = weighted().map(|(point, w)| w * point.y).sum::<f64>() / weight;
    Sums {
        weight,
        middle: Point { x, y },
        xx: weighted().map(|(point, w)| w * (point.x - x).powi(2)).sum(),
        xy: weighted()
            .map(|(point, w)| w * (point.x - x) * (point.y - y))
            .sum(),
    }
}

fn least_squares(points: &[Point], weights: &[f64]) -> Option<Line> {
    let sums = sums(points, weights);
    let slope = sums.xy / sums.xx;
    (sums.weight > 0.0 && slope.is_finite()).then_some(Line {
        intercept: sums.middle.y - slope * sums.middle.x,
        slope,
    })
}

fn with_errors(points: &[Point], line: Line, scale: f64, weights: &[f64]) -> RobustLine {
    let n = points.len() as f64;
    let squares: f64 = points
        .iter()
        .zip(weights)
        .map(|(point, weight)| (line.residual(*point) * weight).powi(2))
        .sum();
    let slopes: Vec<f64> = points
        .iter()
        .map(|point| slope_of_influence(line.residual(*point) / scale))
        .collect();
    let mean = slopes.iter().sum::<f64>() / n;
    let variance = slopes.iter().map(|s| (s - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let k = 1.0 + 2.0 * variance / (n * mean * mean);
    // What is finer than the resolution is not known.
    let sd = ((squares / (n - 2.0)).sqrt() * k / mean.max(f64::MIN_POSITIVE)).max(finest_sd(scale));
    let plain = sums(points, &vec![1.0; points.len()]);
    let weighted = sums(points, weights);
    let rejected = (0..points.len()).filter(|&index| weights[index] == 0.0);
    RobustLine {
        intercept: line.intercept,
        intercept_se: sd * (1.0 / n + plain.middle.x.powi(2) / plain.xx).sqrt(),
        slope: line.slope,
        slope_se: sd / plain.xx.sqrt(),
        scale,
        centre: (weighted.middle.y, sd / n.sqrt()),
        rejected: rejected.collect(),
    }
}

/// Points on an exact line have the scatter that their resolution allows.
fn finest_sd(scale: f64) -> f64 {
    scale / 3f64.sqrt()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn points(y: &[f64]) -> Vec<Point> {
        let point = |(x, y): (usize, &f64)| Point { x: x as f64, y: *y };
        y.iter().enumerate().map(point).collect()
    }

    #[test]
    fn points_on_a_line_give_that_line() {
        let line = robust_line(&points(&[5.0, 7.0, 9.0, 11.0, 13.0]), 0.01).unwrap();
        assert!((line.intercept - 5.0).abs() < 1e-9 && (line.slope - 2.0).abs() < 1e-9);
        assert_eq!((line.scale, line.rejected.len()), (0.01, 0));
    }

    #[test]
    fn a_third_of_wild_points_does_not_move_it() {
        let truth = |x: usize| 3.0 + 0.5 * x as f64 + 0.1 * ((x * 7 % 5) as f64 - 2.0);
        let mut y: Vec<f64> = (0..30).map(truth).collect();
        (0..30).step_by(3).for_each(|x| y[x] += 100.0);
        let line = robust_line(&points(&y), 0.01).unwrap();
        assert!((line.slope - 0.5).abs() < 0.02, "{line:?}");
        assert!((line.intercept - 3.0).abs() < 0.2, "{line:?}");
        assert_eq!(line.rejected.len(), 10);
    }

    #[test]
    fn too_little_gives_no_line() {
        assert_eq!(robust_line(&[], 0.01), None);
        assert_eq!(robust_line(&points(&[1.0, 2.0, 3.0]), 0.01), None);
        let same_x = [Point { x: 1.0, y: 2.0 }; 9];
        assert_eq!(robust_line(&same_x, 0.01), None);
    }
}
