//! One-way analysis of variance.

use crate::error::finite;
use crate::summary::sum;
use crate::{StatsError, summary};
use serde::{Deserialize, Serialize};
use statrs::function::beta::checked_beta_reg;

/// A one-way table.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct OneWay {
    /// Sum of squares between groups.
    pub between: f64,
    /// Its degrees of freedom.
    pub between_df: f64,
    /// Sum of squares within groups.
    pub within: f64,
    /// Its degrees of freedom.
    pub within_df: f64,
    /// F statistic.
    pub f: f64,
    /// Probability of a larger F when all groups are alike.
    pub p: f64,
}

/// Compares the means of several groups.
///
/// # Errors
/// On fewer than two groups, an empty group, no degree of freedom within, values that are not finite, or no spread.
pub fn one_way(groups: &[Vec<f64>]) -> Result<OneWay, StatsError> {
    if groups.len() < 2 {
        return Err(StatsError::TooFew { needed: 2, got: groups.len() });
    }
    for group in groups {
        finite(group, 1)?;
    }
    let all: Vec<f64> = groups.iter().flatten().copied().collect();
    if all.len() <= groups.len() {
        return Err(StatsError::TooFew { needed: groups.len() + 1, got: all.len() });
    }
    let grand = summary(&all)?.mean;
    let (mut between, mut within) = (Vec::new(), Vec::new());
    for group in groups {
        let mean = summary(group)?.mean;
        between.push(group.len() as f64 * (mean - grand).powi(2));
        within.extend(group.iter().map(|x| (x - mean).powi(2)));
    }
    let (between, within) = (sum(between.into_iter()), sum(within.into_iter()));
    let (between_df, within_df) = ((groups.len() - 1) as f64, (all.len() - groups.len()) as f64);
    if within <= 0.0 {
        return Err(StatsError::NoSpread);
    }
    let f = (between / between_df) / (within / within_df);
    Ok(OneWay { between, between_df, within, within_df, f, p: f_tail(f, between_df, within_df) })
}

/// Probability of more than `f` for Fisher's F with `a` and `b` degrees of freedom.
pub(crate) fn f_tail(f: f64, a: f64, b: f64) -> f64 {
    checked_beta_reg(0.5 * b, 0.5 * a, b / (b + a * f.max(0.0))).unwrap_or(f64::NAN)
}
