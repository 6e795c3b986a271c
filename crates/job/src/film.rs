//! Pieces of film: planned, cut, laid.

use crate::{Offcut, PanelId};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use units::{Area, Length};

/// A flat piece of film.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Piece {
    /// Short name, unique in the job.
    pub id: String,
    /// The panel it covers.
    pub panel: PanelId,
    /// Corners in millimeters, in order; the last joins the first.
    pub outline_mm: Vec<[f64; 2]>,
    /// How many of it.
    pub count: u32,
    /// Whether it was only drawn from the body drawing: good for planning film, not for cutting.
    pub planning_only: bool,
    /// Where the outline came from.
    pub origin: String,
    /// Cuts inside it, such as sensors and relief cuts: corners in millimeters, each ring closed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub inner_mm: Vec<Vec<[f64; 2]>>,
    /// Alignment marks, from and to in millimeters.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub marks_mm: Vec<[[f64; 2]; 2]>,
}

/// Where one copy of a piece lies on a roll or offcut. A placement mirrors x to −x first if `mirrored`, then turns
/// about the outline's own origin, then shifts; x runs along the roll.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct CutPlacement {
    /// The piece.
    pub piece: String,
    /// Which copy of it, from 0.
    pub copy: u32,
    /// The roll or offcut.
    pub container: String,
    /// Shift along the roll, mm.
    pub x_mm: f64,
    /// Shift across the roll, mm.
    pub y_mm: f64,
    /// Turn, degrees counter-clockwise.
    pub degrees: f64,
    /// Mirrored first.
    pub mirrored: bool,
}

/// Where a cut plan stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CutState {
    /// Accepted: film is reserved.
    #[default]
    Reserved,
    /// Cut: the film is gone from the roll.
    Cut,
    /// Undone before cutting.
    Undone,
}

/// Pieces laid out on rolls and offcuts.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct CutPlan {
    /// When it was accepted.
    pub at: Timestamp,
    /// The roll.
    pub roll: String,
    /// Its lot.
    pub lot: String,
    /// Roll width.
    #[serde(rename = "roll_width_mm")]
    pub roll_width: Length,
    /// Length taken from the roll.
    #[serde(rename = "length_mm")]
    pub length: Length,
    /// Area of the pieces.
    #[serde(rename = "pieces_m2")]
    pub pieces_area: Area,
    /// Placements.
    pub placements: Vec<CutPlacement>,
    /// Where it stands.
    pub state: CutState,
    /// The offcuts that it cuts from, as they were.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub offcuts: Vec<Offcut>,
}

/// Which pieces must come from one batch: from one roll or one offcut, since batches differ a little in tint and gloss.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum OneLot {
    /// None must.
    #[default]
    No,
    /// Those of the left side, and those of the right side.
    Sides,
    /// All.
    All,
}

/// How the pieces of an order are to be laid out, and where somebody put them.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct LayoutWish {
    /// Whether the offcuts stay on the shelf.
    pub no_offcuts: bool,
    /// What must come from one batch.
    pub one_lot: OneLot,
    /// The roll to cut from; the oldest that holds everything when there is none here.
    pub roll: Option<String>,
    /// Where everything lies, once a longer search or a hand has put it there; empty: as the program lays it out.
    pub placements: Vec<CutPlacement>,
    /// Those that stay when the rest is laid out again: piece and copy.
    pub locked: Vec<(String, u32)>,
}

/// A piece on the car.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct LaidPiece {
    /// The piece.
    pub piece: String,
    /// The panel.
    pub panel: PanelId,
    /// Roll it was cut from.
    pub roll: String,
    /// Batch of that roll.
    pub lot: String,
    /// When it was laid.
    pub at: Timestamp,
    /// By whom.
    pub by: String,
}
