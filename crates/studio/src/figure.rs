//! A figure that explains itself.

use serde::Serialize;
use units::Explained;

/// A figure with its unit, its range and how it was computed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Figure {
    /// What it is.
    pub label: String,
    /// The value as shown, without unit.
    pub value: String,
    /// Half-width of the 95 % range as shown, where it is an estimate.
    pub plus_minus: Option<String>,
    /// Unit.
    pub unit: String,
    /// Something to mind, said loudly beside the figure: a thin panel, a guess in place of a reading.
    pub warning: Option<String>,
    /// How it came about.
    pub how: Explained,
}

impl Figure {
    /// A figure with value and unit.
    pub fn new(label: impl Into<String>, value: impl Into<String>, unit: impl Into<String>) -> Self {
        let label = label.into();
        let how = Explained { label: label.clone(), ..Explained::default() };
        Self { label, value: value.into(), plus_minus: None, unit: unit.into(), warning: None, how }
    }

    /// With its 95 % range.
    pub fn plus_minus(mut self, half_width: impl Into<String>) -> Self {
        self.plus_minus = Some(half_width.into());
        self
    }

    /// With a warning.
    pub fn warn(mut self, warning: impl Into<String>) -> Self {
        self.warning = Some(warning.into());
        self
    }

    /// With the formula and its source.
    pub fn by(mut self, formula: impl Into<String>, source: impl Into<String>) -> Self {
        self.how.formula = formula.into();
        self.how.source = source.into();
        self
    }

    /// With the account that an engine gives of it.
    pub fn how(mut self, how: Explained) -> Self {
        self.how = how;
        self
    }

    /// With one more input.
    pub fn from(mut self, name: impl Into<String>, value: impl Into<String>) -> Self {
        self.how.inputs.push((name.into(), value.into()));
        self
    }
}
