//! A rate of events learned from counts: gamma prior, Poisson counts.

use crate::StatsError;
use crate::chi_squared::{gamma_cdf, gamma_quantile};
use crate::error::share;
use crate::interval::Bounds;
use serde::{Deserialize, Serialize};

/// What is known of a rate (events per unit of exposure): gamma with `shape` and `rate`. Reads as
/// "`shape` events seen in an exposure of `rate`".
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct GammaRate {
    /// Shape.
    pub shape: f64,
    /// Rate (inverse scale), in units of exposure.
    pub rate: f64,
}

impl GammaRate {
    /// From shape and rate.
    ///
    /// # Errors
    /// Unless both are positive and finite.
    pub fn new(shape: f64, rate: f64) -> Result<Self, StatsError> {
        if shape > 0.0 && rate > 0.0 && shape.is_finite() && rate.is_finite() {
            Ok(Self { shape, rate })
        } else {
            Err(StatsError::Parameter { name: "shape and rate", must: "must be positive" })
        }
    }

    /// After `events` more events in `exposure` more exposure (Gelman et al., Bayesian Data Analysis, section 2.6).
    ///
    /// # Errors
    /// On a negative or infinite exposure.
    pub fn after(&self, events: u64, exposure: f64) -> Result<Self, StatsError> {
        if !(exposure >= 0.0 && exposure.is_finite()) {
            return Err(StatsError::Parameter { name: "exposure", must: "must not be negative" });
        }
        Self::new(self.shape + events as f64, self.rate + exposure)
    }

    /// Mean rate.
    pub fn mean(&self) -> f64 {
        self.shape / self.rate
    }

    /// Standard deviation of the rate.
    pub fn sd(&self) -> f64 {
        self.shape.sqrt() / self.rate
    }

    /// Probability that the rate is above `x`.
    pub fn above(&self, x: f64) -> f64 {
        1.0 - gamma_cdf(x, self.shape, self.rate)
    }

    /// Central interval that holds the rate with probability `credibility`.
    ///
    /// # Errors
    /// On a credibility outside 0 to 1.
    pub fn interval(&self, credibility: f64) -> Result<Bounds, StatsError> {
        share("credibility", credibility)?;
        let tail = 0.5 * (1.0 - credibility);
        let end = |p| gamma_quantile(p, self.shape, self.rate);
        Ok(Bounds { low: end(tail), high: end(1.0 - tail) })
    }

    /// Probability of no event in `exposure`.
    pub fn none_in(&self, exposure: f64) -> f64 {
        (self.rate / (self.rate + exposure)).powf(self.shape)
    }
}
