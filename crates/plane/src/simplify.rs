//! Fewer points, never less area.

use crate::simple::{point_segment, turn};
use crate::{Outline, Point};
use units::Length;

impl Outline {
    /// With fewer points: dents no deeper than `tolerance` are bridged, points on straight runs dropped, and edges
    /// between two convex corners replaced by the meeting point of their neighbors where that lies no farther than
    /// `tolerance` out. The result holds the original; where it would cross itself the original is given back.
    pub fn simplified(&self, tolerance: Length) -> Self {
        let mut points = self.points().to_vec();
        let tolerance = tolerance.as_mm();
        // each round may take every other corner, so few rounds are needed
        for _ in 0..32 {
            let before = points.len();
            points = bridged(&points, self.points(), tolerance);
            points = sharpened(&points, tolerance);
            if points.len() == before || points.len() < 4 {
                break;
            }
        }
        Self::new(points).unwrap_or_else(|_| self.clone())
    }
}

/// Drops corners that are straight or dents within the tolerance; never two neighbors in one round.
fn bridged(points: &[Point], original: &[Point], tolerance: f64) -> Vec<Point> {
    let n = points.len();
    let mut kept = Vec::with_capacity(n);
    let mut dropped = false;
    let far = |p: Point, a: Point, b: Point| point_segment(p, a, b) > tolerance;
    for i in 0..n {
        let (a, b, c) = (points[(i + n - 1) % n], points[i], points[(i + 1) % n]);
        let last_would_follow_first = i + 1 == n && kept.first() != points.first();
        let drop = !dropped && !last_would_follow_first && n > 4 && turn(a, b, c) <= 0.0 && !far(b, a, c);
        dropped = drop;
        if !drop {
            kept.push(b);
        }
    }
    if kept.len() < 3 { original.to_vec() } else { kept }
}

/// Replaces edges between two convex corners by where their neighbors meet.
fn sharpened(points: &[Point], tolerance: f64) -> Vec<Point> {
    let n = points.len();
    if n < 5 {
        return points.to_vec();
    }
    let mut kept = Vec::with_capacity(n);
    let mut i = 0;
    while i < n {
        let [a, b, c, d] = [points[(i + n - 1) % n], points[i], points[(i + 1) % n], points[(i + 2) % n]];
        let meeting = if i > 0 && i + 2 < n { meeting(a, b, c, d) } else { None };
        match meeting.filter(|m| point_segment(*m, b, c) <= tolerance) {
            Some(m) => {
                // the neighbors of the new corner stay, so that each edge moves once a round
                kept.push(m);
                kept.push(d);
                i += 3;
            }
            None => {
                kept.push(b);
                i += 1;
            }
        }
    }
    kept
}

/// Where a→b and d→c meet beyond b and c, both of these being convex corners.
fn meeting(a: Point, b: Point, c: Point, d: Point) -> Option<Point> {
    if turn(a, b, c) <= 0.0 || turn(b, c, d) <= 0.0 {
        return None;
    }
    let (u, v) = (b - a, c - d);
    let denominator = u.cross(v);
    if denominator >= 0.0 {
        return None;
    }
    let t = (d - a).cross(v) / denominator;
    (t >= 1.0).then(|| a + u * t)
}
