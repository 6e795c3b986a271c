//! What is wrong with what the engine was asked.

/// A question the engine cannot answer: where, what, and what to do.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum AirError {
    /// A value lies outside what the formula or the world allows.
    #[error("{what} is {got}: give {allowed}")]
    Range {
        /// Which value.
        what: &'static str,
        /// The value as given.
        got: String,
        /// What would be accepted.
        allowed: &'static str,
    },
    /// A line of a counter's file cannot be read.
    #[error("line {line} of the counter's file: {what}")]
    Line {
        /// Line, counted from 1.
        line: u64,
        /// What is wrong and what to do.
        what: String,
    },
    /// Too little data for an estimate.
    #[error("{what}")]
    TooFew {
        /// What is missing and what to do.
        what: String,
    },
}

/// `Ok` when the value is finite and within the closed range.
pub(crate) fn within(
    what: &'static str,
    value: f64,
    low: f64,
    high: f64,
    allowed: &'static str,
) -> Result<f64, AirError> {
    if value.is_finite() && (low..=high).contains(&value) {
        Ok(value)
    } else {
        Err(AirError::Range { what, got: format!("{value}"), allowed })
    }
}
