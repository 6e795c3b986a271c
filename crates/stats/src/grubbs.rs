//! Grubbs' test for one outlier.

use crate::error::{finite, share};
use crate::student_t::student_t_quantile;
use crate::{StatsError, summary};
use serde::{Deserialize, Serialize};

/// Which outlier is looked for. One-sided and two-sided critical values differ: name the side.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum GrubbsSide {
    /// The largest value.
    Upper,
    /// The smallest value.
    Lower,
    /// Whichever lies farther from the mean.
    Both,
}

/// Outcome of Grubbs' test.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Grubbs {
    /// Place of the suspect.
    pub at: usize,
    /// Its distance from the mean in standard deviations.
    pub g: f64,
    /// Critical value.
    pub critical: f64,
    /// Side tested.
    pub side: GrubbsSide,
}

impl Grubbs {
    /// Whether the suspect is an outlier at the level tested.
    pub fn is_outlier(&self) -> bool {
        self.g > self.critical
    }
}

/// Grubbs' test at level `alpha` (F. E. Grubbs 1969, Technometrics 11; ASTM E178).
///
/// # Errors
/// On fewer than three values, values that are not finite, no spread, or a level outside 0 to 1.
pub fn grubbs(values: &[f64], side: GrubbsSide, alpha: f64) -> Result<Grubbs, StatsError> {
    finite(values, 3)?;
    let s = summary(values)?;
    if s.sd <= 0.0 {
        return Err(StatsError::NoSpread);
    }
    let distance = |x: f64| match side {
        GrubbsSide::Upper => x - s.mean,
        GrubbsSide::Lower => s.mean - x,
        GrubbsSide::Both => (x - s.mean).abs(),
    };
    let (at, most) = values
        .iter()
        .map(|x| distance(*x))
        .enumerate()
        .fold((0, f64::NEG_INFINITY), |best, next| if next.1 > best.1 { next } else { best });
    Ok(Grubbs { at, g: most / s.sd, critical: grubbs_critical(values.len(), side, alpha)?, side })
}

/// Critical value of Grubbs' test.
///
/// # Errors
/// On n < 3 or a level outside 0 to 1.
pub fn grubbs_critical(n: usize, side: GrubbsSide, alpha: f64) -> Result<f64, StatsError> {
    if n < 3 {
        return Err(StatsError::TooFew { needed: 3, got: n });
    }
    share("alpha", alpha)?;
    let nf = n as f64;
    let tail = match side {
        GrubbsSide::Both => alpha / (2.0 * nf),
        GrubbsSide::Upper | GrubbsSide::Lower => alpha / nf,
    };
    let t = student_t_quantile(1.0 - tail, nf - 2.0);
    Ok((nf - 1.0) / nf.sqrt() * (t * t / (nf - 2.0 + t * t)).sqrt())
}
