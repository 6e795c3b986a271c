//! Rings of one SVG shape, in millimeters.

use super::ElementProblem;
use crate::Point;
use crate::flatten::{self, EllipseArc};
use std::f64::consts::{PI, TAU};
use svgtypes::{PathParser, PathSegment, Transform};

/// A run of points and whether the file closes it.
#[derive(Clone, Debug, Default)]
pub(super) struct Run {
    pub points: Vec<Point>,
    pub closed: bool,
}

/// Draws shapes of a file into runs of points.
pub(super) struct Pen {
    /// From the coordinates of the element to millimeters.
    pub to_mm: Transform,
    pub tolerance: f64,
}

impl Pen {
    pub(super) fn map(&self, x: f64, y: f64) -> Point {
        let t = &self.to_mm;
        Point::mm(t.a * x + t.c * y + t.e, t.b * x + t.d * y + t.f)
    }

    fn map_vector(&self, x: f64, y: f64) -> Point {
        let t = &self.to_mm;
        Point::mm(t.a * x + t.c * y, t.b * x + t.d * y)
    }

    pub(super) fn ellipse(&self, cx: f64, cy: f64, rx: f64, ry: f64) -> Run {
        let arc = EllipseArc {
            center: self.map(cx, cy),
            major: self.map_vector(rx, 0.0),
            minor: self.map_vector(0.0, ry),
            start: 0.0,
            sweep: TAU,
        };
        Run { points: arc.ring(self.tolerance), closed: true }
    }

    pub(super) fn rectangle(&self, [x, y, w, h]: [f64; 4], rx: f64, ry: f64) -> Run {
        let (rx, ry) = (rx.min(w / 2.0), ry.min(h / 2.0));
        let mut points = Vec::new();
        if rx <= 0.0 || ry <= 0.0 {
            points.extend([self.map(x, y), self.map(x + w, y), self.map(x + w, y + h), self.map(x, y + h)]);
        } else {
            let corners =
                [(x + w - rx, y + ry), (x + w - rx, y + h - ry), (x + rx, y + h - ry), (x + rx, y + ry)];
            let from = [(x + w - rx, y), (x + w, y + h - ry), (x + rx, y + h), (x, y + ry)];
            for (quarter, ((cx, cy), (fx, fy))) in corners.into_iter().zip(from).enumerate() {
                points.push(self.map(fx, fy));
                let arc = EllipseArc {
                    center: self.map(cx, cy),
                    major: self.map_vector(rx, 0.0),
                    minor: self.map_vector(0.0, ry),
                    start: PI / 2.0 * (quarter as f64 - 1.0),
                    sweep: PI / 2.0,
                };
                arc.flatten(&mut points, None, self.tolerance);
            }
        }
        Run { points, closed: true }
    }

    /// All runs of a path.
    pub(super) fn path(&self, d: &str) -> Result<Vec<Run>, ElementProblem> {
        let mut walk = Walk {
            pen: self,
            runs: Vec::new(),
            run: Run::default(),
            at: (0.0, 0.0),
            start: (0.0, 0.0),
            last: Last::Other,
        };
        for segment in PathParser::from(d) {
            let segment = segment.map_err(|_| ElementProblem::unreadable(
                "d", d, "write the path by the SVG grammar: it starts with M, and every command has all its numbers",
            ))?;
            walk.draw(segment);
        }
        walk.finish();
        Ok(walk.runs)
    }
}

/// The control point that a smooth curve mirrors.
#[derive(Clone, Copy)]
enum Last {
    Cubic(f64, f64),
    Quadratic(f64, f64),
    Other,
}

struct Walk<'a> {
    pen: &'a Pen,
    runs: Vec<Run>,
    run: Run,
    at: (f64, f64),
    start: (f64, f64),
    last: Last,
}

impl Walk<'_> {
    fn draw(&mut self, segment: PathSegment) {
        let (ox, oy) = if segment.is_abs() { (0.0, 0.0) } else { self.at };
        let mut last = Last::Other;
        match segment {
            PathSegment::MoveTo { x, y, .. } => {
                self.finish();
                self.at = (ox + x, oy + y);
                self.start = self.at;
            }
            PathSegment::LineTo { x, y, .. } => self.line_to(ox + x, oy + y),
            PathSegment::HorizontalLineTo { x, .. } => self.line_to(ox + x, self.at.1),
            PathSegment::VerticalLineTo { y, .. } => self.line_to(self.at.0, oy + y),
            PathSegment::CurveTo { x1, y1, x2, y2, x, y, .. } => {
                self.cubic([(ox + x1, oy + y1), (ox + x2, oy + y2), (ox + x, oy + y)]);
                last = Last::Cubic(ox + x2, oy + y2);
            }
            PathSegment::SmoothCurveTo { x2, y2, x, y, .. } => {
                let first = match self.last {
                    Last::Cubic(cx, cy) => (2.0 * self.at.0 - cx, 2.0 * self.at.1 - cy),
                    _ => self.at,
                };
                self.cubic([first, (ox + x2, oy + y2), (ox + x, oy + y)]);
                last = Last::Cubic(ox + x2, oy + y2);
            }
            PathSegment::Quadratic { x1, y1, x, y, .. } => {
                self.quadratic((ox + x1, oy + y1), (ox + x, oy + y));
                last = Last::Quadratic(ox + x1, oy + y1);
            }
            PathSegment::SmoothQuadratic { x, y, .. } => {
                let control = match self.last {
                    Last::Quadratic(cx, cy) => (2.0 * self.at.0 - cx, 2.0 * self.at.1 - cy),
                    _ => self.at,
                };
                self.quadratic(control, (ox + x, oy + y));
                last = Last::Quadratic(control.0, control.1);
            }
            PathSegment::EllipticalArc { rx, ry, x_axis_rotation, large_arc, sweep, x, y, .. } => {
                self.arc([rx, ry, x_axis_rotation], large_arc, sweep, (ox + x, oy + y));
            }
            PathSegment::ClosePath { .. } => {
                self.begin();
                self.run.closed = true;
                self.finish();
                self.at = self.start;
            }
        }
        self.last = last;
    }

    /// Starts a run at the current point where none is open.
    fn begin(&mut self) {
        if self.run.points.is_empty() {
            let p = self.pen.map(self.at.0, self.at.1);
            self.run.points.push(p);
        }
    }

    fn finish(&mut self) {
        let run = std::mem::take(&mut self.run);
        // a lone point, as after a bare move, draws nothing
        if run.points.len() > 1 {
            self.runs.push(run);
        }
    }

    fn line_to(&mut self, x: f64, y: f64) {
        self.begin();
        self.run.points.push(self.pen.map(x, y));
        self.at = (x, y);
    }

    fn cubic(&mut self, [a, b, c]: [(f64, f64); 3]) {
        self.begin();
        let m = |p: (f64, f64)| self.pen.map(p.0, p.1);
        flatten::cubic(&mut self.run.points, [m(self.at), m(a), m(b), m(c)], self.pen.tolerance);
        self.at = c;
    }

    fn quadratic(&mut self, a: (f64, f64), b: (f64, f64)) {
        self.begin();
        let m = |p: (f64, f64)| self.pen.map(p.0, p.1);
        flatten::quadratic(&mut self.run.points, [m(self.at), m(a), m(b)], self.pen.tolerance);
        self.at = b;
    }

    /// Endpoint to center form: SVG 2, appendix B.2.4, with the corrections of B.2.5.
    fn arc(&mut self, [rx, ry, turn]: [f64; 3], large: bool, positive: bool, end: (f64, f64)) {
        let (rx, ry) = (rx.abs(), ry.abs());
        if self.at == end {
            return;
        }
        if rx == 0.0 || ry == 0.0 || !(rx * ry).is_finite() {
            return self.line_to(end.0, end.1);
        }
        self.begin();
        let (sin, cos) = turn.to_radians().sin_cos();
        let (dx, dy) = ((self.at.0 - end.0) / 2.0, (self.at.1 - end.1) / 2.0);
        let (x, y) = (cos * dx + sin * dy, cos * dy - sin * dx);
        let grow = (x * x / (rx * rx) + y * y / (ry * ry)).max(1.0).sqrt();
        let (rx, ry) = (rx * grow, ry * grow);
        let (rx2y2, ry2x2) = (rx * rx * y * y, ry * ry * x * x);
        let root = ((rx * rx * ry * ry - rx2y2 - ry2x2) / (rx2y2 + ry2x2)).max(0.0).sqrt();
        let root = if large == positive { -root } else { root };
        let (cx, cy) = (root * rx * y / ry, -root * ry * x / rx);
        let center = (
            cos * cx - sin * cy + (self.at.0 + end.0) / 2.0,
            sin * cx + cos * cy + (self.at.1 + end.1) / 2.0,
        );
        let start = ((y - cy) / ry).atan2((x - cx) / rx);
        let mut sweep = (((-y - cy) / ry).atan2((-x - cx) / rx) - start).rem_euclid(TAU);
        if !positive {
            sweep -= TAU;
        }
        let arc = EllipseArc {
            center: self.pen.map(center.0, center.1),
            major: self.pen.map_vector(rx * cos, rx * sin),
            minor: self.pen.map_vector(-ry * sin, ry * cos),
            start,
            sweep,
        };
        arc.flatten(&mut self.run.points, Some(self.pen.map(end.0, end.1)), self.pen.tolerance);
        self.at = end;
    }
}
