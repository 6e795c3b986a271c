//! Power of t tests and the sample size they need, by the exact non-central t distribution.

use crate::StatsError;
use crate::error::share;
use crate::noncentral_t::noncentral_t_cdf;
use crate::root::root_above;
use crate::student_t::student_t_quantile;

/// Whether a test looks for a difference in one direction or in both.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sides {
    /// One direction.
    One,
    /// Both directions.
    Two,
}

/// Power of a one-sample or paired t test with `n` values to see a shift of `effect` standard deviations.
///
/// # Errors
/// Unless n > 1, effect > 0, and `alpha` lies between 0 and 1.
pub fn one_sample_power(n: f64, effect: f64, alpha: f64, sides: Sides) -> Result<f64, StatsError> {
    check(effect, alpha)?;
    if n.is_nan() || n <= 1.0 {
        return Err(StatsError::TooFew { needed: 2, got: n.max(0.0) as usize });
    }
    Ok(power(n - 1.0, effect * n.sqrt(), alpha, sides))
}

/// Power of a two-sample t test with `n` values in each group to see a difference of `effect` common
/// standard deviations.
///
/// # Errors
/// Unless n > 1, effect > 0, and `alpha` lies between 0 and 1.
pub fn two_sample_power(n: f64, effect: f64, alpha: f64, sides: Sides) -> Result<f64, StatsError> {
    check(effect, alpha)?;
    if n.is_nan() || n <= 1.0 {
        return Err(StatsError::TooFew { needed: 2, got: n.max(0.0) as usize });
    }
    Ok(power(2.0 * n - 2.0, effect * (0.5 * n).sqrt(), alpha, sides))
}

/// Number of values (a real number: round up) with which a one-sample or paired t test reaches `wanted` power.
///
/// # Errors
/// Unless effect > 0 and `alpha` and `wanted` lie between 0 and 1.
pub fn one_sample_n(effect: f64, alpha: f64, wanted: f64, sides: Sides) -> Result<f64, StatsError> {
    check(effect, alpha)?;
    share("wanted power", wanted)?;
    size(|n| power(n - 1.0, effect * n.sqrt(), alpha, sides) - wanted)
}

/// Number of values in each group (a real number: round up) with which a two-sample t test reaches `wanted` power.
///
/// # Errors
/// Unless effect > 0 and `alpha` and `wanted` lie between 0 and 1.
pub fn two_sample_n(effect: f64, alpha: f64, wanted: f64, sides: Sides) -> Result<f64, StatsError> {
    check(effect, alpha)?;
    share("wanted power", wanted)?;
    size(|n| power(2.0 * n - 2.0, effect * (0.5 * n).sqrt(), alpha, sides) - wanted)
}

fn check(effect: f64, alpha: f64) -> Result<(), StatsError> {
    if !(effect > 0.0 && effect.is_finite()) {
        return Err(StatsError::Parameter { name: "effect", must: "must be positive" });
    }
    share("alpha", alpha)
}

/// Least sample size considered; below it a t test has hardly a degree of freedom.
const SMALLEST: f64 = 1.5;

fn size(miss: impl Fn(f64) -> f64) -> Result<f64, StatsError> {
    if miss(SMALLEST) >= 0.0 {
        return Ok(SMALLEST);
    }
    root_above(miss, SMALLEST, 2.0, 1e-9)
        .ok_or(StatsError::Parameter { name: "sample size", must: "would be beyond counting" })
}

fn power(df: f64, delta: f64, alpha: f64, sides: Sides) -> f64 {
    match sides {
        Sides::One => 1.0 - noncentral_t_cdf(student_t_quantile(1.0 - alpha, df), df, delta),
        Sides::Two => {
            let critical = student_t_quantile(1.0 - 0.5 * alpha, df);
            1.0 - noncentral_t_cdf(critical, df, delta) + noncentral_t_cdf(-critical, df, delta)
        }
    }
}
