//! Normal and lognormal distributions.

use crate::StatsError;
use serde::{Deserialize, Serialize};
use statrs::function::erf;
use std::f64::consts::{PI, SQRT_2};

/// Density of the standard normal distribution.
pub fn normal_pdf(z: f64) -> f64 {
    (-0.5 * z * z).exp() / (2.0 * PI).sqrt()
}

/// Probability that a standard normal variable is at most `z`.
pub fn normal_cdf(z: f64) -> f64 {
    0.5 * erf::erfc(-z / SQRT_2)
}

/// The `z` with `normal_cdf(z) = p`; −∞ and ∞ at 0 and 1, NaN outside.
pub fn normal_quantile(p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        return f64::NAN;
    }
    let z = -SQRT_2 * erf::erfc_inv(2.0 * p);
    // One Newton step takes the last digits of the rational approximation.
    let density = normal_pdf(z);
    if z.is_finite() && density > 1e-300 { z - (normal_cdf(z) - p) / density } else { z }
}

/// A lognormal distribution: its logarithm is normal.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LogNormal {
    /// Mean of the logarithm.
    pub mu: f64,
    /// Standard deviation of the logarithm.
    pub sigma: f64,
}

impl LogNormal {
    /// With the given mean and standard deviation of the variable itself.
    ///
    /// # Errors
    /// Unless `mean > 0` and `sd ≥ 0`, both finite.
    pub fn from_mean_sd(mean: f64, sd: f64) -> Result<Self, StatsError> {
        if !(mean > 0.0 && mean.is_finite() && sd >= 0.0 && sd.is_finite()) {
            return Err(StatsError::Parameter {
                name: "lognormal",
                must: "needs a positive mean and no negative sd",
            });
        }
        let variance = (1.0 + (sd / mean).powi(2)).ln();
        Ok(Self { mu: mean.ln() - 0.5 * variance, sigma: variance.sqrt() })
    }

    /// With the given quantiles of the variable at two probabilities.
    ///
    /// # Errors
    /// Unless both are positive and rise with their probabilities.
    pub fn from_quantiles(low: (f64, f64), high: (f64, f64)) -> Result<Self, StatsError> {
        let ((p0, x0), (p1, x1)) = (low, high);
        if !(p0 > 0.0 && p0 < p1 && p1 < 1.0 && x0 > 0.0 && x0 <= x1 && x1.is_finite()) {
            return Err(StatsError::Parameter { name: "quantiles", must: "must be positive and rise" });
        }
        let (z0, z1) = (normal_quantile(p0), normal_quantile(p1));
        let sigma = (x1.ln() - x0.ln()) / (z1 - z0);
        Ok(Self { mu: x0.ln() - sigma * z0, sigma })
    }

    /// Mean.
    pub fn mean(&self) -> f64 {
        (self.mu + 0.5 * self.sigma * self.sigma).exp()
    }

    /// Standard deviation.
    pub fn sd(&self) -> f64 {
        self.mean() * (self.sigma * self.sigma).exp_m1().sqrt()
    }

    /// Probability of at most `x`.
    pub fn cdf(&self, x: f64) -> f64 {
        if x <= 0.0 {
            return 0.0;
        }
        if self.sigma == 0.0 {
            return if x.ln() >= self.mu { 1.0 } else { 0.0 };
        }
        normal_cdf((x.ln() - self.mu) / self.sigma)
    }

    /// Quantile at `p`.
    pub fn quantile(&self, p: f64) -> f64 {
        if self.sigma == 0.0 { self.mu.exp() } else { (self.mu + self.sigma * normal_quantile(p)).exp() }
    }
}
