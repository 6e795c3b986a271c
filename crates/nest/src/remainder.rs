//! What is left over and worth keeping.

use crate::{Instance, Layout};
use plane::Outline;
use serde::{Deserialize, Serialize};
use units::Length;

/// The shop's rule for remainders worth keeping.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct RemainderRule {
    /// The shorter side at least.
    pub short_side: Length,
    /// The longer side at least.
    pub long_side: Length,
}

/// An empty rectangle in the used part of a roll, or in a used offcut.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Remainder {
    /// The roll or offcut it comes from.
    pub container: String,
    /// Where it lies there.
    pub outline: Outline,
    /// Its side along x.
    pub length: Length,
    /// Its side along y.
    pub width: Length,
}

/// Empty rectangles worth keeping, largest first, apart from each other and from all pieces by the gap.
pub fn remainders(instance: &Instance, layout: &Layout, rule: &RemainderRule) -> Vec<Remainder> {
    let _ = (instance, layout, rule);
    Vec::new()
}
