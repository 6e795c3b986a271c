//! The kind of finish on a panel.

use serde::{Deserialize, Serialize};

/// Kind of finish.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// As it left the factory.
    Factory,
    /// Painted again over the old paint.
    Refinished,
    /// Painted over filler.
    Filled,
    /// Factory paint that lost clear coat to earlier correction.
    Thinned,
}

/// Probability of each kind of finish and what speaks for it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct KindProbabilities {
    /// As it left the factory.
    pub factory: f64,
    /// Painted again over the old paint.
    pub refinished: f64,
    /// Painted over filler.
    pub filled: f64,
    /// Factory paint that lost clear coat.
    pub thinned: f64,
    /// What speaks for it, in plain words.
    pub evidence: Vec<String>,
}

impl KindProbabilities {
    /// The likeliest kind and its probability.
    pub fn likeliest(&self) -> (Kind, f64) {
        [
            (Kind::Factory, self.factory),
            (Kind::Refinished, self.refinished),
            (Kind::Filled, self.filled),
            (Kind::Thinned, self.thinned),
        ]
        .into_iter()
        .fold((Kind::Factory, -1.0), |best, k| if k.1 > best.1 { k } else { best })
    }
}

impl Kind {
    /// In plain words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Factory => "factory paint",
            Self::Refinished => "refinished",
            Self::Filled => "filled and refinished",
            Self::Thinned => "thinned by earlier correction",
        }
    }
}
