#![doc = include_str!("../README.md")]

#[path = "../../plane/src/curve.rs"]
#[allow(dead_code)]
mod curve;

mod body;
mod panel;
mod style;
mod svg;
mod view;

pub use body::{Body, Place, Shape, ShapeKind, Spot};
pub use curve::Point;
pub use panel::{Material, Panel, PanelKind};
pub use style::Style;
pub use svg::{Drawing, SheetOptions};
pub use view::View;
