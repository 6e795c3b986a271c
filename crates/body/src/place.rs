//! The way between a spot on a drawing and a place on a panel.

use crate::anchors::Anchors;
use crate::areas::crossings;
use crate::svg::stack;
use crate::{Body, View};
use plane::curve::{Axis, Edge, Placing, Point, pt};
use units::Length;

/// Chords of flattened outlines stay this close to their curves, mm.
const FLAT: f64 = 0.1;

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
    /// share is known, and the other one is the middle of what the panel has there; from a side, of its half
    /// on that side.
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

/// How a view is placed upright in its own drawing, and the drawing's width and height, mm.
pub(crate) fn upright(a: &Anchors, view: View) -> (Placing, (f64, f64)) {
    let (h, l, hw) = (a.height, a.length, a.half_width + 230.0);
    let up = (h + 40.0, -1.0, Axis::Y);
    match view {
        View::Top => (Placing { x: (60.0, 1.0, Axis::X), y: (hw, 1.0, Axis::Y) }, (l + 120.0, 2.0 * hw)),
        View::Left => (Placing { x: (60.0, 1.0, Axis::X), y: up }, (l + 120.0, h + 60.0)),
        View::Right => (Placing { x: (60.0 + l, -1.0, Axis::X), y: up }, (l + 120.0, h + 60.0)),
        View::Front => (Placing { x: (hw, 1.0, Axis::X), y: up }, (2.0 * hw, h + 60.0)),
        View::Rear => (Placing { x: (hw, -1.0, Axis::X), y: up }, (2.0 * hw, h + 60.0)),
    }
}

/// How a view is placed on the full sheet. The plan lies in the middle, nose left; the left side below it
/// upright, the right side above it upside down, the ends with their roofs towards the plan.
pub(crate) fn on_sheet(a: &Anchors, view: View) -> Placing {
    let (h, l) = (a.height, a.length);
    let hw = a.half_width + 210.0;
    let (ox, oy) = sheet_origin(a);
    let along = (ox, 1.0, Axis::X);
    let across = (oy, 1.0, Axis::X);
    match view {
        View::Top => Placing { x: along, y: (oy, 1.0, Axis::Y) },
        View::Left => Placing { x: along, y: (oy + hw + GAP + h, -1.0, Axis::Y) },
        View::Right => Placing { x: along, y: (oy - hw - GAP - h, 1.0, Axis::Y) },
        View::Front => Placing { x: (ox - GAP - h, 1.0, Axis::Y), y: across },
        View::Rear => Placing { x: (ox + l + GAP + h, -1.0, Axis::Y), y: across },
    }
}

/// Between the views of a sheet, mm.
const GAP: f64 = 230.0;

/// Where the nose's point on the center line of the plan lies on the sheet.
fn sheet_origin(a: &Anchors) -> (f64, f64) {
    let hw = a.half_width + 210.0;
    (a.height + GAP + 60.0 + 40.0, a.height + GAP + hw + 60.0)
}

/// Width and height of the full sheet, mm.
pub(crate) fn sheet_size(a: &Anchors) -> (f64, f64) {
    let (ox, oy) = sheet_origin(a);
    (2.0 * ox + a.length, 2.0 * oy)
}

/// The bounding box of an outline on an upright drawing, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Frame {
    low: Point,
    high: Point,
}

impl Frame {
    pub fn of(path: &Edge, placing: &Placing) -> Frame {
        let points = path.flattened(FLAT).into_iter().map(|p| placing.apply(p));
        let empty =
            Frame { low: pt(f64::INFINITY, f64::INFINITY), high: pt(f64::NEG_INFINITY, f64::NEG_INFINITY) };
        points.fold(empty, |f, p| Frame {
            low: pt(f.low.x.min(p.x), f.low.y.min(p.y)),
            high: pt(f.high.x.max(p.x), f.high.y.max(p.y)),
        })
    }

    pub fn width(&self) -> f64 {
        self.high.x - self.low.x
    }

    pub fn height(&self) -> f64 {
        self.high.y - self.low.y
    }
}

impl Body {
    /// The panel drawn on top at a spot of the upright drawing of a view, and where on the panel that is;
    /// nothing where no panel is drawn.
    pub fn locate(&self, view: View, x: Length, y: Length) -> Option<Place> {
        let (placing, _) = upright(self.anchors(), view);
        let spot = placing.invert(pt(x.as_mm(), y.as_mm()));
        let canvas = self.canvases().iter().find(|c| c.view == view)?;
        let shape = stack(canvas).into_iter().rev().find(|s| inside(&s.path.flattened(FLAT), spot))?;
        let panel = self.panel(shape.panel)?;
        let in_main_view = panel.main_view == view;
        let there = if in_main_view { spot } else { self.carry_over(view, spot, panel.id)? };
        let (u, v) = self.fractions(panel.id, there)?;
        Some(Place { panel: panel.id, u, v, in_main_view })
    }

    /// Where a place on a panel lies on the upright drawing of the panel's main view; nothing if this body
    /// has no such panel.
    pub fn point(&self, panel: &str, u: f64, v: f64) -> Option<Spot> {
        let shape = self.main_shape(panel)?;
        let frame = Frame::of(&shape.path, &upright(self.anchors(), shape.view).0);
        let x = frame.low.x + u * frame.width();
        let y = frame.low.y + v * frame.height();
        Some(Spot { view: shape.view, x: Length::mm(x), y: Length::mm(y) })
    }

    /// Where a spot of an upright view lies on the full sheet, from its top left corner.
    pub fn on_sheet(&self, spot: Spot) -> (Length, Length) {
        let p = upright(self.anchors(), spot.view).0.invert(pt(spot.x.as_mm(), spot.y.as_mm()));
        let p = on_sheet(self.anchors(), spot.view).apply(p);
        (Length::mm(p.x), Length::mm(p.y))
    }

    /// The panel's outline in its main view as drawn upright, in mm, flattened to 0.1 mm; the first point is
    /// not repeated. Nothing if this body has no such panel.
    ///
    /// **For planning film and product, NEVER for cutting**: it is one projection of a generic drawing, not a
    /// developed pattern of a car.
    pub fn outline(&self, panel: &str) -> Option<Vec<plane::Point>> {
        let shape = self.main_shape(panel)?;
        let (placing, _) = upright(self.anchors(), shape.view);
        let placed = shape.path.flattened(FLAT).into_iter().map(|p| placing.apply(p));
        let mut points: Vec<plane::Point> = placed.map(|p| plane::Point::mm(p.x, p.y)).collect();
        points.pop();
        Some(points)
    }

    /// Fractions of a panel's box in its main view.
    fn fractions(&self, panel: &str, spot: Point) -> Option<(f64, f64)> {
        let shape = self.main_shape(panel)?;
        let (placing, _) = upright(self.anchors(), shape.view);
        let (frame, at) = (Frame::of(&shape.path, &placing), placing.apply(spot));
        let share = |at: f64, low: f64, size: f64| ((at - low) / size).clamp(0.0, 1.0);
        Some((share(at.x, frame.low.x, frame.width()), share(at.y, frame.low.y, frame.height())))
    }

    /// A spot of one view in the panel's main view: the coordinate that both share stays, the other one is
    /// the middle of what the panel has there on the side that was looked at.
    fn carry_over(&self, view: View, spot: Point, panel: &str) -> Option<Point> {
        let main = self.main_shape(panel)?;
        let outline = main.path.flattened(FLAT);
        let Some((from, to)) = shared_axis(view, main.view) else { return Some(middle(&outline)) };
        let (low, high) = extent(&outline, to);
        // Views agree within the width of a line, so a spot may fall just outside.
        let inset = 1e-3 * (high - low);
        let at = spot.along(from).clamp(low + inset, high - inset);
        let chords = crossings(&outline, to, at);
        let longest = chords.chunks_exact(2).max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])))?;
        let (from, to_end) = match view {
            View::Left => (longest[0].max(0.0), longest[1].max(0.0)),
            View::Right => (longest[0].min(0.0), longest[1].min(0.0)),
            View::Top | View::Front | View::Rear => (longest[0], longest[1]),
        };
        let other = (from + to_end) / 2.0;
        Some(if to == Axis::X { pt(at, other) } else { pt(other, at) })
    }
}

/// Which coordinate of one view is which of another one; nothing if they look along the same line.
fn shared_axis(from: View, to: View) -> Option<(Axis, Axis)> {
    use View::{Front, Left, Rear, Right, Top};
    match (from, to) {
        (Top, Left | Right) | (Left | Right, Top) => Some((Axis::X, Axis::X)),
        (Top, Front | Rear) => Some((Axis::Y, Axis::X)),
        (Front | Rear, Top) => Some((Axis::X, Axis::Y)),
        (Left | Right, Front | Rear) | (Front | Rear, Left | Right) => Some((Axis::Y, Axis::Y)),
        _ => None,
    }
}

fn extent(points: &[Point], axis: Axis) -> (f64, f64) {
    points
        .iter()
        .map(|p| p.along(axis))
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), v| (l.min(v), h.max(v)))
}

fn middle(points: &[Point]) -> Point {
    let ((l, r), (b, t)) = (extent(points, Axis::X), extent(points, Axis::Y));
    pt((l + r) / 2.0, (b + t) / 2.0)
}

/// Whether a point lies inside a polygon, by the parity of crossings to its left.
fn inside(polygon: &[Point], p: Point) -> bool {
    crossings(polygon, Axis::Y, p.y).iter().filter(|x| **x < p.x).count() % 2 == 1
}
