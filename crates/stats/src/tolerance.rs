//! Factors of normal tolerance bounds: `mean − k × sd` (or `mean ± k × sd`) takes in a share
//! `coverage` of the population with probability `confidence`.

use crate::StatsError;
use crate::chi_squared::{chi_squared_quantile, gamma_tail};
use crate::error::share;
use crate::noncentral_t::noncentral_t_cdf;
use crate::normal::{normal_cdf, normal_pdf, normal_quantile};
use crate::quadrature::{integrate, stretches};
use crate::root::root_above;

/// Exact one-sided factor: k √n is the `confidence` quantile of the non-central t distribution with
/// n − 1 degrees of freedom and δ = z √n (Natrella 1963, NBS Handbook 91, section 2-5; Table A-7).
///
/// # Errors
/// Unless n ≥ 2 and both shares lie between 0 and 1.
pub fn one_sided_factor(n: usize, coverage: f64, confidence: f64) -> Result<f64, StatsError> {
    check(n, coverage, confidence)?;
    let (root_n, df) = ((n as f64).sqrt(), (n - 1) as f64);
    let delta = normal_quantile(coverage) * root_n;
    let miss = |k: f64| noncentral_t_cdf(k * root_n, df, delta) - confidence;
    // Below −(δ/√n) − 40 the probability is nothing; go up from there only when the factor is negative.
    let start = if miss(0.0) < 0.0 { 0.0 } else { -normal_quantile(coverage).abs() - 40.0 };
    root_above(miss, start, 1.0, 1e-12).ok_or(StatsError::Parameter {
        name: "tolerance factor",
        must: "cannot be reached with so few values",
    })
}

/// The approximation of the NIST/SEMATECH e-Handbook, section 7.2.6.3 (Natrella 1963): for comparison
/// only, since it is 25 % too large at n = 3.
///
/// # Errors
/// As [`one_sided_factor`], and where the approximation has no solution.
pub fn one_sided_factor_approximate(n: usize, coverage: f64, confidence: f64) -> Result<f64, StatsError> {
    check(n, coverage, confidence)?;
    let (z, zg) = (normal_quantile(coverage), normal_quantile(confidence));
    let a = 1.0 - zg * zg / (2.0 * (n - 1) as f64);
    let b = z * z - zg * zg / n as f64;
    let k = (z + (z * z - a * b).sqrt()) / a;
    if k.is_finite() && a > 0.0 {
        Ok(k)
    } else {
        Err(StatsError::Parameter { name: "n", must: "is too small for the approximation" })
    }
}

/// Exact two-sided factor: for each offset of the mean, the half-width that covers the share, and
/// the probability that k × sd reaches it, integrated over the offset (Krishnamoorthy and Mathew 2009,
/// Statistical Tolerance Regions, section 2.3).
///
/// # Errors
/// As [`one_sided_factor`].
pub fn two_sided_factor(n: usize, coverage: f64, confidence: f64) -> Result<f64, StatsError> {
    check(n, coverage, confidence)?;
    let (root_n, df) = ((n as f64).sqrt(), (n - 1) as f64);
    let reached = |k: f64| {
        let at = |z: f64| {
            let r = half_width(z / root_n, coverage);
            gamma_tail(df * r * r / (k * k), 0.5 * df, 0.5) * normal_pdf(z)
        };
        2.0 * integrate(at, &stretches(0.0, 9.0, 4))
    };
    root_above(|k| reached(k) - confidence, 1e-6, 1.0, 1e-10).ok_or(StatsError::Parameter {
        name: "tolerance factor",
        must: "cannot be reached with so few values",
    })
}

/// Howe's two-sided factor (W. G. Howe 1969, JASA 64; NIST/SEMATECH e-Handbook 7.2.6.3).
///
/// # Errors
/// As [`one_sided_factor`].
pub fn two_sided_factor_howe(n: usize, coverage: f64, confidence: f64) -> Result<f64, StatsError> {
    check(n, coverage, confidence)?;
    let (nf, df) = (n as f64, (n - 1) as f64);
    let z = normal_quantile(0.5 * (1.0 + coverage));
    Ok((df * (1.0 + 1.0 / nf) * z * z / chi_squared_quantile(1.0 - confidence, df)).sqrt())
}

fn check(n: usize, coverage: f64, confidence: f64) -> Result<(), StatsError> {
    if n < 2 {
        return Err(StatsError::TooFew { needed: 2, got: n });
    }
    share("coverage", coverage)?;
    share("confidence", confidence)
}

/// The r with Φ(m + r) − Φ(m − r) = coverage.
fn half_width(m: f64, coverage: f64) -> f64 {
    let miss = |r: f64| normal_cdf(m + r) - normal_cdf(m - r) - coverage;
    root_above(miss, 0.0, 1.0 + m.abs(), 1e-13).unwrap_or(f64::NAN)
}
