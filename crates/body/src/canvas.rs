//! One view while it is drawn.

use crate::body::{Shape, ShapeKind};
use crate::panel;
use crate::view::View;
use plane::curve::{Axis, CurveError, Edge, chain, closed_loop};

/// How a line that belongs to no panel is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Pen {
    Outline,
    Shut,
    Ring,
    Thin,
    Deco,
    Axis,
}

impl Pen {
    /// The class in SVG.
    pub fn class(self) -> &'static str {
        match self {
            Pen::Outline => "outline",
            Pen::Shut => "shut",
            Pen::Ring => "ring",
            Pen::Thin => "thin",
            Pen::Deco => "deco",
            Pen::Axis => "axis",
        }
    }
}

/// Shapes, lines and the outline of one view.
#[derive(Clone, Debug)]
pub(crate) struct Canvas {
    pub view: View,
    pub shapes: Vec<Shape>,
    pub marks: Vec<(Pen, Edge)>,
    /// The closed outline of the whole; nothing where cab and bed stand apart.
    pub outline: Option<Edge>,
    /// Which coordinate changes its sign from left to right.
    flip: Axis,
}

impl Canvas {
    pub fn new(view: View) -> Canvas {
        let flip = if view == View::Top { Axis::Y } else { Axis::X };
        Canvas { view, shapes: Vec::new(), marks: Vec::new(), outline: None, flip }
    }

    /// A line that belongs to no panel.
    pub fn mark(&mut self, pen: Pen, edge: Edge) {
        self.marks.push((pen, edge));
    }

    /// A panel bounded by these edges in a row.
    pub fn add(&mut self, panel: &'static str, kind: ShapeKind, edges: &[&Edge]) -> Result<(), CurveError> {
        let path = closed_loop(edges)?;
        self.shapes.push(Shape { view: self.view, panel, kind, path });
        Ok(())
    }

    /// A panel of the left half and its mirror image.
    pub fn pair(&mut self, left: &'static str, kind: ShapeKind, edges: &[&Edge]) -> Result<(), CurveError> {
        let path = closed_loop(edges)?;
        let mirror =
            Shape { view: self.view, panel: panel::mirror(left), kind, path: path.mirrored(self.flip) };
        self.shapes.push(Shape { view: self.view, panel: left, kind, path });
        self.shapes.push(mirror);
        Ok(())
    }

    /// A panel over both halves; its edges lead through the left half from center line to center line.
    pub fn whole(&mut self, panel: &'static str, kind: ShapeKind, edges: &[&Edge]) -> Result<(), CurveError> {
        let half = chain(edges)?;
        self.add(panel, kind, &[&half, &self.mirrored(&half).reversed()])
    }

    /// The mirror image in this view.
    pub fn mirrored(&self, edge: &Edge) -> Edge {
        edge.mirrored(self.flip)
    }

    /// The right side from the left one: the same drawing with the other side's panels.
    pub fn other_side(&self) -> Canvas {
        let mut out = Canvas { view: View::Right, ..self.clone() };
        for shape in &mut out.shapes {
            shape.view = View::Right;
            shape.panel = panel::mirror(shape.panel);
        }
        out
    }
}
