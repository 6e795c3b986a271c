//! A shape at one turn, laid out for fast pair tests. Coordinates are f32 about the shape's own
//! center; only differences of positions enter, so a long roll costs no digits.

use super::shape::padded;

/// Circles are worked on in groups of so many.
pub(crate) const LANES: usize = 8;
/// The depth below which the loss of a pair of circles turns into a tail, as a share of the larger diameter.
const TAIL: f32 = 0.01;

/// Outline and inscribed circles at one turn.
#[derive(Clone, Debug, Default)]
pub(crate) struct Form {
    xs: Vec<f32>,
    ys: Vec<f32>,
    circle_xs: Vec<f32>,
    circle_ys: Vec<f32>,
    radii: Vec<f32>,
    circles: usize,
    pub low: [f32; 2],
    pub high: [f32; 2],
}

/// Room for the edges of two forms near their common window; kept to spare allocations.
#[derive(Debug, Default)]
pub(crate) struct Scratch {
    near: [Vec<f32>; 4],
}

impl Form {
    pub(crate) fn new(points: &[[f32; 2]], circles: &[[f32; 3]]) -> Self {
        let room = padded(circles.len());
        let fill = |get: fn(&[f32; 3]) -> f32, rest: f32| {
            let mut v: Vec<f32> = circles.iter().map(get).collect();
            v.resize(room, rest);
            v
        };
        let mut form = Self {
            xs: points.iter().map(|p| p[0]).collect(),
            ys: points.iter().map(|p| p[1]).collect(),
            // circles that only fill up a group have no radius and lie far off: they add nothing
            circle_xs: fill(|c| c[0], 1e9),
            circle_ys: fill(|c| c[1], 1e9),
            radii: fill(|c| c[2], 0.0),
            circles: circles.len(),
            low: [0.0; 2],
            high: [0.0; 2],
        };
        form.measure();
        form
    }

    pub(crate) fn turned(&self, angle: f64) -> Self {
        let mut form = self.clone();
        form.turn_from(self, angle);
        form
    }

    /// Becomes `base` turned by `angle` radians.
    pub(crate) fn turn_from(&mut self, base: &Self, angle: f64) {
        let (sin, cos) = plane_sin_cos(angle);
        let turn = |xs: &[f32], ys: &[f32], to_xs: &mut Vec<f32>, to_ys: &mut Vec<f32>| {
            to_xs.clear();
            to_ys.clear();
            to_xs.extend(xs.iter().zip(ys).map(|(x, y)| x * cos - y * sin));
            to_ys.extend(xs.iter().zip(ys).map(|(x, y)| x * sin + y * cos));
        };
        turn(&base.xs, &base.ys, &mut self.xs, &mut self.ys);
        turn(&base.circle_xs, &base.circle_ys, &mut self.circle_xs, &mut self.circle_ys);
        self.radii.clone_from(&base.radii);
        self.circles = base.circles;
        self.measure();
    }

    fn measure(&mut self) {
        let least = |v: &[f32]| v.iter().copied().fold(f32::INFINITY, f32::min);
        let most = |v: &[f32]| v.iter().copied().fold(f32::NEG_INFINITY, f32::max);
        self.low = [least(&self.xs), least(&self.ys)];
        self.high = [most(&self.xs), most(&self.ys)];
    }

    #[cfg(test)]
    pub(crate) fn points(&self) -> impl Iterator<Item = [f32; 2]> + '_ {
        self.xs.iter().zip(&self.ys).map(|(x, y)| [*x, *y])
    }

    /// Directions of the edges, radians.
    pub(crate) fn edge_angles(&self) -> Vec<f64> {
        let n = self.xs.len();
        let angle = |i: usize| {
            let j = (i + 1) % n;
            f64::from(self.ys[j] - self.ys[i]).atan2(f64::from(self.xs[j] - self.xs[i]))
        };
        (0..n).map(angle).collect()
    }

    pub(crate) fn width(&self) -> f32 {
        self.high[0] - self.low[0]
    }

    pub(crate) fn height(&self) -> f32 {
        self.high[1] - self.low[1]
    }

    /// Whether this form, shifted by (`dx`, `dy`), and another share area.
    pub(crate) fn collides(&self, other: &Self, dx: f32, dy: f32, scratch: &mut Scratch) -> bool {
        let low = [(self.low[0] + dx).max(other.low[0]), (self.low[1] + dy).max(other.low[1])];
        let high = [(self.high[0] + dx).min(other.high[0]), (self.high[1] + dy).min(other.high[1])];
        if low[0] >= high[0] || low[1] >= high[1] {
            return false;
        }
        self.circles_meet(other, dx, dy)
            || self.edges_cross(other, dx, dy, low, high, scratch)
            || self.swallows(other, dx, dy)
    }

    fn circles_meet(&self, other: &Self, dx: f32, dy: f32) -> bool {
        for i in 0..self.circles {
            let (x, y, r) = (self.circle_xs[i] + dx, self.circle_ys[i] + dy, self.radii[i]);
            let mut met = false;
            for ((cx, cy), cr) in other.circle_xs.iter().zip(&other.circle_ys).zip(&other.radii) {
                let (ex, ey, reach) = (x - cx, y - cy, r + cr);
                met |= ex * ex + ey * ey < reach * reach;
            }
            if met {
                return true;
            }
        }
        false
    }

    fn edges_cross(
        &self,
        other: &Self,
        dx: f32,
        dy: f32,
        low: [f32; 2],
        high: [f32; 2],
        scratch: &mut Scratch,
    ) -> bool {
        let [ax, ay, bx, by] = &mut scratch.near;
        for v in [&mut *ax, &mut *ay, &mut *bx, &mut *by] {
            v.clear();
        }
        for_edges_in(&other.xs, &other.ys, 0.0, 0.0, low, high, |x0, y0, x1, y1| {
            ax.push(x0);
            ay.push(y0);
            bx.push(x1);
            by.push(y1);
            false
        });
        if ax.is_empty() {
            return false;
        }
        for_edges_in(&self.xs, &self.ys, dx, dy, low, high, |x0, y0, x1, y1| {
            let (ex, ey) = (x1 - x0, y1 - y0);
            let mut crossing = false;
            for (((px, py), qx), qy) in ax.iter().zip(ay.iter()).zip(bx.iter()).zip(by.iter()) {
                let (fx, fy) = (qx - px, qy - py);
                let s = ex * (py - y0) - ey * (px - x0);
                let t = ex * (qy - y0) - ey * (qx - x0);
                let u = fx * (y0 - py) - fy * (x0 - px);
                let v = fx * (y1 - py) - fy * (x1 - px);
                // touching counts: a path through a corner shows in no strict sign
                crossing |= (s * t <= 0.0) & (u * v <= 0.0);
            }
            crossing
        })
    }

    /// Whether one lies wholly inside the other, known that no edges cross.
    fn swallows(&self, other: &Self, dx: f32, dy: f32) -> bool {
        let mine_within = self.low[0] + dx >= other.low[0]
            && self.low[1] + dy >= other.low[1]
            && self.high[0] + dx <= other.high[0]
            && self.high[1] + dy <= other.high[1];
        if mine_within {
            return other.holds(self.circle_xs[0] + dx, self.circle_ys[0] + dy);
        }
        let other_within = other.low[0] >= self.low[0] + dx
            && other.low[1] >= self.low[1] + dy
            && other.high[0] <= self.high[0] + dx
            && other.high[1] <= self.high[1] + dy;
        other_within && self.holds(other.circle_xs[0] - dx, other.circle_ys[0] - dy)
    }

    fn holds(&self, x: f32, y: f32) -> bool {
        let n = self.xs.len();
        let mut odd = false;
        let mut j = n - 1;
        for i in 0..n {
            let (xi, yi, xj, yj) = (self.xs[i], self.ys[i], self.xs[j], self.ys[j]);
            if (yi > y) != (yj > y) && x < (xj - xi) * (y - yi) / (yj - yi) + xi {
                odd = !odd;
            }
            j = i;
        }
        odd
    }

    /// How much two colliding forms overlap, as a length: root of the summed depths of circles weighted
    /// by the smaller radius; circles that do not meet add a tail, so that there is always a slope.
    /// Once it is sure to exceed `enough`, what has been summed so far is given.
    pub(crate) fn depth(&self, other: &Self, dx: f32, dy: f32, larger_diameter: f32, enough: f32) -> f32 {
        let tail = TAIL * larger_diameter;
        let stop = enough * enough - tail * tail;
        let mut sum = 0.0;
        for i in 0..self.circles {
            let (x, y, r) = (self.circle_xs[i] + dx, self.circle_ys[i] + dy, self.radii[i]);
            let groups = other
                .circle_xs
                .chunks_exact(LANES)
                .zip(other.circle_ys.chunks_exact(LANES))
                .zip(other.radii.chunks_exact(LANES));
            let mut sums = [0.0f32; LANES];
            for ((cx, cy), cr) in groups {
                for k in 0..LANES {
                    let (ex, ey) = (x - cx[k], y - cy[k]);
                    let depth = r + cr[k] - (ex * ex + ey * ey).sqrt();
                    let beyond = tail * tail / (2.0 * tail - depth.min(tail));
                    let depth = if depth >= tail { depth } else { beyond };
                    sums[k] += depth * r.min(cr[k]);
                }
            }
            sum += sums.iter().sum::<f32>();
            if sum > stop {
                break;
            }
        }
        (sum + tail * tail).sqrt()
    }
}

/// Calls for every edge whose box meets the window; stops and says so when `each` returns true.
fn for_edges_in(
    xs: &[f32],
    ys: &[f32],
    dx: f32,
    dy: f32,
    low: [f32; 2],
    high: [f32; 2],
    mut each: impl FnMut(f32, f32, f32, f32) -> bool,
) -> bool {
    let n = xs.len();
    let (mut x0, mut y0) = (xs[n - 1] + dx, ys[n - 1] + dy);
    for i in 0..n {
        let (x1, y1) = (xs[i] + dx, ys[i] + dy);
        let meets = (x0.max(x1) >= low[0])
            & (x0.min(x1) <= high[0])
            & (y0.max(y1) >= low[1])
            & (y0.min(y1) <= high[1]);
        if meets && each(x0, y0, x1, y1) {
            return true;
        }
        (x0, y0) = (x1, y1);
    }
    false
}

/// Sine and cosine, exact at quarter turns.
fn plane_sin_cos(angle: f64) -> (f32, f32) {
    let (s, c) = angle.sin_cos();
    let snap = |v: f64| if v.abs() < 1e-12 { 0.0 } else { v as f32 };
    (snap(s), snap(c))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(side: f32) -> Form {
        let h = side / 2.0;
        Form::new(&[[-h, -h], [h, -h], [h, h], [-h, h]], &[[0.0, 0.0, h]])
    }

    #[test]
    fn squares_collide_when_they_overlap() {
        let (a, b) = (square(10.0), square(4.0));
        let mut scratch = Scratch::default();
        for (dx, dy, hit) in [
            (0.0, 0.0, true),
            (6.9, 0.0, true),
            (7.1, 0.0, false),
            (6.9, 6.9, true),
            (6.9, 7.1, false),
            (-6.9, 3.0, true),
        ] {
            assert_eq!(a.collides(&b, dx, dy, &mut scratch), hit, "{dx} {dy}");
            assert_eq!(b.collides(&a, -dx, -dy, &mut scratch), hit, "{dx} {dy}");
        }
    }

    #[test]
    fn depth_falls_with_distance() {
        let (a, b) = (square(10.0), square(4.0));
        let depths: Vec<f32> = (0..12).map(|i| a.depth(&b, i as f32, 0.0, 14.0, f32::INFINITY)).collect();
        assert!(depths.windows(2).all(|w| w[1] < w[0]), "{depths:?}");
    }
}
