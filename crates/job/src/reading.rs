//! Thickness readings as they were taken.

use crate::{Material, Place};
use serde::{Deserialize, Serialize};
use units::Thickness;

/// When in the job a reading was taken.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Moment {
    /// Before any correction.
    #[default]
    Before,
    /// After correction.
    After,
}

/// One reading of a gauge.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// Where.
    #[serde(flatten)]
    pub place: Place,
    /// Total thickness as read.
    #[serde(rename = "reading_um")]
    pub total: Thickness,
    /// Clear coat alone, from a gauge that tells layers apart.
    #[serde(default, rename = "clear_um", skip_serializing_if = "Option::is_none")]
    pub clear: Option<Thickness>,
    /// Name of the spot, when the same spot is read again.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spot: Option<String>,
    /// Which repeat at that spot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub repeat: Option<u32>,
    /// Which gauge.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gauge: Option<String>,
    /// What is under the paint, when the gauge or the person says so.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub substrate: Option<Material>,
    /// Before or after correction.
    #[serde(default)]
    pub moment: Moment,
}
