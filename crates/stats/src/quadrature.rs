//! Gauss–Legendre quadrature.

use std::f64::consts::PI;
use std::sync::LazyLock;

/// Nodes and weights on (−1, 1), 24 points: exact for polynomials up to degree 47.
static RULE: LazyLock<Vec<(f64, f64)>> = LazyLock::new(|| gauss_legendre(24));

/// Integral of `f` over each stretch between neighboring `breaks` (ascending), summed.
pub(crate) fn integrate(f: impl Fn(f64) -> f64, breaks: &[f64]) -> f64 {
    breaks
        .windows(2)
        .map(|ends| {
            let (middle, half) = (0.5 * (ends[0] + ends[1]), 0.5 * (ends[1] - ends[0]));
            if half <= 0.0 {
                return 0.0;
            }
            half * RULE.iter().map(|(x, w)| w * f(middle + half * x)).sum::<f64>()
        })
        .sum()
}

/// Equal stretches from `low` to `high`.
pub(crate) fn stretches(low: f64, high: f64, n: usize) -> Vec<f64> {
    (0..=n).map(|i| low + (high - low) * i as f64 / n as f64).collect()
}

/// Nodes by Newton's method on the Legendre polynomial (Press et al., Numerical Recipes, section 4.6).
fn gauss_legendre(n: usize) -> Vec<(f64, f64)> {
    (0..n)
        .map(|i| {
            let mut x = (PI * (i as f64 + 0.75) / (n as f64 + 0.5)).cos();
            let mut slope = 1.0;
            for _ in 0..100 {
                let (mut p0, mut p1) = (1.0, x);
                for k in 2..=n {
                    let k = k as f64;
                    (p0, p1) = (p1, ((2.0 * k - 1.0) * x * p1 - (k - 1.0) * p0) / k);
                }
                slope = n as f64 * (x * p1 - p0) / (x * x - 1.0);
                let step = p1 / slope;
                x -= step;
                if step.abs() < 1e-16 {
                    break;
                }
            }
            (x, 2.0 / ((1.0 - x * x) * slope * slope))
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn weights_sum_to_two_and_high_powers_are_exact() {
        assert!((RULE.iter().map(|r| r.1).sum::<f64>() - 2.0).abs() < 1e-14);
        // ∫ x^46 over (−1, 1) = 2/47
        assert!((integrate(|x| x.powi(46), &[-1.0, 1.0]) - 2.0 / 47.0).abs() < 1e-14);
    }
}
