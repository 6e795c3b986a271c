//! From readings to estimates, panel by panel.

use crate::finish::KindProbabilities;
use crate::flag::Flag;
use crate::least::LeastClear;
use crate::ledger::{History, Removable};
use crate::map::PanelMap;
use crate::readings::{Reading, Substrate};
use crate::settings::{Settings, SettingsError, Spread};
use serde::{Deserialize, Serialize};
use units::{Length, Thickness};

/// What is known of a panel beside its readings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PanelInfo {
    /// The panel's name, as in the readings.
    pub id: String,
    /// Width of the panel's drawing (`u` from 0 to 1).
    pub width: Length,
    /// Height of the panel's drawing (`v` from 0 to 1).
    pub height: Length,
    /// Outline of the panel in its drawing, u and v; empty when only the rectangle is known.
    pub outline: Vec<(f64, f64)>,
    /// What the paint lies on.
    pub substrate: Substrate,
    /// Matte or satin: never machine polished.
    pub matte: bool,
    /// Single-stage: color and gloss in one coat, no clear coat.
    pub single_stage: bool,
    /// What was taken from it before.
    pub history: History,
}

/// Total thickness of a panel from its readings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TotalEstimate {
    /// Mean of the readings.
    pub mean: Thickness,
    /// Standard deviation of the readings (n − 1); `None` for a single reading.
    pub sd: Option<Thickness>,
    /// Two-sided t interval of the mean.
    pub interval: Option<Interval>,
    /// Lower tolerance bound: `coverage` of the panel is at least this thick, with `confidence`.
    pub bound: Option<ToleranceBound>,
}

/// A two-sided interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Interval {
    /// Lower end.
    pub low: Thickness,
    /// Upper end.
    pub high: Thickness,
    /// Confidence.
    pub confidence: f64,
}

/// An exact one-sided lower tolerance bound (non-central t).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ToleranceBound {
    /// The bound.
    pub value: Thickness,
    /// Factor k in `mean − k × sd`.
    pub factor: f64,
    /// Share of the panel at least this thick.
    pub coverage: f64,
    /// Confidence of the statement.
    pub confidence: f64,
}

/// A reading that does not go with the others of its panel (Grubbs).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Outlier {
    /// Place of the reading in the list handed in.
    pub reading: usize,
    /// Its value.
    pub value: Thickness,
    /// Grubbs' statistic |value − mean| / sd.
    pub g: f64,
    /// Two-sided critical value it exceeds.
    pub critical: f64,
    /// True when it lies below the mean.
    pub low: bool,
}

/// Whether and where more readings would help.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MoreReadings {
    /// How many more readings to take; 0: enough.
    pub readings: usize,
    /// Why, in plain words.
    pub why: String,
    /// Where the next one narrows the bound most (u, v).
    pub next_at: Option<(f64, f64)>,
}

/// What the readings say about one panel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PanelEstimate {
    /// The panel.
    pub panel: String,
    /// Number of readings used.
    pub n: usize,
    /// Total thickness; `None` without readings.
    pub total: Option<TotalEstimate>,
    /// Readings that do not go with the rest; they are kept, not dropped.
    pub outliers: Vec<Outlier>,
    /// Kind of finish.
    pub kind: KindProbabilities,
    /// Mean clear coat of the panel.
    pub clear: Spread,
    /// Least clear coat over the panel.
    pub least_clear: LeastClear,
    /// What may still be taken.
    pub removable: Removable,
    /// What to mind.
    pub flags: Vec<Flag>,
    /// Readings still worth taking.
    pub more: MoreReadings,
}

impl PanelEstimate {
    /// Whether a flag is set.
    pub fn has(&self, flag: Flag) -> bool {
        self.flags.contains(&flag)
    }
}

/// The survey of a car: its panels in the order they were handed in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Survey {
    /// Estimates, in the order of the panels handed in.
    pub panels: Vec<PanelEstimate>,
    /// Names of panels that have readings but were not described.
    pub unknown_panels: Vec<String>,
}

impl Survey {
    /// The estimate of a panel.
    pub fn panel(&self, id: &str) -> Option<&PanelEstimate> {
        self.panels.iter().find(|p| p.panel == id)
    }
}

/// Reads what the readings say about each panel.
///
/// Readings of panels that are not described are named in [`Survey::unknown_panels`] and left out.
///
/// # Errors
/// When the settings cannot be used.
pub fn analyze(
    readings: &[Reading],
    panels: &[PanelInfo],
    settings: &Settings,
) -> Result<Survey, SettingsError> {
    settings.validate()?;
    Ok(crate::estimate::survey(readings, panels, settings, false).0)
}

/// [`analyze`] and the map of every panel described (as [`crate::map()`] draws it), at less cost than one after the other.
///
/// # Errors
/// When the settings cannot be used.
pub fn analyze_with_maps(
    readings: &[Reading],
    panels: &[PanelInfo],
    settings: &Settings,
) -> Result<(Survey, Vec<Option<PanelMap>>), SettingsError> {
    settings.validate()?;
    Ok(crate::estimate::survey(readings, panels, settings, true))
}
