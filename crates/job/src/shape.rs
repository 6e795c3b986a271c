//! The shape of a panel as it was taken, and how its film is cut.

use crate::{PanelId, PictureId};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use units::{Area, Length};

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
    /// The part of the length that is in sight, where zones tell it from the whole.
    #[serde(rename = "in_sight_mm", skip_serializing_if = "Option::is_none")]
    pub in_sight: Option<Length>,
    /// Whether the panel on the other side gets the mirrored pieces.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub both_sides: bool,
}

/// A way to cut the film of a panel that was computed: what it shows and what it gains.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct SeamPlanFound {
    /// Its name, unique for the panel: `uncut`, `parted`, or `cuts_` or `drawn_` with a number.
    pub name: String,
    /// Lines of the cuts on the panel, mm in the shape's own space; none for the uncut panel.
    pub cuts_mm: Vec<Vec<[f64; 3]>>,
    /// Length of the cuts.
    #[serde(rename = "length_mm")]
    pub length: Length,
    /// The part of it in sight.
    #[serde(rename = "in_sight_mm")]
    pub in_sight: Length,
    /// Worst stretch of all pieces laid flat, percent.
    pub worst_percent: f64,
    /// Areas of the pieces, without allowances.
    #[serde(rename = "pieces_m2")]
    pub areas: Vec<Area>,
}

/// What holds for cuts in a zone of a panel.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ZoneRule {
    /// No cut: the eye line, a badge.
    #[default]
    Forbidden,
    /// Nobody sees a cut there.
    OutOfSight,
}

/// A zone of a panel where cuts are not free.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct CutZone {
    /// What it is, such as `badge`.
    pub name: String,
    /// A loop of places on the panel, mm in the shape's own space.
    pub ring_mm: Vec<[f64; 3]>,
    /// What holds there.
    pub rule: ZoneRule,
}

/// Cuts of a panel: zones where they are not free, and plans that were computed.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct PanelCuts {
    /// The panel.
    pub panel: PanelId,
    /// Zones, which hold for every later search.
    pub zones: Vec<CutZone>,
    /// Plans that were computed since zones changed last, the uncut panel first.
    pub plans: Vec<SeamPlanFound>,
}
