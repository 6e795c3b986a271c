//! The search, from the outside.

use crate::{Config, Instance, InstanceFlaw, Layout};
use effort::Effort;
use units::Length;

/// What came of it: always a layout that passed the check, and reasons for what is not in it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Outcome {
    /// Verified; complete when there are no reasons.
    pub layout: Layout,
    /// Why pieces are missing.
    pub reasons: Vec<Reason>,
}

impl Outcome {
    /// Whether every piece lies in the layout.
    pub fn is_complete(&self) -> bool {
        self.reasons.is_empty()
    }
}

/// Why a piece is not in the layout, and what to do.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Reason {
    /// The job makes no sense as given.
    #[error("{0}")]
    Instance(InstanceFlaw),
    /// Larger than everything there is.
    #[error("piece '{piece}' needs at least {:.1} mm across; the widest film '{container}' gives {:.1} mm inside its margins: split the piece with a seam, or take wider film", needed.as_mm(), given.as_mm())]
    TooLarge {
        /// The piece.
        piece: String,
        /// Its least width over the turns it may take.
        needed: Length,
        /// The widest container.
        container: String,
        /// Its width inside the margins.
        given: Length,
    },
    /// No room left.
    #[error("no room for {copies} × piece '{piece}': add film, or nest the rest on another roll")]
    NoRoom {
        /// The piece.
        piece: String,
        /// How many copies are missing.
        copies: u32,
    },
}

/// Packs the pieces: offcuts first, then as little of the rolls as possible.
///
/// Stops when the effort is used up or cancelled and gives the best layout so far. One step of effort is one
/// sampled position.
pub fn nest(instance: &Instance, config: &Config, effort: &Effort) -> Outcome {
    let _ = (instance, config, effort);
    Outcome::default()
}
