//! A test spot: what a method really takes off this paint.

use crate::correction::Method;
use crate::settings::{GaugeSettings, Spread};
use crate::survey::Interval;
use serde::{Deserialize, Serialize};
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
pub fn test_spot(method: &Method, _pairs: &[Pair], _passes: u32, _gauge: &GaugeSettings) -> TestSpot {
    TestSpot {
        method: method.clone(),
        measured: None,
        interval: None,
        p: None,
        pairs_needed: 0,
        words: String::new(),
    }
}
