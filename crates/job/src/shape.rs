//! The shape of a panel as it was taken, and how its film is cut.

use crate::{PanelId, PictureId};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use units::Length;

/// A tape over a panel with the sag under a straight edge.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Tape {
    /// Where it lies across its direction: 0 and 1 are the edges.
    pub at: f64,
    /// Length of the arc.
    #[serde(rename = "arc_mm")]
    pub arc: Length,
    /// Greatest gap under the straight edge; negative where the panel is hollow.
    #[serde(rename = "sag_mm")]
    pub sag: Length,
}

/// How the shape of a panel was taken.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Taken {
    /// By a scan.
    Scan {
        /// The file, kept like a picture by the digest of its bytes.
        mesh: PictureId,
        /// Its name as it came.
        name: String,
        /// Its unit: `mm`, `cm`, `m` or `inch`.
        unit: String,
        /// Whether it was turned inside out first.
        turned: bool,
    },
    /// By tape measures along and across.
    Tapes {
        /// Along the panel.
        along: Vec<Tape>,
        /// Across it.
        across: Vec<Tape>,
    },
}

impl Default for Taken {
    fn default() -> Self {
        Self::Tapes { along: Vec::new(), across: Vec::new() }
    }
}

/// The shape of a panel.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct PanelShape {
    /// The panel.
    pub panel: PanelId,
    /// How it was taken.
    pub taken: Taken,
    /// When it was taken in.
    pub at: Timestamp,
    /// By whom.
    pub by: String,
}

/// How the film of a panel is cut, chosen among what was computed.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct SeamChoice {
    /// The panel.
    pub panel: PanelId,
    /// The plan's name: `uncut`, or what it cuts.
    pub plan: String,
    /// Lines of the cuts on the panel, mm in the shape's own space.
    pub cuts_mm: Vec<Vec<[f64; 3]>>,
    /// Length of the cuts.
    #[serde(rename = "length_mm")]
    pub length: Length,
    /// Worst stretch as it was computed, percent.
    pub worst_percent: f64,
    /// What no uncut piece can beat, percent.
    pub bound_percent: f64,
    /// When it was chosen.
    pub at: Timestamp,
    /// By whom.
    pub by: String,
}
