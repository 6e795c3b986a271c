//! t tests: one sample, paired, two samples pooled and by Welch.

use crate::error::share;
use crate::interval::Bounds;
use crate::student_t::{student_t_cdf, student_t_quantile};
use crate::{StatsError, Summary, summary};
use serde::{Deserialize, Serialize};

/// Outcome of a t test of a difference against zero.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct TTest {
    /// The difference tested.
    pub difference: f64,
    /// Its standard error.
    pub error: f64,
    /// Degrees of freedom.
    pub df: f64,
    /// The statistic: difference / error.
    pub t: f64,
}

impl TTest {
    fn new(difference: f64, error: f64, df: f64) -> Result<Self, StatsError> {
        if error > 0.0 {
            Ok(Self { difference, error, df, t: difference / error })
        } else {
            Err(StatsError::NoSpread)
        }
    }

    /// Two-sided p value.
    pub fn p_two_sided(&self) -> f64 {
        2.0 * student_t_cdf(-self.t.abs(), self.df)
    }

    /// One-sided p value against "not above zero".
    pub fn p_above(&self) -> f64 {
        student_t_cdf(-self.t, self.df)
    }

    /// Two-sided interval of the difference.
    ///
    /// # Errors
    /// On a confidence outside 0 to 1.
    pub fn interval(&self, confidence: f64) -> Result<Bounds, StatsError> {
        share("confidence", confidence)?;
        let half = student_t_quantile(0.5 * (1.0 + confidence), self.df) * self.error;
        Ok(Bounds { low: self.difference - half, high: self.difference + half })
    }
}

/// Tests the mean of a sample against `mean`.
///
/// # Errors
/// On fewer than two values, values that are not finite, or no spread.
pub fn one_sample(values: &[f64], mean: f64) -> Result<TTest, StatsError> {
    let s = at_least_two(values)?;
    TTest::new(s.mean - mean, s.sd / (s.n as f64).sqrt(), (s.n - 1) as f64)
}

/// Tests the mean of the differences `first − second` of paired values.
///
/// # Errors
/// On unequal numbers, fewer than two pairs, values that are not finite, or no spread.
pub fn paired(first: &[f64], second: &[f64]) -> Result<TTest, StatsError> {
    if first.len() != second.len() {
        return Err(StatsError::Parameter {
            name: "second",
            must: "must pair with the first, value by value",
        });
    }
    let differences: Vec<f64> = first.iter().zip(second).map(|(a, b)| a - b).collect();
    one_sample(&differences, 0.0)
}

/// Tests `mean(first) − mean(second)` with unequal variances (Welch 1947).
///
/// # Errors
/// On fewer than two values in either, values that are not finite, or no spread.
pub fn welch(first: &[f64], second: &[f64]) -> Result<TTest, StatsError> {
    welch_of(&at_least_two(first)?, &at_least_two(second)?)
}

/// [`welch`] from summaries.
///
/// # Errors
/// As [`welch`].
pub fn welch_of(a: &Summary, b: &Summary) -> Result<TTest, StatsError> {
    both_at_least_two(a, b)?;
    let (va, vb) = (a.sd * a.sd / a.n as f64, b.sd * b.sd / b.n as f64);
    let v = va + vb;
    let df = v * v / (va * va / (a.n - 1) as f64 + vb * vb / (b.n - 1) as f64);
    TTest::new(a.mean - b.mean, v.sqrt(), df)
}

/// Tests `mean(first) − mean(second)` with one common variance.
///
/// # Errors
/// As [`welch`].
pub fn pooled(first: &[f64], second: &[f64]) -> Result<TTest, StatsError> {
    pooled_of(&at_least_two(first)?, &at_least_two(second)?)
}

/// [`pooled`] from summaries.
///
/// # Errors
/// As [`welch`].
pub fn pooled_of(a: &Summary, b: &Summary) -> Result<TTest, StatsError> {
    both_at_least_two(a, b)?;
    let df = (a.n + b.n - 2) as f64;
    let variance = ((a.n - 1) as f64 * a.sd * a.sd + (b.n - 1) as f64 * b.sd * b.sd) / df;
    TTest::new(a.mean - b.mean, (variance * (1.0 / a.n as f64 + 1.0 / b.n as f64)).sqrt(), df)
}

fn at_least_two(values: &[f64]) -> Result<Summary, StatsError> {
    if values.len() < 2 {
        return Err(StatsError::TooFew { needed: 2, got: values.len() });
    }
    summary(values)
}

fn both_at_least_two(a: &Summary, b: &Summary) -> Result<(), StatsError> {
    match a.n.min(b.n) {
        0 | 1 => Err(StatsError::TooFew { needed: 2, got: a.n.min(b.n) }),
        _ => Ok(()),
    }
}
