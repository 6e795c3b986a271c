//! Growing, shrinking and joining outlines.

use crate::{Outline, Point};
use i_overlay::core::fill_rule::FillRule;
use i_overlay::core::overlay_rule::OverlayRule;
use i_overlay::float::simplify::SimplifyShape;
use i_overlay::float::single::SingleFloatOverlay;
use i_overlay::mesh::float::outline::offset::OutlineOffset;
use i_overlay::mesh::float::stroke::offset::StrokeOffset;
use i_overlay::mesh::float::style::{LineJoin, OutlineStyle, StrokeStyle};
use units::Length;

/// Angle of one step of a round corner, radians.
const ROUND_STEP: f64 = 0.1;

impl Outline {
    /// Grown by `by` all around, corners rounded; holes that close up are filled. Nothing nearer than `by` stays
    /// outside: chords of the rounded corners lie on the far side, at most 0.13 % of `by` too far.
    /// A negative `by` or one of zero gives the outline itself.
    pub fn grown(&self, by: Length) -> Self {
        if by <= Length::ZERO {
            return self.clone();
        }
        // chords of a circle of radius r come as near as r·cos(step/2)
        let radius = by.as_mm() / (ROUND_STEP / 2.0).cos();
        largest(offset(self, radius)).unwrap_or_else(|| self.clone())
    }

    /// Shrunk by `by` all around: what is left, largest part first; several parts where it falls apart, none where
    /// nothing is left.
    pub fn shrunk(&self, by: Length) -> Vec<Self> {
        if by <= Length::ZERO {
            return vec![self.clone()];
        }
        largest_first(outlines(offset(self, -by.as_mm() / (ROUND_STEP / 2.0).cos())))
    }

    /// What lies within `by` of a line of points: corners rounded, ends square across the line. Nothing for fewer than
    /// two points.
    pub fn band(line: &[Point], by: Length) -> Vec<Self> {
        if line.len() < 2 || by <= Length::ZERO {
            return Vec::new();
        }
        let radius = by.as_mm() / (ROUND_STEP / 2.0).cos();
        let style = StrokeStyle::new(2.0 * radius).line_join(LineJoin::Round(ROUND_STEP));
        let line: Vec<[f64; 2]> = line.iter().map(|p| [p.x, p.y]).collect();
        outlines(line.stroke_as::<i64>(style, false))
    }

    /// Outer rings of the union with others.
    pub fn joined(outlines_to_join: &[Self]) -> Vec<Self> {
        let rings: Vec<_> = outlines_to_join.iter().map(ring).collect();
        outlines(rings.simplify_shape_as::<i64>(FillRule::NonZero))
    }

    /// What lies in both: outer rings, largest first.
    pub fn common(&self, other: &Self) -> Vec<Self> {
        largest_first(outlines(overlaid(self, std::slice::from_ref(other), OverlayRule::Intersect)))
    }

    /// The parts left after `cut` is taken away that have no hole in them, largest first.
    pub fn whole_without(&self, cut: &[Self]) -> Vec<Self> {
        let shapes = overlaid(self, cut, OverlayRule::Difference);
        largest_first(outlines(shapes.into_iter().filter(|shape| shape.len() == 1).collect()))
    }

    /// What is left after `cut` is taken away: outer rings, largest first. A hole that `cut` leaves inside is not
    /// seen in them.
    pub fn without(&self, cut: &[Self]) -> Vec<Self> {
        largest_first(outlines(overlaid(self, cut, OverlayRule::Difference)))
    }
}

type Shapes = Vec<Vec<Vec<[f64; 2]>>>;

fn ring(outline: &Outline) -> Vec<[f64; 2]> {
    outline.points().iter().map(|p| [p.x, p.y]).collect()
}

fn offset(outline: &Outline, by: f64) -> Shapes {
    let style = OutlineStyle::new(by).line_join(LineJoin::Round(ROUND_STEP));
    ring(outline).outline_as::<i64>(&style)
}

fn overlaid(subject: &Outline, others: &[Outline], rule: OverlayRule) -> Shapes {
    let others: Vec<_> = others.iter().map(ring).collect();
    ring(subject).overlay_as::<i64>(&others, rule, FillRule::NonZero)
}

fn largest_first(mut parts: Vec<Outline>) -> Vec<Outline> {
    parts.sort_by(|a, b| b.area().total_cmp(&a.area()));
    parts
}

/// The outer ring of each shape.
fn outlines(shapes: Shapes) -> Vec<Outline> {
    shapes.into_iter().filter_map(|shape| shape.into_iter().next()).filter_map(outline).collect()
}

fn outline(contour: Vec<[f64; 2]>) -> Option<Outline> {
    let points: Vec<Point> = contour.into_iter().map(Point::from).collect();
    Outline::new(points.clone()).ok().or_else(|| crate::repair(&points).ok().map(|(outline, _)| outline))
}

fn largest(shapes: Shapes) -> Option<Outline> {
    outlines(shapes).into_iter().max_by(|a, b| a.area().total_cmp(&b.area()))
}
