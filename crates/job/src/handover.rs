//! Handover, visits and claims.

use crate::{PanelId, PictureId, Signature};
use jiff::{Timestamp, civil::Date};
use serde::{Deserialize, Serialize};

/// The car given back.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Handover {
    /// When.
    pub at: Timestamp,
    /// By whom.
    pub by: String,
    /// The customer's name under it.
    pub signed: Option<Signature>,
    /// What was checked, in words.
    pub checked: Vec<String>,
    /// Pictures after the work.
    pub pictures: Vec<PictureId>,
    /// Anything else.
    pub note: String,
}

/// Where a visit stands.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum VisitState {
    /// To come.
    #[default]
    Due,
    /// Happened; what was seen.
    Done(String),
    /// Will not be; why.
    Cancelled(String),
}

/// A visit after the handover.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Visit {
    /// What for.
    pub what: String,
    /// From this day on.
    pub due: Date,
    /// Where it stands.
    pub state: VisitState,
}

/// What failed, by its look.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ClaimKind {
    /// A stone went into or through it.
    Chip,
    /// A scratch in it.
    Scratch,
    /// Torn or cut.
    Tear,
    /// An edge or a seam comes up.
    Lift,
    /// Air, water or dust under it.
    Bubble,
    /// A stain that does not wash off.
    Stain,
    /// Dull, hazy or yellow.
    Haze,
    /// A coating that sheds no water any more.
    Worn,
    /// Anything else.
    #[default]
    Other,
}

impl ClaimKind {
    /// All, in the order of the form.
    pub const ALL: [Self; 9] = [
        Self::Chip,
        Self::Scratch,
        Self::Tear,
        Self::Lift,
        Self::Bubble,
        Self::Stain,
        Self::Haze,
        Self::Worn,
        Self::Other,
    ];

    /// In words.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Chip => "Chip",
            Self::Scratch => "Scratch",
            Self::Tear => "Tear or cut",
            Self::Lift => "Edge or seam lifts",
            Self::Bubble => "Bubble or speck under it",
            Self::Stain => "Stain",
            Self::Haze => "Dull or yellow",
            Self::Worn => "Coating worn",
            Self::Other => "Something else",
        }
    }
}

/// What the shop said to a claim.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct ClaimAnswer {
    /// When.
    pub at: Timestamp,
    /// Who.
    pub by: String,
    /// What will be done, or why nothing.
    pub text: String,
}

/// Something that failed after the handover.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Claim {
    /// The panel.
    pub panel: PanelId,
    /// The piece of film, if one is meant.
    pub piece: Option<String>,
    /// What failed.
    pub what: String,
    /// Why, as far as it is known.
    pub why: String,
    /// When it was seen.
    pub at: Timestamp,
    /// Pictures.
    pub pictures: Vec<PictureId>,
    /// What kind of failure, if it was said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub kind: Option<ClaimKind>,
    /// Where on the panel: across and down its main view, 0 to 1 each; none for the piece as a whole.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spot: Option<[f64; 2]>,
    /// Since when the customer has seen it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub since: Option<Date>,
    /// What the shop said to it; none while it waits.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub answer: Option<ClaimAnswer>,
}
