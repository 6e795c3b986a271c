//! What is said about pictures: marks drawn over them, which of them belong together; and what was spoken.

use crate::{PanelId, PictureId, StepNo};
use jiff::Timestamp;
use serde::{Deserialize, Serialize};

/// Thousandths of the upright picture's width, counted from its left or upper edge. Down a tall picture there are more
/// than a thousand.
pub type Thousandths = u16;

/// A shape over a picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MarkShape {
    /// A ring around something.
    Ring {
        /// Center, across.
        x: Thousandths,
        /// Center, down.
        y: Thousandths,
        /// Radius.
        r: Thousandths,
    },
    /// An arrow to something.
    Arrow {
        /// Where it begins, across.
        x: Thousandths,
        /// Where it begins, down.
        y: Thousandths,
        /// Its point, across.
        to_x: Thousandths,
        /// Its point, down.
        to_y: Thousandths,
    },
}

/// A mark over a picture. The picture itself is never altered.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PictureMark {
    /// Its number on this picture, from 1; a number is never given twice.
    pub no: u32,
    /// Ring or arrow.
    pub shape: MarkShape,
    /// What it shows, in words.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub text: String,
    /// When it was drawn.
    pub at: Timestamp,
    /// By whom.
    #[serde(default)]
    pub by: String,
}

/// All marks of a picture.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct MarkedPicture {
    /// The picture.
    pub picture: PictureId,
    /// Height of the upright picture.
    pub tall: Thousandths,
    /// Marks that stand, in the order of their numbers.
    pub marks: Vec<PictureMark>,
    /// The highest number that was ever given.
    pub given: u32,
}

/// Two pictures of the same place, before and after the work.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct PicturePair {
    /// Before.
    pub before: PictureId,
    /// After.
    pub after: PictureId,
    /// The panel that both show, where it is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub panel: Option<PanelId>,
}

/// A note that was spoken. It is for the shop alone.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct VoiceNote {
    /// The recording, by the digest of its bytes.
    pub sound: PictureId,
    /// What it is about, in a line.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub text: String,
    /// The step during which it was spoken.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub step: Option<StepNo>,
    /// When.
    pub at: Timestamp,
    /// By whom.
    pub by: String,
}
