//! Survival from lifetimes of which some have not ended yet.

use crate::StatsError;
use crate::chi_squared::gamma_tail;
use crate::error::share;
use crate::interval::Bounds;
use crate::normal::normal_quantile;
use serde::{Deserialize, Serialize};

/// One lifetime.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Lifetime {
    /// How long it was watched.
    pub time: f64,
    /// Whether it ended then; false: still going (censored).
    pub ended: bool,
}

/// What happened at one time at which lifetimes ended.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct SurvivalStep {
    /// The time.
    pub time: f64,
    /// Number still watched just before.
    pub at_risk: usize,
    /// Number that ended.
    pub ended: usize,
    /// Share that survives beyond this time.
    pub survival: f64,
    /// Greenwood's sum Σ d / (n (n − d)) up to this time.
    pub greenwood: f64,
    /// Cumulative hazard Σ d / n (Nelson 1972, Aalen 1978).
    pub hazard: f64,
}

/// The product-limit estimate (Kaplan and Meier 1958, JASA 53).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KaplanMeier {
    /// Steps in order of time.
    pub steps: Vec<SurvivalStep>,
    /// Number of lifetimes.
    pub n: usize,
}

impl KaplanMeier {
    /// From lifetimes in any order.
    ///
    /// # Errors
    /// On no lifetimes or a time that is negative or not finite.
    pub fn of(lifetimes: &[Lifetime]) -> Result<Self, StatsError> {
        let sorted = sorted(lifetimes)?;
        let (mut steps, mut survival, mut greenwood, mut hazard) = (Vec::new(), 1.0, 0.0, 0.0);
        let mut from = 0;
        while from < sorted.len() {
            let time = sorted[from].time;
            let to = sorted.partition_point(|l| l.time <= time);
            let ended = sorted[from..to].iter().filter(|l| l.ended).count();
            let at_risk = sorted.len() - from;
            if ended > 0 {
                let (d, n) = (ended as f64, at_risk as f64);
                survival *= 1.0 - d / n;
                greenwood += d / (n * (n - d));
                hazard += d / n;
                steps.push(SurvivalStep { time, at_risk, ended, survival, greenwood, hazard });
            }
            from = to;
        }
        Ok(Self { steps, n: lifetimes.len() })
    }

    /// Share that survives beyond `time`.
    pub fn survival(&self, time: f64) -> f64 {
        self.last_step(time).map_or(1.0, |s| s.survival)
    }

    /// Shortest time at which half or fewer survive; `None` when that was not reached.
    pub fn median(&self) -> Option<f64> {
        self.steps.iter().find(|s| s.survival <= 0.5).map(|s| s.time)
    }

    /// Standard error of the survival at `time` (Greenwood 1926).
    pub fn error(&self, time: f64) -> f64 {
        self.last_step(time)
            .map_or(0.0, |s| if s.survival > 0.0 { s.survival * s.greenwood.sqrt() } else { 0.0 })
    }

    /// Interval of the survival at `time` on the log-log scale (Kalbfleisch and Prentice 1980).
    ///
    /// # Errors
    /// On a confidence outside 0 to 1.
    pub fn interval(&self, time: f64, confidence: f64) -> Result<Bounds, StatsError> {
        share("confidence", confidence)?;
        let z = normal_quantile(0.5 * (1.0 + confidence));
        Ok(match self.last_step(time) {
            None => Bounds { low: 1.0, high: 1.0 },
            Some(s) if s.survival <= 0.0 => Bounds { low: 0.0, high: 0.0 },
            Some(s) => {
                let width = z * s.greenwood.sqrt() / s.survival.ln();
                Bounds { low: s.survival.powf((-width).exp()), high: s.survival.powf(width.exp()) }
            }
        })
    }

    fn last_step(&self, time: f64) -> Option<&SurvivalStep> {
        self.steps[..self.steps.partition_point(|s| s.time <= time)].last()
    }
}

/// Outcome of the log-rank test.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct LogRank {
    /// Chi-squared statistic with one degree of freedom.
    pub chi_squared: f64,
    /// Probability of a larger one when both groups live alike.
    pub p: f64,
}

/// Compares the lifetimes of two groups (Mantel 1966).
///
/// # Errors
/// On an empty group, a time that is negative or not finite, or nothing ended.
pub fn log_rank(first: &[Lifetime], second: &[Lifetime]) -> Result<LogRank, StatsError> {
    let (a, b) = (sorted(first)?, sorted(second)?);
    let mut times: Vec<f64> = a.iter().chain(&b).filter(|l| l.ended).map(|l| l.time).collect();
    times.sort_by(f64::total_cmp);
    times.dedup();
    let (mut excess, mut variance) = (0.0, 0.0);
    for time in times {
        let at_risk = |g: &[Lifetime]| g.iter().filter(|l| l.time >= time).count() as f64;
        let ended = |g: &[Lifetime]| g.iter().filter(|l| l.ended && l.time == time).count() as f64;
        let (na, nb, da, db) = (at_risk(&a), at_risk(&b), ended(&a), ended(&b));
        let (n, d) = (na + nb, da + db);
        excess += da - d * na / n;
        if n > 1.0 {
            variance += d * (na / n) * (nb / n) * (n - d) / (n - 1.0);
        }
    }
    if variance <= 0.0 {
        return Err(StatsError::NoSpread);
    }
    let chi_squared = excess * excess / variance;
    Ok(LogRank { chi_squared, p: gamma_tail(chi_squared, 0.5, 0.5) })
}

/// Lifetimes by time.
fn sorted(lifetimes: &[Lifetime]) -> Result<Vec<Lifetime>, StatsError> {
    if lifetimes.is_empty() {
        return Err(StatsError::TooFew { needed: 1, got: 0 });
    }
    if let Some(at) = lifetimes.iter().position(|l| !(l.time.is_finite() && l.time >= 0.0)) {
        return Err(StatsError::NotFinite { at });
    }
    let mut sorted = lifetimes.to_vec();
    sorted.sort_by(|a, b| a.time.total_cmp(&b.time));
    Ok(sorted)
}
