//! The search for dense layouts: rectangles with obstacles, filled by overlap-weighted guided local search.
//!
//! Method: Gardeyn, Vanden Berghe and Wauters, *An open-source heuristic to reboot 2D nesting research*
//! (arXiv 2509.13329), with pairwise tests of its own on positions in f64.

pub(crate) mod board;
pub(crate) mod circles;
pub(crate) mod descent;
pub(crate) mod fill;
pub(crate) mod form;
pub(crate) mod separate;
pub(crate) mod shape;
pub(crate) mod start;
pub(crate) mod strip;
