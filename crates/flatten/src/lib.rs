#![doc = include_str!("../README.md")]
// From the scan to a clean disk: read, repair, region, tape measures. (scan half: `read/`, `repair`, `region`, `tape`)
// From the disk to the flat piece: start, solve, certificate, bound, cuts, check. (solver half: the rest)
// From the flat piece to the cut file: outline, allowances, notches, marks, heat map. (scan half: `outline`, `heat`)

pub mod heat;
pub mod outline;
pub mod read;
pub mod region;
pub mod repair;
pub mod tape;

mod certificate;
mod disk;
mod energy;
mod flattening;
mod mesh;
mod newton;
mod rest;
mod sparse;
mod start;
mod topology;
mod verify;

pub use disk::{Disk, NotADisk};
pub use flattening::{Flattening, Note, Options, Refusal, Stage, flatten};
pub use mesh::{Mesh, MeshFlaw};
pub use topology::Topology;
pub use verify::Flaw;
