//! What can be wrong with the numbers handed in.

/// Why there is no result.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum StatsError {
    /// Too few values.
    #[error("needs at least {needed} values, got {got}")]
    TooFew {
        /// Least number of values.
        needed: usize,
        /// Number of values handed in.
        got: usize,
    },
    /// A value is infinite or not a number.
    #[error("value {at} (counted from 0) is not a finite number")]
    NotFinite {
        /// Place of the first such value.
        at: usize,
    },
    /// All values are equal, so nothing can be said about their spread.
    #[error("all values are equal")]
    NoSpread,
    /// A parameter lies outside its range.
    #[error("{name} {must}")]
    Parameter {
        /// Name of the parameter.
        name: &'static str,
        /// What it must be.
        must: &'static str,
    },
}

/// Fails unless `0 < p < 1`.
pub(crate) fn share(name: &'static str, p: f64) -> Result<(), StatsError> {
    if p > 0.0 && p < 1.0 {
        Ok(())
    } else {
        Err(StatsError::Parameter { name, must: "must lie between 0 and 1" })
    }
}

/// Fails unless every value is finite and there are at least `needed`.
pub(crate) fn finite(values: &[f64], needed: usize) -> Result<(), StatsError> {
    if values.len() < needed {
        return Err(StatsError::TooFew { needed, got: values.len() });
    }
    match values.iter().position(|x| !x.is_finite()) {
        Some(at) => Err(StatsError::NotFinite { at }),
        None => Ok(()),
    }
}
