//! What to mind about a panel, in plain words and with a hint.

use serde::{Deserialize, Serialize};

/// Something to mind about a panel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Flag {
    /// The least clear coat may be below the floor.
    Thin,
    /// Probably painted again.
    Refinished,
    /// Probably filled.
    Filled,
    /// Probably thinned by earlier correction.
    Thinned,
    /// Thickness varies more than one coat of paint does.
    Uneven,
    /// Plastic or composite: no gauge reading, the estimate is the prior alone.
    NoReadingPossible,
    /// Readings were handed in for a substrate that the gauge cannot read; they were left out.
    ReadingsOnUnreadable,
    /// No readings though they could be taken.
    NoReadings,
    /// Too few readings for a bound.
    TooFewReadings,
    /// Some readings do not go with the rest.
    Outliers,
    /// Readings without place: no map.
    NoPlaces,
    /// Matte or satin finish.
    Matte,
    /// Single-stage paint.
    SingleStage,
    /// Earlier correction unknown.
    UnknownHistory,
    /// The lifetime allowance is used up.
    AllowanceSpent,
}

impl Flag {
    /// What it is, in plain words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Thin => "The thinnest place may have less clear coat than the floor.",
            Self::Refinished => "This panel has probably been painted again.",
            Self::Filled => "This panel probably has filler under the paint.",
            Self::Thinned => "Earlier correction has probably thinned the clear coat.",
            Self::Uneven => "Thickness varies over the panel more than one coat of paint does.",
            Self::NoReadingPossible => {
                "Plastic or composite: the gauge cannot read it. The clear coat shown is a guess from other cars, not a measurement."
            }
            Self::ReadingsOnUnreadable => {
                "Readings were given for plastic or composite; they mean nothing and were left out."
            }
            Self::NoReadings => "No readings: the clear coat shown is a guess from other cars.",
            Self::TooFewReadings => "Too few readings for a bound on this panel.",
            Self::Outliers => "Some readings do not go with the others.",
            Self::NoPlaces => "The readings do not say where they were taken: no map can be drawn.",
            Self::Matte => "Matte or satin finish: machine polishing would make it glossy for good.",
            Self::SingleStage => "Single-stage paint: correction takes color, and the pad shows it.",
            Self::UnknownHistory => "Nobody knows what was taken before: the estimate is wider for it.",
            Self::AllowanceSpent => "The lifetime allowance of this panel is used up.",
        }
    }

    /// What to do about it.
    pub fn hint(self) -> &'static str {
        match self {
            Self::Thin => {
                "Do not machine polish; protect it. A layered (ultrasonic) reading would tell more."
            }
            Self::Refinished => {
                "Ask about repairs, look for edges of masking, do a test spot before anything else."
            }
            Self::Filled => "No heat, no heavy cutting; tell the customer before work starts.",
            Self::Thinned => "Take the mildest method only, after a test spot, or leave it.",
            Self::Uneven => "Take more readings, closer together, above all where it is thinnest.",
            Self::NoReadingPossible => {
                "Use the mildest method only, or have it read with an ultrasonic gauge."
            }
            Self::ReadingsOnUnreadable => "Check the substrate of this panel with a magnet.",
            Self::NoReadings => "Take at least five readings spread over the panel.",
            Self::TooFewReadings => "Take at least five readings spread over the panel.",
            Self::Outliers => "Clean the spot and the probe and read it again; a true one means a repair.",
            Self::NoPlaces => "Note where each reading is taken.",
            Self::Matte => "Clean and protect only; deep marks mean painting again.",
            Self::SingleStage => "Test spot first, finest method first, expect color on the pad.",
            Self::UnknownHistory => "Ask the owner; book what is taken from now on.",
            Self::AllowanceSpent => "Leave it, or let the owner decide in writing after reading the risk.",
        }
    }
}
