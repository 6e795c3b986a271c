//! The five views of a body.

use serde::{Deserialize, Serialize};

/// From where a body is looked at. The plan is drawn with the nose to the left, the right side with the
/// nose to the right, both ends upright.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum View {
    /// The plan.
    Top,
    /// The left side.
    Left,
    /// The right side.
    Right,
    /// The nose.
    Front,
    /// The tail.
    Rear,
}

impl View {
    /// All five, in the order in which a sheet draws them.
    pub const ALL: [View; 5] = [View::Top, View::Left, View::Right, View::Front, View::Rear];

    /// The name in drawings and stored forms, such as `top`.
    pub fn name(self) -> &'static str {
        match self {
            View::Top => "top",
            View::Left => "left",
            View::Right => "right",
            View::Front => "front",
            View::Rear => "rear",
        }
    }

    /// The view of that [`name`](View::name); nothing if there is none.
    pub fn from_name(name: &str) -> Option<View> {
        View::ALL.into_iter().find(|v| v.name() == name)
    }
}
