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
}
