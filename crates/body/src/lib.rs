#![doc = include_str!("../README.md")]

#[path = "../../plane/src/curve.rs"]
#[allow(dead_code)]
mod curve;

mod anchors;
mod areas;
mod body;
mod canvas;
mod ends;
mod panel;
mod parameters;
mod place;
mod plan;
mod side;
mod side_lines;
mod style;
mod svg;
mod view;

pub use body::{Body, Shape, ShapeKind};
pub use curve::Point;
pub use panel::{Material, Panel, PanelKind};
pub use place::{Place, Spot};
pub use style::Style;
pub use svg::{Drawing, SheetOptions};
pub use view::View;
