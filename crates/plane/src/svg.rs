//! Outlines from and to SVG, in millimeters.

mod path;
pub(crate) mod read;
pub(crate) mod write;

pub use write::{escaped, open_tag, path_data};

use crate::{Outline, OutlineFlaw, Repair};
use units::Length;

/// The finest tolerance that is honored.
const FINEST: f64 = 1e-4;

/// An outline read from a file.
#[derive(Clone, Debug, PartialEq)]
pub struct NamedOutline {
    /// The id of its element, or `line N` where it has none.
    pub name: String,
    /// Line of its element in the file, from 1.
    pub line: u32,
    /// The outer ring.
    pub outline: Outline,
    /// Cuts inside it.
    pub inner: Vec<Outline>,
    /// What was mended while reading.
    pub repairs: Vec<Repair>,
}

/// Why a file gave no outlines.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SvgFlaw {
    /// Not SVG at all.
    #[error("line {line}: this is no SVG file ({what}): export the shapes as plain SVG")]
    NotSvg {
        /// Where, from 1.
        line: u32,
        /// What was found.
        what: String,
    },
    /// Elements that are no outlines; all of them, so that they can be mended at once.
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
    Elements(Vec<ElementFlaw>),
    /// Nothing to read.
    #[error(
        "the file holds no closed shape: draw the pieces as closed paths, rectangles, circles, ellipses or polygons"
    )]
    Empty,
}

/// What is wrong with one element.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("'{name}' (line {line}): {flaw}")]
pub struct ElementFlaw {
    /// Its id, or `line N`.
    pub name: String,
    /// Its line in the file, from 1.
    pub line: u32,
    /// What is wrong and what to do.
    pub flaw: ElementProblem,
}

/// What can be wrong with an element.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ElementProblem {
    /// The ring is no outline.
    #[error("{0}")]
    Outline(#[from] OutlineFlaw),
    /// An attribute that cannot be read.
    #[error("attribute {attribute}=\"{value}\" cannot be read: {remedy}")]
    Attribute {
        /// Its name.
        attribute: String,
        /// As written, shortened.
        value: String,
        /// What to do.
        remedy: &'static str,
    },
    /// More shapes than anybody cuts.
    #[error("the file holds more than {most} shapes: split it")]
    TooMany {
        /// How many are read at the most.
        most: usize,
    },
}

impl ElementProblem {
    fn unreadable(attribute: &str, value: &str, remedy: &'static str) -> Self {
        let short: String = value.chars().take(60).collect();
        let value = if short.len() < value.len() { format!("{short}…") } else { short };
        Self::Attribute { attribute: attribute.to_owned(), value, remedy }
    }
}

/// Reads all closed shapes of an SVG file; curves are flattened to within `tolerance`.
///
/// Read are paths, rectangles, circles, ellipses, polygons and polylines, through all groups, transforms
/// and `use`, at the size that width, height and view box state (96 px are one inch). Passed over are
/// hidden elements, definitions, texts, pictures, and groups named `marks` or `labels`. Cuts inside a shape are
/// further rings of the same path.
///
/// # Errors
/// When the file is no SVG, or any of its shapes is no outline: all of them are named.
pub fn read_outlines(text: &str, tolerance: Length) -> Result<Vec<NamedOutline>, SvgFlaw> {
    read::read(text, tolerance.as_mm().max(FINEST))
}

/// Writes outlines as an SVG file in millimeters: one closed path each, named.
pub fn write_outlines<'a>(outlines: impl IntoIterator<Item = (&'a str, &'a Outline)>) -> String {
    write::write(outlines)
}
