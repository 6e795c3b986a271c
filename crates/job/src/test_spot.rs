//! A test spot: what a method really takes off this paint, read before and after.

use crate::PanelId;
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use units::Thickness;

/// One place of a test spot, read before and after the passes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct SpotPair {
    /// Total before.
    #[serde(rename = "before_um")]
    pub before: Thickness,
    /// Total after.
    #[serde(rename = "after_um")]
    pub after: Thickness,
}

/// A method tried on a small area before it is used on the car.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct TestSpot {
    /// On which panel.
    pub panel: PanelId,
    /// Name of the method, as the shop's table has it.
    pub method: String,
    /// Passes made.
    pub passes: u32,
    /// Places read before and after.
    pub pairs: Vec<SpotPair>,
    /// When.
    pub at: Timestamp,
    /// Who.
    pub by: String,
}
