#![doc = include_str!("../README.md")]
#![allow(clippy::needless_range_loop, reason = "corners and axes go by their number")]
// From the scan to a clean disk: read, repair, region, tape measures. (scan half: `read/`, `repair`, `region`, `tape`)
// From the disk to the flat piece: start, solve, certificate, bound, cuts, check. (solver half: the rest)
// From the flat piece to the cut file: outline, allowances, notches, marks, heat map. (scan half: `outline`, `heat`)

pub mod heat;
pub mod outline;
pub mod read;
pub mod region;
pub mod repair;
pub mod tape;

mod bound;
mod certificate;
mod clean;
mod cut;
mod disk;
mod energy;
mod film;
mod flattening;
mod locate;
mod mesh;
mod newton;
mod parted;
mod relief;
mod rest;
mod retile;
mod sparse;
mod start;
mod tile;
mod topology;
mod verify;

pub use cut::{Cut, CutFlaw};
pub use disk::{Disk, NotADisk};
pub use flattening::{
    Drawn, Flattening, Note, Options, Parted, Refusal, Relieved, Stage, flatten, flatten_drawn,
    flatten_parted, flatten_pieces, relief_cuts, relieve,
};
pub use mesh::{Mesh, MeshFlaw};
pub use relief::{CutPlan, Zone, ZonePart, ZoneRule};
pub use topology::Topology;
pub use verify::Flaw;
