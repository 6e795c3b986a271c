//! A drawn body: its shapes and panels.

use crate::anchors::Anchors;
use crate::areas::{Drawn, Rule};
use crate::canvas::Canvas;
use crate::ends::{self, Section};
use crate::panel::{NAMES, Panel, PanelKind, usual_material};
use crate::parameters::{Parameters, Tail};
use crate::place::{Frame, upright};
use crate::plan::Plan;
use crate::side::Side;
use crate::{Style, View};
use plane::curve::{CurveError, Edge};
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

    /// The surface of a panel that is drawn so in its main view.
    fn of_panel(self) -> PanelKind {
        match self {
            ShapeKind::Paint | ShapeKind::Over => PanelKind::Paint,
            ShapeKind::Glass => PanelKind::Glass,
            ShapeKind::Lamp => PanelKind::Lamp,
            ShapeKind::Trim => PanelKind::Trim,
            ShapeKind::Fabric => PanelKind::Fabric,
            ShapeKind::Wheel => PanelKind::Wheel,
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

/// One generic body, drawn.
#[derive(Clone, Debug)]
pub struct Body {
    style: Style,
    label: &'static str,
    anchors: Anchors,
    shapes: Vec<Shape>,
    canvases: Vec<Canvas>,
    panels: Vec<Panel>,
}

impl Body {
    /// The body of a style, drawn once.
    pub fn of(style: Style) -> &'static Body {
        static BODIES: [OnceLock<Body>; 8] = [const { OnceLock::new() }; 8];
        BODIES[style as usize].get_or_init(|| match Body::draw(style, style.parameters(), Rule::Exact) {
            Ok(body) => body,
            // The numbers are constants of this crate, and every style is drawn in its tests.
            Err(error) => unreachable!("{} cannot be drawn: {error}", style.name()),
        })
    }

    /// A body from numbers.
    pub(crate) fn draw(style: Style, p: &Parameters, rule: Rule) -> Result<Body, CurveError> {
        let anchors = Anchors::new(p);
        let a = &anchors;
        let side = Side::draw(p, a)?;
        let plan = Plan::draw(p, a, &side)?;
        let section = Section::draw(p, a);
        let front = ends::front(p, a, &side, &plan, &section)?;
        let rear = ends::rear(p, a, &side, &plan, &section)?;
        let right = side.canvas.other_side();
        let canvases = vec![plan.canvas.clone(), side.canvas.clone(), right, front, rear];
        let shapes: Vec<Shape> = canvases.iter().flat_map(|c| &c.shapes).cloned().collect();
        let drawn = Drawn {
            parameters: p,
            anchors: a,
            shapes: &shapes,
            side: &side,
            plan: &plan,
            section: &section,
            rule,
        };
        let panels = panels(p, &drawn);
        Ok(Body { style, label: p.label, anchors, shapes, canvases, panels })
    }

    /// Its style.
    pub fn style(&self) -> Style {
        self.style
    }

    /// What its drawing is called, such as "sport utility".
    pub fn label(&self) -> &'static str {
        self.label
    }

    /// Overall length.
    pub fn length(&self) -> Length {
        Length::mm(self.anchors.length)
    }

    /// Overall width without mirrors.
    pub fn width(&self) -> Length {
        Length::mm(2.0 * self.anchors.half_width)
    }

    /// Overall height.
    pub fn height(&self) -> Length {
        Length::mm(self.anchors.height)
    }

    /// Every outline of every view, in the order in which they were drawn.
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
        self.shape_in(self.panel(id)?.main_view, id)
    }

    pub(crate) fn shape_in(&self, view: View, id: &str) -> Option<&Shape> {
        self.shapes.iter().find(|s| s.view == view && s.panel == id)
    }

    pub(crate) fn anchors(&self) -> &Anchors {
        &self.anchors
    }

    /// The views as drawn, in the order of [`View::ALL`].
    pub(crate) fn canvases(&self) -> &[Canvas] {
        &self.canvases
    }
}

/// The panels that were drawn, in the order of the table of names.
fn panels(p: &Parameters, drawn: &Drawn<'_>) -> Vec<Panel> {
    let mut out: Vec<Panel> = Vec::new();
    for name in NAMES {
        // The glass in a tailgate or a steep tail is seen best from behind.
        let steep = name.id == "rear_window" && p.tail != Tail::Trunk;
        let main_view = if steep { View::Rear } else { name.main_view };
        let Some(shape) = drawn.shapes.iter().find(|s| s.view == main_view && s.panel == name.id) else {
            continue;
        };
        let kind = shape.kind.of_panel();
        // The right side is the left one's mirror image, and comes after it.
        let left = out.iter().find(|left| left.id == name.mirror);
        let area = left.map_or_else(|| drawn.area(name.id, kind), |left| left.area);
        let frame = Frame::of(&shape.path, &upright(drawn.anchors, main_view).0);
        out.push(Panel {
            id: name.id,
            title: name.title,
            kind,
            usual_material: usual_material(name.id, kind),
            area,
            main_view,
            width: Length::mm(frame.width()),
            height: Length::mm(frame.height()),
        });
    }
    out
}
