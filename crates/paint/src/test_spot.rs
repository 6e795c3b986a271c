//! A test spot: what a method really takes off this paint.

use crate::correction::Method;
use crate::settings::{GaugeSettings, Spread};
use crate::survey::Interval;
use serde::{Deserialize, Serialize};
use stats::{Sides, Summary, one_sample, one_sample_n, summary};
use units::Thickness;

/// Readings of one spot before and after the passes (each perhaps a mean of repeats).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Pair {
    /// Before.
    pub before: Thickness,
    /// After.
    pub after: Thickness,
}

/// What a test spot says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TestSpot {
    /// The method with its removal per pass updated by the spot.
    pub method: Method,
    /// Removal per pass by the readings alone: mean and standard error; `None` below two pairs.
    pub measured: Option<Spread>,
    /// Two-sided t interval of the removal per pass by the readings alone.
    pub interval: Option<Interval>,
    /// One-sided p value of the paired t test that anything was removed.
    pub p: Option<f64>,
    /// Pairs needed to tell this removal from gauge noise (one-sided 5 %, power 90 %).
    pub pairs_needed: usize,
    /// What it means, in plain words.
    pub words: String,
}

/// Updates a method's removal per pass by paired readings after `passes` passes on a test spot.
///
/// The mean removal has the method's normal prior; the spread of the paired differences is unknown, with
/// a prior worth `PRIOR_DF` differences of the size that gauge and scatter lead one to expect. The
/// posterior is integrated numerically. Pairs that are not finite are left out.
pub fn test_spot(method: &Method, pairs: &[Pair], passes: u32, gauge: &GaugeSettings) -> TestSpot {
    let passes = f64::from(passes.max(1));
    let taken: Vec<f64> = pairs
        .iter()
        .filter(|p| p.before.is_finite() && p.after.is_finite())
        .map(|p| (p.before - p.after).as_um() / passes)
        .collect();
    let level = pairs.first().map_or(120.0, |p| p.before.as_um());
    let reading = gauge.fixed.as_um() + gauge.relative * level;
    let scatter = method.removal_per_pass.scatter.as_um();
    // Of one difference per pass: two readings, and the scatter of the passes.
    let expected = (2.0 * reading * reading + passes * scatter * scatter) / (passes * passes);
    let seen = summary(&taken).ok();
    let test = one_sample(&taken, 0.0).ok();
    let sd = seen.filter(|s| s.n > 1 && s.sd > 0.0).map_or(expected.sqrt(), |s| s.sd);
    let (mean, unsure) = updated(method, seen.as_ref(), expected);
    let mut updated = method.clone();
    updated.removal_per_pass.mean = Thickness::um(mean);
    updated.removal_per_pass.unsure = Thickness::um(unsure);
    let pairs_needed = pairs_for(mean, sd);
    TestSpot {
        measured: test.map(|t| Spread::um(t.difference, t.error)),
        interval: test.and_then(|t| t.interval(0.95).ok()).map(|b| Interval {
            low: Thickness::um(b.low),
            high: Thickness::um(b.high),
            confidence: 0.95,
        }),
        p: test.map(|t| t.p_above()),
        pairs_needed,
        words: words(taken.len(), pairs_needed, mean, unsure, test.map(|t| t.p_above())),
        method: updated,
    }
}

/// Spots to be read before and after so that a removal of this size is told from the gauge's scatter on
/// paint of about `total` thickness: one-sided 5 %, power 90 %, by the exact non-central t. 0 when the
/// removal is not above zero.
pub fn pairs_needed(removal: Thickness, total: Thickness, gauge: &GaugeSettings) -> usize {
    let reading = gauge.fixed.as_um() + gauge.relative * total.as_um();
    pairs_for(removal.as_um(), std::f64::consts::SQRT_2 * reading)
}

fn pairs_for(removal: f64, sd: f64) -> usize {
    one_sample_n(removal / sd, 0.05, 0.90, Sides::One).map_or(0, |n| n.ceil() as usize)
}

/// Differences that the prior of their spread is worth.
const PRIOR_DF: f64 = 4.0;
/// Least removal per pass believed: no pass puts paint on.
const LEAST: f64 = 0.02;

/// Mean and standard deviation of the removal per pass after the differences seen.
fn updated(method: &Method, seen: Option<&Summary>, expected: f64) -> (f64, f64) {
    let prior = method.removal_per_pass;
    let (m, s) = (prior.mean.as_um(), prior.unsure.as_um());
    let Some(seen) = seen.filter(|_| s > 0.0) else { return (m, s) };
    let n = seen.n as f64;
    let squares = PRIOR_DF * expected + (n - 1.0) * seen.sd * seen.sd;
    let ln_density = |x: f64| {
        let z = (x - m) / s;
        -0.5 * z * z - 0.5 * (PRIOR_DF + n) * (squares + n * (seen.mean - x).powi(2)).ln()
    };
    let error = (squares / (PRIOR_DF + n - 1.0) / n).sqrt();
    let low = (m - 8.0 * s).min(seen.mean - 8.0 * error).max(LEAST);
    let high = (m + 8.0 * s).max(seen.mean + 8.0 * error).max(2.0 * LEAST);
    const STEPS: usize = 2000;
    let at = |i: usize| low + (high - low) * (i as f64 + 0.5) / STEPS as f64;
    let most = (0..STEPS).map(|i| ln_density(at(i))).fold(f64::NEG_INFINITY, f64::max);
    let (mut whole, mut first, mut second) = (0.0, 0.0, 0.0);
    for i in 0..STEPS {
        let (x, w) = (at(i), (ln_density(at(i)) - most).exp());
        whole += w;
        first += w * x;
        second += w * x * x;
    }
    let mean = first / whole;
    (mean, (second / whole - mean * mean).max(0.0).sqrt())
}

fn words(pairs: usize, needed: usize, mean: f64, unsure: f64, p: Option<f64>) -> String {
    let figure = format!("{mean:.1} ± {:.1} µm a pass (95 %)", 1.96 * unsure);
    match p {
        None => format!(
            "{pairs} pairs: too few to measure; {figure} is the table's figure, and {needed} pairs would tell it from the gauge's scatter."
        ),
        Some(p) if p < 0.05 => format!("Measured on this paint: {figure}, from {pairs} pairs."),
        Some(_) => format!(
            "{pairs} pairs cannot tell the removal from the gauge's scatter; {needed} would. Until then: {figure}."
        ),
    }
}
