//! What may still be taken: the clear coat's budget over the car's life.

use serde::{Deserialize, Serialize};
use units::Thickness;

/// What was taken from a panel before this job.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum History {
    /// Booked in the car's ledger.
    Known {
        /// Clear coat taken so far, all jobs together.
        removed: Thickness,
    },
    /// Nobody knows: a wider prior, not zero.
    Unknown,
}

/// What limits the removable thickness.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LimitedBy {
    /// The floor: lower bound of the least clear coat minus the floor.
    Floor,
    /// The lifetime allowance minus what was already taken.
    Allowance,
    /// Matte finish: nothing may be machine polished.
    Matte,
}

/// What may still be taken from a panel.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Removable {
    /// The thickness, never below zero.
    pub amount: Thickness,
    /// What limits it.
    pub limited_by: LimitedBy,
    /// Lower bound minus floor; negative when the panel may already be below the floor.
    pub above_floor: Thickness,
    /// Allowance minus what was taken; negative when overdrawn.
    pub allowance_left: Thickness,
}

/// `min(lower bound − floor, allowance − taken)`, and which of the two it is.
pub fn removable(
    lower_bound: Thickness,
    floor: Thickness,
    allowance: Thickness,
    taken: Thickness,
) -> Removable {
    let (above_floor, allowance_left) = (lower_bound - floor, allowance - taken);
    let (least, limited_by) = if above_floor < allowance_left {
        (above_floor, LimitedBy::Floor)
    } else {
        (allowance_left, LimitedBy::Allowance)
    };
    Removable { amount: least.max(Thickness::ZERO), limited_by, above_floor, allowance_left }
}
