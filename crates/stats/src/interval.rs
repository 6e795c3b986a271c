//! Two-sided confidence intervals of mean and standard deviation.

use crate::chi_squared::chi_squared_quantile;
use crate::error::share;
use crate::student_t::student_t_quantile;
use crate::{StatsError, Summary, summary};
use serde::{Deserialize, Serialize};

/// An interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Bounds {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// t interval of the mean of a sample.
///
/// # Errors
/// On fewer than two values, values that are not finite, or a confidence outside 0 to 1.
pub fn mean_interval(values: &[f64], confidence: f64) -> Result<Bounds, StatsError> {
    mean_interval_of(&summary(values)?, confidence)
}

/// t interval of the mean, from a summary.
///
/// # Errors
/// On fewer than two values or a confidence outside 0 to 1.
pub fn mean_interval_of(s: &Summary, confidence: f64) -> Result<Bounds, StatsError> {
    share("confidence", confidence)?;
    if s.n < 2 {
        return Err(StatsError::TooFew { needed: 2, got: s.n });
    }
    let half = student_t_quantile(0.5 * (1.0 + confidence), (s.n - 1) as f64) * s.sd / (s.n as f64).sqrt();
    Ok(Bounds { low: s.mean - half, high: s.mean + half })
}

/// Chi-squared interval of the standard deviation of a normal sample.
///
/// # Errors
/// On fewer than two values or a confidence outside 0 to 1.
pub fn sd_interval(s: &Summary, confidence: f64) -> Result<Bounds, StatsError> {
    share("confidence", confidence)?;
    if s.n < 2 {
        return Err(StatsError::TooFew { needed: 2, got: s.n });
    }
    let df = (s.n - 1) as f64;
    let end = |p: f64| s.sd * (df / chi_squared_quantile(p, df)).sqrt();
    Ok(Bounds { low: end(0.5 * (1.0 + confidence)), high: end(0.5 * (1.0 - confidence)) })
}
