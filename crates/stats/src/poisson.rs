//! Exact interval of a Poisson mean.

use crate::StatsError;
use crate::chi_squared::chi_squared_quantile;
use crate::error::share;
use crate::interval::Bounds;

/// Two-sided interval of the mean when `count` was seen (F. Garwood 1936, Biometrika 28).
///
/// # Errors
/// On a confidence outside 0 to 1.
pub fn poisson_interval(count: u64, confidence: f64) -> Result<Bounds, StatsError> {
    share("confidence", confidence)?;
    let (count, tail) = (count as f64, 0.5 * (1.0 - confidence));
    let low = if count == 0.0 { 0.0 } else { 0.5 * chi_squared_quantile(tail, 2.0 * count) };
    Ok(Bounds { low, high: 0.5 * chi_squared_quantile(1.0 - tail, 2.0 * count + 2.0) })
}
