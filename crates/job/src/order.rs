//! What the customer wants.

use crate::PanelId;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// Which panels get clear film.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Coverage {
    /// No film.
    #[default]
    None,
    /// Nose: bumper, hood, fenders, mirrors, lamps.
    Front,
    /// Nose, doors, sills and behind the wheels.
    FrontAndSides,
    /// Every painted panel.
    Whole,
    /// Just these.
    Panels(Vec<PanelId>),
}

/// How far correction goes, budget permitting.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Finish {
    /// Clean paint, no machine.
    #[default]
    Clean,
    /// One fine pass: gloss up, fine swirls gone.
    Gloss,
    /// Swirls and light scratches gone.
    Corrected,
    /// As far as the clear coat allows.
    Best,
}

impl Finish {
    /// In words.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Clean => "clean, no machine",
            Self::Gloss => "one fine pass",
            Self::Corrected => "swirls and light scratches gone",
            Self::Best => "as far as the clear coat allows",
        }
    }
}

/// What can be coated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CoatTarget {
    /// Bare paint.
    Paint,
    /// Film.
    Film,
    /// Wheels.
    Wheels,
    /// Glass.
    Glass,
    /// Leather.
    Leather,
    /// Fabric and carpets.
    Fabric,
}

impl CoatTarget {
    /// All, in the order in which they are offered.
    pub const ALL: [Self; 6] =
        [Self::Paint, Self::Film, Self::Wheels, Self::Glass, Self::Leather, Self::Fabric];

    /// In a word.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Paint => "paint",
            Self::Film => "film",
            Self::Wheels => "wheels",
            Self::Glass => "glass",
            Self::Leather => "leather",
            Self::Fabric => "fabric",
        }
    }
}

/// The customer's order: a scope of work.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Order {
    /// Film.
    pub film: Coverage,
    /// Correction.
    pub finish: Finish,
    /// Coatings.
    pub coatings: BTreeSet<CoatTarget>,
    /// Old film to take off first.
    pub remove_film: Vec<PanelId>,
    /// Interior cleaning.
    pub interior: bool,
    /// In the customer's words.
    pub note: String,
}
