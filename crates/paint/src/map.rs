//! The clear coat over a panel's drawing.

use crate::readings::Reading;
use crate::settings::{Settings, SettingsError};
use crate::survey::PanelInfo;
use serde::{Deserialize, Serialize};
use units::{Length, Thickness};

/// Clear coat and total thickness over a panel's drawing, on a regular grid.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PanelMap {
    /// The panel.
    pub panel: String,
    /// Width of the drawing.
    pub width: Length,
    /// Height of the drawing.
    pub height: Length,
    /// Number of grid points across (`u` = 0 to 1 inclusive).
    pub columns: usize,
    /// Number of grid points down (`v` = 0 to 1 inclusive).
    pub rows: usize,
    /// Mean total thickness, row by row from the top.
    pub total_mean: Vec<Thickness>,
    /// Standard deviation of the total thickness.
    pub total_sd: Vec<Thickness>,
    /// Mean clear coat.
    pub clear_mean: Vec<Thickness>,
    /// Standard deviation of the clear coat.
    pub clear_sd: Vec<Thickness>,
    /// Where readings were taken (u, v) and what they said.
    pub spots: Vec<((f64, f64), Thickness)>,
    /// Correlation length used (the likeliest).
    pub length: Length,
    /// Standard deviation over the panel used (the likeliest).
    pub within: Thickness,
}

/// The map of a panel; `None` when there is no reading with a place or the gauge cannot read the substrate.
///
/// # Errors
/// When the settings cannot be used.
pub fn map(_: &[Reading], _: &PanelInfo, settings: &Settings) -> Result<Option<PanelMap>, SettingsError> {
    settings.validate()?;
    Ok(None)
}
