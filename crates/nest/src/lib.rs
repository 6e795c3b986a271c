#![doc = include_str!("../README.md")]

mod check;
mod cut;
mod hand;
mod instance;
mod layout;
mod remainder;
mod search;
mod solve;
mod strip_json;
mod verify;
mod work;

pub use cut::{CutSettings, PieceDetail, cut_sheet};
pub use hand::place_near;
pub use instance::{Config, Container, ContainerKind, Instance, InstanceFlaw, Piece, Rotations};
pub use layout::{Flaw, Layout, Placement, RollUse};
pub use remainder::{Remainder, RemainderRule, remainders};
pub use solve::{Outcome, Reason, nest};
pub use strip_json::{STRIP, StripJsonFlaw, read_strip_json};
