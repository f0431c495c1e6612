//! The smallest change that means more than chance.

/// Of a change between two values of this standard error each, 95 %: `1.96 · √2 · se` (Weir 2005, J. Strength Cond. Res.
/// 19:231; from memory). The standard error of a take's mean is `s / √n_eff`, `n_eff = n (1 − r) / (1 + r)`: neighbouring
/// notes are alike.
pub fn between_two(standard_error: f64) -> f64 {
    const Z: f64 = 1.959_963_984_540_054;
    Z * std::f64::consts::SQRT_2 * standard_error
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `references.md`: s = 20 ms, n = 64: 6.9 ms for r = 0, 8.9 ms for r = 0.25.
    #[test]
    fn two_takes_of_64_notes_tell_seven_to_nine_ms_apart() {
        let of = |r: f64| between_two(20.0 / (64.0 * (1.0 - r) / (1.0 + r)).sqrt());
        assert!((of(0.0) - 6.93).abs() < 0.005, "{}", of(0.0));
        assert!((of(0.25) - 8.95).abs() < 0.005, "{}", of(0.25));
    }
}
