//! The account a figure gives of itself, carried beside results so that a page can show how each was computed.

use serde::{Deserialize, Serialize};

/// How a figure was computed: shown when somebody opens it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Explained {
    /// The figure's name, such as `Dew point`.
    pub label: String,
    /// The formula in words or signs.
    pub formula: String,
    /// What went in: name, and value with its unit.
    pub inputs: Vec<(String, String)>,
    /// Where the formula or its constants come from, or who set them.
    pub source: String,
}

impl Explained {
    /// A figure with its formula and source; inputs follow by [`Explained::with`].
    pub fn new(label: impl Into<String>, formula: impl Into<String>, source: impl Into<String>) -> Self {
        Self { label: label.into(), formula: formula.into(), inputs: Vec::new(), source: source.into() }
    }

    /// With one more input.
    #[must_use]
    pub fn with(mut self, name: impl Into<String>, value: impl Into<String>) -> Self {
        self.inputs.push((name.into(), value.into()));
        self
    }
}
