//! A drawn body: its shapes and panels, and the way between a place on the drawing and on a panel.

use crate::curve::{Edge, Point};
use crate::{Panel, Style, View};
use std::sync::OnceLock;
use units::Length;

/// What an outline of a drawing is, and so how it is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ShapeKind {
    /// Painted.
    Paint,
    /// Window glass.
    Glass,
    /// A lamp lens.
    Lamp,
    /// Unpainted plastic, pillar covers, a bed floor.
    Trim,
    /// A soft top.
    Fabric,
    /// A wheel with its tire.
    Wheel,
    /// Drawn on top of its neighbors: mirrors, a pickup's lamps seen from behind.
    Over,
}

impl ShapeKind {
    /// The class in SVG.
    pub fn class(self) -> &'static str {
        match self {
            ShapeKind::Paint => "paint",
            ShapeKind::Glass => "glass",
            ShapeKind::Lamp => "lamp",
            ShapeKind::Trim => "trim",
            ShapeKind::Fabric => "fabric",
            ShapeKind::Wheel => "wheel",
            ShapeKind::Over => "over",
        }
    }
}

/// One closed outline of one panel in one view.
#[derive(Clone, Debug, PartialEq)]
pub struct Shape {
    /// In which view.
    pub view: View,
    /// Of which panel.
    pub panel: &'static str,
    /// How it is drawn.
    pub kind: ShapeKind,
    /// The closed outline in the view's own plane, mm: (x, y) in the plan, (x, z) at the sides, (y, z) at the
    /// ends, with x from the nose backwards, y from the center line to the car's left, z up.
    pub path: Edge,
}

/// A place on a panel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// The panel's id.
    pub panel: &'static str,
    /// Across the panel's bounding box in its main view as drawn upright: 0 at the left, 1 at the right.
    pub u: f64,
    /// Down the same box: 0 at the top, 1 at the bottom.
    pub v: f64,
    /// Whether the place was shown in the panel's main view. Otherwise only the coordinate that both views
    /// share is known, and the other one is the middle of the panel there.
    pub in_main_view: bool,
}

/// A spot on the upright drawing of one view, from its top left corner, one unit a millimeter of the car.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// Which view.
    pub view: View,
    /// To the right.
    pub x: Length,
    /// Down.
    pub y: Length,
}

/// One generic body, drawn.
#[derive(Clone, Debug)]
pub struct Body {
    style: Style,
    shapes: Vec<Shape>,
    panels: Vec<Panel>,
}

impl Body {
    /// The body of a style, drawn once.
    pub fn of(style: Style) -> &'static Body {
        static BODIES: [OnceLock<Body>; 8] = [const { OnceLock::new() }; 8];
        BODIES[style as usize].get_or_init(|| Body { style, shapes: Vec::new(), panels: Vec::new() })
    }

    /// Its style.
    pub fn style(&self) -> Style {
        self.style
    }

    /// Every outline of every view.
    pub fn shapes(&self) -> &[Shape] {
        &self.shapes
    }

    /// Its panels: the middle of the car from nose to tail, then the sides, left before right.
    pub fn panels(&self) -> &[Panel] {
        &self.panels
    }

    /// The panel of that id; nothing if this body has none.
    pub fn panel(&self, id: &str) -> Option<&Panel> {
        self.panels.iter().find(|p| p.id == id)
    }

    /// The panel's outline in its main view; nothing if this body has no such panel.
    pub fn main_shape(&self, id: &str) -> Option<&Shape> {
        let view = self.panel(id)?.main_view;
        self.shapes.iter().find(|s| s.view == view && s.panel == id)
    }

    /// The panel drawn on top at a spot of the upright drawing of a view, and where on the panel that is.
    pub fn locate(&self, _view: View, _x: Length, _y: Length) -> Option<Place> {
        None
    }

    /// Where a place on a panel lies on the upright drawing of the panel's main view.
    pub fn point(&self, _panel: &str, _u: f64, _v: f64) -> Option<Spot> {
        None
    }

    /// Where a spot of an upright view lies on the full sheet, from its top left corner.
    pub fn on_sheet(&self, _spot: Spot) -> (Length, Length) {
        (Length::ZERO, Length::ZERO)
    }

    /// The panel's outline in its main view as drawn upright, in mm, flattened to 0.1 mm; the first point is
    /// not repeated.
    ///
    /// **For planning film and product, NEVER for cutting**: it is one projection of a generic drawing, not a
    /// developed pattern of a car.
    pub fn outline(&self, _panel: &str) -> Option<Vec<Point>> {
        None
    }
}
