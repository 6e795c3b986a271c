//! Chi-squared and gamma distributions.

use crate::normal::normal_quantile;
use crate::root::root;
use statrs::function::gamma::{checked_gamma_lr, checked_gamma_ur};

/// Probability of at most `x` with `df` degrees of freedom.
pub fn chi_squared_cdf(x: f64, df: f64) -> f64 {
    gamma_cdf(x, 0.5 * df, 0.5)
}

/// The `x` with `chi_squared_cdf(x, df) = p`; NaN unless 0 ≤ p ≤ 1 and df > 0.
pub fn chi_squared_quantile(p: f64, df: f64) -> f64 {
    gamma_quantile(p, 0.5 * df, 0.5)
}

/// Probability of at most `x` for a gamma distribution with `shape` and `rate`.
pub fn gamma_cdf(x: f64, shape: f64, rate: f64) -> f64 {
    if x <= 0.0 {
        return if shape > 0.0 && rate > 0.0 { 0.0 } else { f64::NAN };
    }
    if x.is_infinite() {
        return 1.0;
    }
    checked_gamma_lr(shape, x * rate).unwrap_or(f64::NAN)
}

/// Probability of more than `x`, without loss of digits far out.
pub(crate) fn gamma_tail(x: f64, shape: f64, rate: f64) -> f64 {
    if x <= 0.0 {
        return 1.0;
    }
    if x.is_infinite() {
        return 0.0;
    }
    checked_gamma_ur(shape, x * rate).unwrap_or(f64::NAN)
}

/// The `x` with `gamma_cdf(x, shape, rate) = p`; NaN unless 0 ≤ p ≤ 1 and both parameters are positive.
pub fn gamma_quantile(p: f64, shape: f64, rate: f64) -> f64 {
    let allowed = (0.0..=1.0).contains(&p) && shape > 0.0 && rate > 0.0;
    if !allowed {
        return f64::NAN;
    }
    if p == 0.0 {
        return 0.0;
    }
    if p == 1.0 {
        return f64::INFINITY;
    }
    // Wilson and Hilferty (1931) as a start, then the root of the nearer tail.
    let z = normal_quantile(p);
    let cube = 1.0 - 1.0 / (9.0 * shape) + z / (3.0 * shape.sqrt());
    let start = (shape * cube.powi(3)).max(1e-3 * shape).max(1e-300);
    let miss = |x: f64| {
        if p < 0.5 { gamma_cdf(x, shape, 1.0) - p } else { (1.0 - p) - gamma_tail(x, shape, 1.0) }
    };
    let (mut low, mut high) = (start, start);
    while miss(low) > 0.0 && low > 1e-305 {
        low *= 0.5;
    }
    while miss(high) < 0.0 && high < 1e300 {
        high *= 2.0;
    }
    root(miss, low, high, 0.0).unwrap_or(f64::NAN) / rate
}
