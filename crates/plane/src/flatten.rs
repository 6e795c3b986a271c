//! Curves to points, to within a stated tolerance.

use crate::Point;
use std::f64::consts::TAU;

/// Most points a single curve is flattened to; beyond that the tolerance is below use.
const MOST: f64 = 20_000.0;

/// How many steps a parametric curve needs whose second derivative is at most `second`:
/// a chord over a step h lies within `second`·h²/8.
fn steps(second: f64, tolerance: f64) -> usize {
    let n = (second / (8.0 * tolerance)).sqrt().ceil();
    if n.is_finite() { n.clamp(1.0, MOST) as usize } else { 1 }
}

/// Appends a cubic Bézier after its start `p0`.
pub(crate) fn cubic(out: &mut Vec<Point>, [p0, p1, p2, p3]: [Point; 4], tolerance: f64) {
    let bend = |a: Point, b: Point, c: Point| (a - b * 2.0 + c).norm();
    let n = steps(6.0 * bend(p0, p1, p2).max(bend(p1, p2, p3)), tolerance);
    out.extend((1..n).map(|i| {
        let t = i as f64 / n as f64;
        let u = 1.0 - t;
        p0 * (u * u * u) + p1 * (3.0 * u * u * t) + p2 * (3.0 * u * t * t) + p3 * (t * t * t)
    }));
    out.push(p3);
}

/// Appends a quadratic Bézier after its start `p0`.
pub(crate) fn quadratic(out: &mut Vec<Point>, [p0, p1, p2]: [Point; 3], tolerance: f64) {
    let n = steps(2.0 * (p0 - p1 * 2.0 + p2).norm(), tolerance);
    out.extend((1..n).map(|i| {
        let t = i as f64 / n as f64;
        let u = 1.0 - t;
        p0 * (u * u) + p1 * (2.0 * u * t) + p2 * (t * t)
    }));
    out.push(p2);
}

/// A part of an ellipse: `center` + `major`·cos t + `minor`·sin t, from `start` over `sweep` radians.
/// The two axes need not be at right angles: any affine image of a circle.
#[derive(Clone, Copy, Debug)]
pub(crate) struct EllipseArc {
    pub center: Point,
    pub major: Point,
    pub minor: Point,
    pub start: f64,
    pub sweep: f64,
}

impl EllipseArc {
    pub(crate) fn circle(center: Point, radius: f64, start: f64, sweep: f64) -> Self {
        Self { center, major: Point::mm(radius, 0.0), minor: Point::mm(0.0, radius), start, sweep }
    }

    fn at(&self, angle: f64) -> Point {
        self.center + self.major * angle.cos() + self.minor * angle.sin()
    }

    /// Appends the arc without its start; the last point is `end` where the caller knows it exactly.
    pub(crate) fn flatten(&self, out: &mut Vec<Point>, end: Option<Point>, tolerance: f64) {
        let n = self.steps(tolerance);
        out.extend((1..n).map(|i| self.at(self.start + self.sweep * i as f64 / n as f64)));
        out.push(end.unwrap_or_else(|| self.at(self.start + self.sweep)));
    }

    /// The full turn as a ring without a repeated point.
    pub(crate) fn ring(&self, tolerance: f64) -> Vec<Point> {
        let n = self.steps(tolerance).max(3);
        (0..n).map(|i| self.at(self.start + self.sweep * i as f64 / n as f64)).collect()
    }

    fn steps(&self, tolerance: f64) -> usize {
        // |second derivative| by angle is at most the longer half axis, itself at most the two given added in squares
        let reach = self.major.dot(self.major) + self.minor.dot(self.minor);
        let cross = self.major.cross(self.minor);
        let longest = ((reach + (reach * reach - 4.0 * cross * cross).max(0.0).sqrt()) / 2.0).sqrt();
        let by_tolerance = steps(longest * self.sweep * self.sweep, tolerance);
        by_tolerance.max((self.sweep.abs() / (TAU / 12.0)).ceil() as usize).max(1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_circle_stays_within_the_tolerance() {
        for tolerance in [1.0, 0.1, 0.01, 0.001] {
            let ring = EllipseArc::circle(Point::mm(3.0, 4.0), 500.0, 0.0, TAU).ring(tolerance);
            for (a, b) in ring.iter().zip(ring.iter().cycle().skip(1)) {
                let sag = 500.0 - (a.toward(*b, 0.5) - Point::mm(3.0, 4.0)).norm();
                assert!((-1e-9..=tolerance).contains(&sag), "{tolerance}: {sag}");
            }
        }
    }

    #[test]
    fn a_cubic_stays_within_the_tolerance() {
        let p =
            [Point::mm(0.0, 0.0), Point::mm(0.0, 400.0), Point::mm(300.0, -200.0), Point::mm(300.0, 100.0)];
        let mut out = vec![p[0]];
        cubic(&mut out, p, 0.01);
        let mut fine = vec![p[0]];
        cubic(&mut fine, p, 0.0001);
        for q in fine {
            let d =
                out.windows(2).map(|w| crate::simple::point_segment(q, w[0], w[1])).fold(f64::MAX, f64::min);
            assert!(d <= 0.01, "{d}");
        }
    }
}
