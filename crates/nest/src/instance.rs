//! What is to be cut, and from what.

use crate::Placement;
use plane::Outline;
use serde::{Deserialize, Serialize};
use units::{Length, Seed};

/// How a piece may be turned.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Rotations {
    /// By any angle: plain film.
    Free,
    /// By one of these angles in degrees: `[0, 180]` for film with a direction, `[0]` for one way only.
    Steps(Vec<f64>),
}

/// A shape to be cut, so many times.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Piece {
    /// Name, unique in the instance.
    pub id: String,
    /// Shape, mm.
    pub outline: Outline,
    /// How often it is needed.
    pub count: u32,
    /// How it may be turned.
    pub rotations: Rotations,
    /// Whether its mirror image will do.
    #[serde(default)]
    pub mirrorable: bool,
    /// Pieces with the same name here come from one lot: from one container.
    #[serde(default)]
    pub together: Option<String>,
    /// Pieces of higher priority are kept when not everything fits.
    #[serde(default)]
    pub priority: u32,
}

/// What pieces are cut from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Container {
    /// Name, unique in the instance.
    pub id: String,
    /// Roll or offcut.
    pub kind: ContainerKind,
}

/// A roll, or an offcut of any shape.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ContainerKind {
    /// x runs along the roll from its loose end, y across it from 0 to `width`.
    Roll {
        /// Across.
        width: Length,
        /// How much is left on it.
        length_left: Length,
        /// Kept free along its edges and at the loose end.
        margin: Length,
        /// Places to keep off.
        #[serde(default)]
        bad_spots: Vec<Outline>,
    },
    /// A remainder of earlier work.
    Offcut {
        /// Shape, mm.
        outline: Outline,
        /// Places to keep off.
        #[serde(default)]
        bad_spots: Vec<Outline>,
        /// Kept free along its edge.
        margin: Length,
        /// What it is worth to the shop: the least valuable that serve are used first.
        value: f64,
    },
}

/// A nesting job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Instance {
    /// What is to be cut.
    pub pieces: Vec<Piece>,
    /// What it is cut from: offcuts are filled first, then the rolls in the order given.
    pub containers: Vec<Container>,
    /// Kept free between pieces, and between pieces and bad spots.
    pub gap: Length,
    /// Pieces that lie where they lie: already cut, or fixed by hand.
    #[serde(default)]
    pub locked: Vec<Placement>,
}

/// How the search runs, apart from its effort.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Config {
    /// Start of the random sequence.
    pub seed: Seed,
    /// Poses to begin with, such as yesterday's nest; they may be moved.
    #[serde(default)]
    pub start: Vec<Placement>,
    /// Searches side by side, each on a thread and from a seed of its own, each with the whole effort; the best layout
    /// is kept. 0 is 1.
    #[serde(default)]
    pub threads: u8,
}

/// Why an instance makes no sense, and what to do.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum InstanceFlaw {
    /// Nothing to cut.
    #[error("there are no pieces to nest: add an outline, or a count above 0")]
    NoPieces,
    /// Nothing to cut from.
    #[error("there is no film to cut from: add a roll or an offcut")]
    NoContainers,
    /// Two of the same name.
    #[error("the name '{id}' is used twice: give each piece and each roll a name of its own")]
    Twice {
        /// The name.
        id: String,
    },
    /// A size that is no size.
    #[error("{what} of '{of}' is {found}: it must be {wanted}")]
    Size {
        /// Which size.
        what: &'static str,
        /// Of what.
        of: String,
        /// As given.
        found: String,
        /// What it must be.
        wanted: &'static str,
    },
    /// A locked or starting placement of something that is not there.
    #[error(
        "the placement of '{id}' names a piece, copy or roll that is not in the job: remove it or add what it names"
    )]
    Unknown {
        /// The name.
        id: String,
    },
}
