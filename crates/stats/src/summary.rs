//! Mean, standard deviation, lag-1 autocorrelation, quantiles.

use crate::StatsError;
use crate::error::{finite, share};
use serde::{Deserialize, Serialize};

/// What a sample says at first sight.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Summary {
    /// Number of values.
    pub n: usize,
    /// Arithmetic mean.
    pub mean: f64,
    /// Standard deviation with denominator n − 1; 0 for a single value.
    pub sd: f64,
    /// Lag-1 autocorrelation; 0 without spread.
    pub lag1: f64,
}

/// Summarizes a sample in two passes: sums are compensated (Neumaier 1974) and the sum of squares
/// is corrected for the rounding of the mean (Chan, Golub, LeVeque 1983), so that data far from
/// zero keep their digits.
///
/// # Errors
/// On an empty sample or a value that is not finite.
pub fn summary(values: &[f64]) -> Result<Summary, StatsError> {
    finite(values, 1)?;
    let n = values.len();
    let mut mean = sum(values.iter().copied()) / n as f64;
    mean += sum(values.iter().map(|x| x - mean)) / n as f64;
    let shift = sum(values.iter().map(|x| x - mean));
    let squares = sum(values.iter().map(|x| (x - mean) * (x - mean))) - shift * shift / n as f64;
    let products = sum(values.windows(2).map(|w| (w[0] - mean) * (w[1] - mean)));
    Ok(Summary {
        n,
        mean,
        sd: if n > 1 { (squares.max(0.0) / (n - 1) as f64).sqrt() } else { 0.0 },
        lag1: if squares > 0.0 { products / squares } else { 0.0 },
    })
}

/// Quantile `p` of a sample by linear interpolation between order statistics at `(n − 1) p`
/// (definition 7 of Hyndman and Fan 1996, The American Statistician 50).
///
/// # Errors
/// On an empty sample, a value that is not finite, or `p` outside 0 to 1.
pub fn quantile(values: &[f64], p: f64) -> Result<f64, StatsError> {
    finite(values, 1)?;
    if p != 0.0 && p != 1.0 {
        share("p", p)?;
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let place = (sorted.len() - 1) as f64 * p;
    let below = place.floor() as usize;
    let above = (below + 1).min(sorted.len() - 1);
    Ok(sorted[below] + (place - below as f64) * (sorted[above] - sorted[below]))
}

/// Compensated sum (Neumaier 1974).
pub(crate) fn sum(values: impl Iterator<Item = f64>) -> f64 {
    let (mut total, mut lost) = (0.0_f64, 0.0_f64);
    for x in values {
        let next = total + x;
        lost += if total.abs() >= x.abs() { (total - next) + x } else { (x - next) + total };
        total = next;
    }
    total + lost
}
