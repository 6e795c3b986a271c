//! Whether work may go on, with reasons and hints: a value, never an error.

use serde::{Deserialize, Serialize};

/// May the work go on?
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Ruling {
    /// Nothing speaks against it.
    Fit,
    /// It may, with care.
    Caution,
    /// It may not, until something changes.
    Unfit,
}

/// One finding behind a verdict.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reason {
    /// How this finding alone would be ruled.
    pub ruling: Ruling,
    /// What was found, with its figures.
    pub reason: String,
    /// What would change it; empty when nothing needs to.
    pub hint: String,
    /// The rule's source.
    pub source: String,
}

/// The ruling and all that led to it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Verdict {
    /// The strictest ruling of all reasons.
    pub ruling: Ruling,
    /// Every rule looked at, in the order looked at.
    pub reasons: Vec<Reason>,
}

impl Verdict {
    /// The strictest of the reasons; fit when there are none.
    pub fn of(reasons: Vec<Reason>) -> Self {
        Self { ruling: reasons.iter().map(|r| r.ruling).max().unwrap_or(Ruling::Fit), reasons }
    }

    /// Nothing speaks against the work.
    pub fn fit(&self) -> bool {
        self.ruling == Ruling::Fit
    }
}
