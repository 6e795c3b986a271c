//! What was found on the car.

use crate::{FindingNo, PictureId, Place, Stage};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};
use units::{Length, Thickness};

/// What kind of thing was found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum FindingKind {
    /// Glue from labels or transport covers.
    Adhesive,
    /// Tar or bitumen.
    Tar,
    /// Grit that stays after washing.
    BondedGrit,
    /// Rust specks, rail dust, brake dust.
    Iron,
    /// Fine wash or polishing swirls.
    Swirls,
    /// A single scratch.
    Scratch,
    /// Marks of sanding, from a factory or repair.
    SandingMarks,
    /// Etched by water, birds or sap.
    Etching,
    /// Stone chip.
    Chip,
    /// Dent.
    Dent,
    /// Painted again after leaving the factory.
    Refinished,
    /// Overspray or paint dust.
    Overspray,
    /// Film that is already on the panel.
    OldFilm,
    /// Film that is torn, burnt or stained.
    FilmDamage,
    /// Film that lifts at an edge.
    FilmLift,
    /// Crack or pit in glass.
    Glass,
    /// Scuffed wheel.
    Wheel,
    /// Worn or stained leather.
    Leather,
    /// Stained fabric.
    Fabric,
    /// Anything else.
    #[default]
    Other,
}

impl FindingKind {
    /// All kinds, in the order in which they are offered.
    pub const ALL: [Self; 20] = [
        Self::Adhesive,
        Self::Tar,
        Self::BondedGrit,
        Self::Iron,
        Self::Swirls,
        Self::Scratch,
        Self::SandingMarks,
        Self::Etching,
        Self::Chip,
        Self::Dent,
        Self::Refinished,
        Self::Overspray,
        Self::OldFilm,
        Self::FilmDamage,
        Self::FilmLift,
        Self::Glass,
        Self::Wheel,
        Self::Leather,
        Self::Fabric,
        Self::Other,
    ];

    /// In words.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Adhesive => "Adhesive",
            Self::Tar => "Tar",
            Self::BondedGrit => "Bonded grit",
            Self::Iron => "Rust specks",
            Self::Swirls => "Swirls",
            Self::Scratch => "Scratch",
            Self::SandingMarks => "Sanding marks",
            Self::Etching => "Etching",
            Self::Chip => "Stone chip",
            Self::Dent => "Dent",
            Self::Refinished => "Refinished",
            Self::Overspray => "Overspray",
            Self::OldFilm => "Old film",
            Self::FilmDamage => "Damaged film",
            Self::FilmLift => "Lifting film",
            Self::Glass => "Glass damage",
            Self::Wheel => "Wheel damage",
            Self::Leather => "Leather",
            Self::Fabric => "Fabric",
            Self::Other => "Other",
        }
    }

    /// A mark in the paint that correction may reduce.
    pub const fn is_mark(self) -> bool {
        matches!(self, Self::Swirls | Self::Scratch | Self::SandingMarks | Self::Etching)
    }
}

/// How bad; drawn by the density of a hatch.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// Polish or wash.
    #[default]
    Light,
    /// Reduce, or cover.
    Marked,
    /// Not worked on without consent.
    Deep,
}

impl Severity {
    /// In a word.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Light => "light",
            Self::Marked => "marked",
            Self::Deep => "deep",
        }
    }
}

/// Something found, with its place and its proof.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Finding {
    /// Its number on the drawing; 0 until it is recorded.
    #[serde(default)]
    pub no: FindingNo,
    /// What it is.
    pub kind: FindingKind,
    /// How bad.
    #[serde(default)]
    pub severity: Severity,
    /// Where.
    #[serde(flatten)]
    pub place: Place,
    /// Whether it lies on an edge or a body line, where the coat is thinner than beside it.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub edge: bool,
    /// Length or width of it.
    #[serde(default, rename = "size_mm", skip_serializing_if = "Option::is_none")]
    pub size: Option<Length>,
    /// Depth, when it was measured.
    #[serde(default, rename = "depth_um", skip_serializing_if = "Option::is_none")]
    pub depth: Option<Thickness>,
    /// How many of them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub count: Option<u32>,
    /// In words.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// Pictures of it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub pictures: Vec<PictureId>,
    /// At which stage of the job it was found.
    #[serde(default)]
    pub found: Stage,
    /// When.
    #[serde(default)]
    pub at: Timestamp,
    /// By whom.
    #[serde(default)]
    pub by: String,
    /// Why it was taken back, if it was. A finding is never erased.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub withdrawn: Option<String>,
}

impl Finding {
    /// A finding with only its kind, severity and place.
    pub fn new(kind: FindingKind, severity: Severity, place: Place) -> Self {
        Self {
            no: FindingNo(0),
            kind,
            severity,
            place,
            edge: false,
            size: None,
            depth: None,
            count: None,
            note: String::new(),
            pictures: Vec::new(),
            found: Stage::Arrival,
            at: Timestamp::UNIX_EPOCH,
            by: String::new(),
            withdrawn: None,
        }
    }

    /// Whether it counts.
    pub fn stands(&self) -> bool {
        self.withdrawn.is_none()
    }
}
