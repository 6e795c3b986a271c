#![doc = include_str!("../README.md")]

mod instance;
mod layout;
mod remainder;
mod solve;

pub use instance::{Config, Container, ContainerKind, Instance, InstanceFlaw, Piece, Rotations};
pub use layout::{Flaw, Layout, Placement, RollUse};
pub use remainder::{Remainder, RemainderRule, remainders};
pub use solve::{Outcome, Reason, nest};
