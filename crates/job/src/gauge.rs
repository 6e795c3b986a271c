//! What is known of the shop's gauges: foils read, and studies of people reading the same spots.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use units::Thickness;

/// One reading of a calibration foil on bare metal.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct FoilReading {
    /// Thickness written on the foil.
    #[serde(rename = "nominal_um")]
    pub nominal: Thickness,
    /// What the gauge said.
    #[serde(rename = "read_um")]
    pub read: Thickness,
}

/// Foils read with a gauge: its offset and repeatability follow from them until it is checked again.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct GaugeCheck {
    /// Name of the gauge, as readings carry it.
    pub gauge: String,
    /// When.
    pub at: Timestamp,
    /// Who.
    pub by: String,
    /// The foils.
    pub foils: Vec<FoilReading>,
}

/// One reading of a gauge study.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StudyReading {
    /// Who read.
    pub operator: String,
    /// What was read: a foil, or a marked spot.
    pub part: String,
    /// The reading.
    #[serde(rename = "reading_um")]
    pub reading: Thickness,
}

/// A gauge study: several people read the same spots several times.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct GaugeStudy {
    /// Name of the gauge.
    pub gauge: String,
    /// When.
    pub at: Timestamp,
    /// Who entered it.
    pub by: String,
    /// The readings.
    pub readings: Vec<StudyReading>,
}
