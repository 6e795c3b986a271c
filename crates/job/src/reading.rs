//! Thickness readings as they were taken.

use crate::{Material, PanelId, Place};
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
#[serde(from = "FlatReading")]
pub struct Reading {
    /// Where.
    #[serde(flatten)]
    pub place: Place,
    /// Total thickness as read.
    #[serde(rename = "reading_um")]
    pub total: Thickness,
    /// Clear coat alone, from a gauge that tells layers apart.
    #[serde(rename = "clear_um", skip_serializing_if = "Option::is_none")]
    pub clear: Option<Thickness>,
    /// Name of the spot, when the same spot is read again.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spot: Option<String>,
    /// Which repeat at that spot.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub repeat: Option<u32>,
    /// Which gauge.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gauge: Option<String>,
    /// What is under the paint, when the gauge or the person says so.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub substrate: Option<Material>,
    /// Before or after correction.
    pub moment: Moment,
}

/// The stored form of a reading. Journals are full of them: read field by field they take half the time that a flattened
/// place takes.
#[derive(Deserialize)]
struct FlatReading {
    panel: PanelId,
    u: Option<f64>,
    v: Option<f64>,
    #[serde(rename = "reading_um")]
    total: Thickness,
    #[serde(rename = "clear_um")]
    clear: Option<Thickness>,
    spot: Option<String>,
    repeat: Option<u32>,
    gauge: Option<String>,
    substrate: Option<Material>,
    #[serde(default)]
    moment: Moment,
}

impl From<FlatReading> for Reading {
    fn from(r: FlatReading) -> Self {
        Self {
            place: Place { panel: r.panel, u: r.u, v: r.v },
            total: r.total,
            clear: r.clear,
            spot: r.spot,
            repeat: r.repeat,
            gauge: r.gauge,
            substrate: r.substrate,
            moment: r.moment,
        }
    }
}
