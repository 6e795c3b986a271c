//! Outlines from DXF, in millimeters.

mod chain;
mod entity;
mod spline;

use crate::svg::NamedOutline;
use crate::{OutlineFlaw, Point};
use units::Length;

/// The finest tolerance that is honored, mm.
const FINEST: f64 = 1e-4;
/// Most drawn elements in one file.
const MOST_ENTITIES: usize = 200_000;

/// Why a file gave no outlines.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum DxfFlaw {
    /// Not DXF at all.
    #[error("line {line}: this is no DXF text file ({what}): export the shapes as ASCII DXF")]
    NotDxf {
        /// Where, from 1.
        line: u32,
        /// What was found.
        what: String,
    },
    /// Elements that are no outlines; all of them.
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
    Entities(Vec<EntityFlaw>),
    /// Nothing to read.
    #[error(
        "the file holds no closed shape: draw the pieces as closed polylines, circles, ellipses, splines, or lines and arcs that meet"
    )]
    Empty,
}

/// What is wrong with one element.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{kind} on layer '{layer}' (line {line}): {problem}")]
pub struct EntityFlaw {
    /// Such as POLYLINE.
    pub kind: String,
    /// Its layer.
    pub layer: String,
    /// Where it begins in the file, from 1.
    pub line: u32,
    /// What is wrong and what to do.
    pub problem: EntityProblem,
}

/// What can be wrong with an element.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum EntityProblem {
    /// The ring is no outline.
    #[error("{0}")]
    Outline(#[from] OutlineFlaw),
    /// Numbers that make no shape.
    #[error("{0}")]
    Shape(&'static str),
}

/// Reads all closed shapes: polylines with bulges, circles, arcs, ellipses, splines, and lines that meet end to end
/// on one layer; curves are flattened to within `tolerance`. Units are those of the header (inches, feet, millimeters,
/// centimeters, meters), millimeters where it names none. y is turned over: the sheet's y runs down. Passed over are texts,
/// dimensions, and the layers `marks` and `labels`. A shape inside another on the same layer is a cut in it.
///
/// # Errors
/// When the file is no DXF, or a shape is no outline: all of them are named.
pub fn read_outlines(text: &str, tolerance: Length) -> Result<Vec<NamedOutline>, DxfFlaw> {
    let drawn = entity::read(text, tolerance.as_mm().max(FINEST))?;
    chain::outlines(drawn)
}

/// What one element draws, mm, y down.
struct Drawn {
    kind: String,
    layer: String,
    line: u32,
    points: Vec<Point>,
    closed: bool,
}

impl Drawn {
    fn flaw(&self, problem: EntityProblem) -> EntityFlaw {
        EntityFlaw { kind: self.kind.clone(), layer: self.layer.clone(), line: self.line, problem }
    }
}
