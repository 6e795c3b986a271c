//! Where everything lies, and the check before it is released.

use plane::Pose;
use serde::{Deserialize, Serialize};
use units::Length;

/// Where one copy of a piece lies.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Placement {
    /// Name of the piece.
    pub piece: String,
    /// Which copy, from 0.
    pub copy: u32,
    /// Name of the roll or offcut.
    pub container: String,
    /// Where it lies there.
    pub pose: Pose,
}

/// How much of a roll a layout takes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RollUse {
    /// Name of the roll.
    pub container: String,
    /// From the loose end to the cut across it, margin included.
    pub length: Length,
}

/// A verified layout.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Layout {
    /// Every piece, in the order of the instance.
    pub placements: Vec<Placement>,
    /// Every roll that is used.
    pub used: Vec<RollUse>,
    /// Area of the pieces over the area of the used rolls and offcuts.
    pub density: f64,
    /// Least distance between two pieces in one container; none where no container holds two.
    pub smallest_gap: Option<Length>,
}

/// What is wrong with a layout.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Flaw {
    /// A placement of something unknown.
    #[error("the layout places '{id}', which the job does not hold")]
    Unknown {
        /// The name.
        id: String,
    },
    /// Too few or too many of a piece.
    #[error("piece '{piece}' is needed {wanted} times and lies there {found} times")]
    Count {
        /// The piece.
        piece: String,
        /// As ordered.
        wanted: u32,
        /// As placed.
        found: u32,
    },
    /// A turn or mirroring that the film does not allow.
    #[error("piece '{piece}' is turned by {degrees:.3}°{}, which it does not allow", if *mirrored { " and mirrored" } else { "" })]
    Orientation {
        /// The piece.
        piece: String,
        /// Its turn.
        degrees: f64,
        /// Whether mirrored.
        mirrored: bool,
    },
    /// Over the edge.
    #[error("piece '{piece}' comes {by_mm:.4} mm too close to the edge of '{container}'")]
    Edge {
        /// The piece.
        piece: String,
        /// The roll or offcut.
        container: String,
        /// By how much, mm.
        by_mm: f64,
    },
    /// Two pieces too close.
    #[error("pieces '{one}' and '{other}' are {found_mm:.4} mm apart; the gap is {wanted_mm} mm")]
    Gap {
        /// One piece.
        one: String,
        /// The other.
        other: String,
        /// Distance, mm; negative where they overlap.
        found_mm: f64,
        /// As ordered, mm.
        wanted_mm: f64,
    },
    /// On a bad spot.
    #[error("piece '{piece}' comes within {found_mm:.4} mm of a bad spot of '{container}'")]
    BadSpot {
        /// The piece.
        piece: String,
        /// The roll or offcut.
        container: String,
        /// Distance, mm.
        found_mm: f64,
    },
    /// A lot torn apart.
    #[error("pieces of lot group '{group}' lie in '{one}' and in '{other}'")]
    Lot {
        /// The group.
        group: String,
        /// One container.
        one: String,
        /// The other.
        other: String,
    },
    /// A locked piece has moved.
    #[error("piece '{piece}' is locked and was moved")]
    Moved {
        /// The piece.
        piece: String,
    },
    /// A figure of the layout that is not so.
    #[error("the layout says {what} {said}; it is {found}")]
    Figure {
        /// Which figure.
        what: &'static str,
        /// As stated.
        said: String,
        /// As found.
        found: String,
    },
}
