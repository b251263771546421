//! The standard normal distribution.

/// Its 80th percentile.
pub(crate) const Z80: f64 = 0.841_621_233_572_914_2;
/// Its 90th percentile.
pub(crate) const Z90: f64 = 1.281_551_565_544_600_4;

/// The distribution function, within 2e-7: Abramowitz and Stegun, 7.1.26.
pub(crate) fn cdf(z: f64) -> f64 {
    const COEFFICIENTS: [f64; 5] = [
        0.254_829_592,
        -0.284_496_736,
        1.421_413_741,
        -1.453_152_027,
        1.061_405_429,
    ];
    let x = z.abs() / std::f64::consts::SQRT_2;
    let t = 1.0 / (1.0 + 0.327_591_1 * x);
    let series = COEFFICIENTS.iter().rev().fold(0.0, |sum, c| (sum + c) * t);
    let upper = series * (-x * x).exp() / 2.0;
    if z < 0.0 { upper } else { 1.0 - upper }
}

#[cfg(test)]
mod tests {
    use super::{Z80, Z90, cdf};

    #[test]
    fn the_distribution_function_gives_its_quantiles_back() {
        // Quantiles of the standard normal distribution as tables print them.
        for (z, p) in [
            (0.0, 0.5),
            (Z80, 0.8),
            (Z90, 0.9),
            (1.959_964, 0.975),
            (-Z90, 0.1),
        ] {
            assert!((cdf(z) - p).abs() < 3e-7, "{z}");
        }
    }
}
