#![doc = include_str!("../README.md")]

pub mod curve;
pub mod drawing;
pub mod dxf;
pub mod repair;
pub mod svg;

mod flatten;
mod offset;
mod outline;
mod point;
mod pose;
mod simple;
mod simplify;

pub use outline::{Outline, OutlineFlaw};
pub use point::{Bounds, Point};
pub use pose::Pose;
pub use repair::{Repair, repair};
