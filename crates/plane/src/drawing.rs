//! A sheet to be cut or plotted: strokes and labels in layers, written as SVG, DXF or HPGL.

mod dxf;
mod hpgl;
mod svg;

use crate::{Bounds, Point};
use serde::{Deserialize, Serialize};
use units::Length;

/// What a stroke is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Layer {
    /// The knife goes through the film.
    Cut,
    /// Alignment marks.
    Marks,
    /// Labels and other writing.
    Labels,
}

impl Layer {
    /// All of them, in the order they are done.
    pub const ALL: [Self; 3] = [Self::Labels, Self::Marks, Self::Cut];

    /// Its name in files.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Cut => "cut",
            Self::Marks => "marks",
            Self::Labels => "labels",
        }
    }

    /// The pen or tool that does it: 1 cuts, 2 marks, 3 writes.
    pub const fn pen(self) -> u8 {
        match self {
            Self::Cut => 1,
            Self::Marks => 2,
            Self::Labels => 3,
        }
    }
}

/// A run of straight lines.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Stroke {
    /// What it is for.
    pub layer: Layer,
    /// Whose it is.
    pub name: String,
    /// Where it runs, mm.
    pub points: Vec<Point>,
    /// Whether the last point joins the first.
    pub closed: bool,
}

/// A line of writing, on the layer of labels.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Label {
    /// Middle of the text, mm.
    pub at: Point,
    /// Height of capitals.
    pub height: Length,
    /// What it says.
    pub text: String,
}

/// A sheet: strokes in the order they are done.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Drawing {
    /// The sheet's edges, mm.
    pub window: Bounds,
    /// In the order they are done.
    pub strokes: Vec<Stroke>,
    /// Writing.
    pub labels: Vec<Label>,
}

impl Drawing {
    /// SVG in millimeters, one group per layer.
    pub fn to_svg(&self) -> String {
        svg::write(self)
    }

    /// DXF of release 12 in millimeters, y up from the lower edge of the sheet.
    pub fn to_dxf(&self) -> String {
        dxf::write(self)
    }

    /// HPGL, 40 units to the millimeter, y up from the lower edge of the sheet; pens as in [`Layer::pen`].
    pub fn to_hpgl(&self) -> String {
        hpgl::write(self)
    }

    /// From the sheet (y down) to formats with y up, its lower left corner at the origin.
    fn upright(&self, p: Point) -> Point {
        Point::mm(p.x - self.window.low.x, self.window.high.y - p.y)
    }
}
