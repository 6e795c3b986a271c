//! Where the seams of the film on the car's sides lie, chosen by what it costs now and later.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use units::{Length, Money};

/// A choice of seams on the sides, the same on both; estimates as they were when it was chosen.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct SidePlan {
    /// Chosen seams, by name.
    pub seams: Vec<String>,
    /// Pieces on each side.
    pub pieces: u32,
    /// What it is worth to the customer not to see a meter of seam.
    pub unseen_m: Money,
    /// Film and hours of both sides.
    pub install: Money,
    /// Present value of the expected renewals of both sides.
    pub renewals: Money,
    /// Mean number of pieces renewed over the years reckoned, both sides.
    pub expected: f64,
    /// Seam in sight, both sides together.
    #[serde(rename = "in_sight_mm")]
    pub in_sight: Length,
    /// When it was chosen.
    pub at: Timestamp,
    /// By whom.
    pub by: String,
}
