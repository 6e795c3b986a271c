#![doc = include_str!("../README.md")]

mod anchors;
mod areas;
mod body;
mod canvas;
mod check;
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
pub use check::Flaw;
pub use panel::{Material, Panel, PanelKind};
pub use place::{Place, Spot};
pub use plane::Point;
pub use style::Style;
pub use svg::{Drawing, SheetOptions};
pub use view::View;
