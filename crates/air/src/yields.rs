//! From the mean number of defects to the chance of none.

use crate::AirError;
use crate::error::within;
use serde::{Deserialize, Serialize};

/// How defects scatter over pieces.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum YieldLaw {
    /// Each falls on its own: e^(−N).
    #[default]
    Poisson,
    /// Murphy's bell: ((1 − e^(−N)) / N)².
    Murphy,
    /// Seeds, exponential scatter: 1 / (1 + N). (Some texts give this name to e^(−√N); not meant here.)
    Seeds,
    /// They come in clusters, the smaller the parameter the tighter: (1 + N/α)^(−α).
    Clustered {
        /// α, above 0; large approaches Poisson.
        alpha: f64,
    },
}

impl YieldLaw {
    /// Chance of no defect when `mean` are expected. A negative mean counts as 0.
    pub fn clean(self, mean: f64) -> f64 {
        let n = mean.max(0.0);
        match self {
            Self::Poisson => (-n).exp(),
            Self::Murphy if n < 1e-9 => 1.0,
            Self::Murphy => ((-(-n).exp_m1()) / n).powi(2),
            Self::Seeds => 1.0 / (1.0 + n),
            Self::Clustered { alpha } => (1.0 + n / alpha.max(1e-9)).powf(-alpha.max(1e-9)),
        }
    }
}

/// The mean number of defects at which the chance of none is `clean`.
///
/// # Errors
/// When `clean` is not above 0 and at most 1.
pub fn defects_for_yield(law: YieldLaw, clean: f64) -> Result<f64, AirError> {
    within("the chance of a clean piece", clean, 1e-6, 1.0, "above 0 up to 1, such as 0.95")?;
    let (mut low, mut high) = (0.0, 1.0);
    while law.clean(high) > clean {
        high *= 2.0;
        if high > 1e12 {
            break;
        }
    }
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if law.clean(middle) > clean { low = middle } else { high = middle }
    }
    Ok(0.5 * (low + high))
}
