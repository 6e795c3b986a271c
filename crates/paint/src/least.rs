//! The least clear coat over a panel: a distribution, not a number.

use serde::{Deserialize, Serialize};
use units::Thickness;

/// Distribution of the least clear coat over a panel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LeastClear {
    /// Mean.
    pub mean: Thickness,
    /// Standard deviation.
    pub sd: Thickness,
    /// One-sided lower bound.
    pub lower: Thickness,
    /// Confidence of the bound.
    pub confidence: f64,
    /// Quantiles as (probability, thickness), ascending; between them the distribution is linear.
    pub quantiles: Vec<(f64, Thickness)>,
}
