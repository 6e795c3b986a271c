//! Smooth curves through rows of points: cubic Béziers with common tangents where they meet (Schneider 1990, *An
//! algorithm for automatically fitting digitized curves*, Graphics Gems).

use plane::Point;
use serde::{Deserialize, Serialize};

/// A cubic Bézier curve: start, two control points, end, mm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Bezier(pub [Point; 4]);

impl Bezier {
    pub(super) fn straight(a: Point, b: Point) -> Self {
        Self([a, a.toward(b, 1.0 / 3.0), a.toward(b, 2.0 / 3.0), b])
    }

    /// The point at a share of the parameter.
    pub fn at(&self, t: f64) -> Point {
        let s = 1.0 - t;
        let [a, b, c, d] = self.0;
        a * (s * s * s) + b * (3.0 * s * s * t) + c * (3.0 * s * t * t) + d * (t * t * t)
    }

    fn slope(&self, t: f64) -> Point {
        let s = 1.0 - t;
        let [a, b, c, d] = self.0;
        (b - a) * (3.0 * s * s) + (c - b) * (6.0 * s * t) + (d - c) * (3.0 * t * t)
    }

    fn bend(&self, t: f64) -> Point {
        let [a, b, c, d] = self.0;
        (c - b * 2.0 + a) * (6.0 * (1.0 - t)) + (d - c * 2.0 + b) * (6.0 * t)
    }

    /// Points such that no chord is farther from the curve than `tolerance` (mm), both ends included.
    pub(super) fn points(&self, tolerance: f64) -> Vec<Point> {
        // a chord over 1/n of the parameter is off by at most |B''|/(8 n²)
        let most = self.bend(0.0).norm().max(self.bend(1.0).norm());
        let n = ((most / (8.0 * tolerance)).sqrt().ceil() as usize).clamp(1, 2000);
        (0..=n).map(|i| self.at(i as f64 / n as f64)).collect()
    }
}

/// Curves through a row of points that stay within `tolerance` (mm) of each of them. With `tangent` both ends point
/// along it; else they are free.
pub(super) fn fit(row: &[Point], tolerance: f64, tangent: Option<Point>) -> Vec<Bezier> {
    let reach = (100.0 * tolerance).clamp(8.0, 60.0);
    let ends = match tangent {
        Some(t) => (t, t * -1.0),
        None => {
            if row.len() > 3
                && let Ok(curve) = fit_one(row, None, tolerance)
            {
                return vec![curve];
            }
            (tangent_at(row, 0, reach), tangent_at(row, row.len() - 1, reach) * -1.0)
        }
    };
    let mut curves = Vec::new();
    // parts in the order of the row, each with the tangents at its ends, both pointing inwards
    let mut open = vec![(0, row.len() - 1, ends.0, ends.1)];
    while let Some((from, to, start, end)) = open.pop() {
        let part = &row[from..=to];
        if part.len() == 2 {
            curves.push(short(part[0], part[1], start, end));
            continue;
        }
        match fit_one(part, Some((start, end)), tolerance) {
            Ok(curve) => curves.push(curve),
            Err(worst) => {
                let split = from + worst.clamp(1, part.len() - 2);
                let through = tangent_at(row, split, reach);
                open.push((split, to, through, end));
                open.push((from, split, start, through * -1.0));
            }
        }
    }
    curves
}

/// Two points: a curve that leaves and arrives by the tangents.
fn short(a: Point, b: Point, start: Point, end: Point) -> Bezier {
    let third = (b - a).norm() / 3.0;
    Bezier([a, a + start * third, b + end * third, b])
}

fn unit(v: Point) -> Option<Point> {
    let length = v.norm();
    (length > 1e-12).then(|| v * (1.0 / length))
}

/// Direction of a row at its point `i`: that of a free cubic through the points within reach, so that noise does not
/// turn it and a bend does not bias it.
fn tangent_at(row: &[Point], i: usize, reach: f64) -> Point {
    let near = |k: &usize| (row[*k] - row[i]).norm() <= reach;
    let from = (0..i).rev().take_while(near).last().unwrap_or(i.saturating_sub(1));
    let to = (i + 1..row.len()).take_while(near).last().unwrap_or((i + 1).min(row.len() - 1));
    let window = &row[from..=to];
    let chord = || unit(row[to] - row[from]).unwrap_or(Point::mm(1.0, 0.0));
    if window.len() < 5 {
        return chord();
    }
    let shares = by_length(window);
    match free_fit(window, &shares) {
        Some(curve) => unit(curve.slope(shares[i - from])).unwrap_or_else(chord),
        None => chord(),
    }
}

/// The tangent of a ring at one of its points.
pub(super) fn tangent_across(ring: &[Point], i: usize) -> Point {
    let n = ring.len();
    let half = (n / 8).clamp(1, 12);
    let window: Vec<Point> = (0..=2 * half).map(|k| ring[(i + n + k - half) % n]).collect();
    tangent_at(&window, half, f64::INFINITY)
}

/// One curve for a row, or the point at which it is farthest off.
fn fit_one(row: &[Point], tangents: Option<(Point, Point)>, tolerance: f64) -> Result<Bezier, usize> {
    let mut shares = by_length(row);
    let fitted = |shares: &[f64]| match tangents {
        Some((start, end)) => Some(least_squares(row, shares, start, end)),
        None => free_fit(row, shares),
    };
    let mut curve = fitted(&shares).ok_or(row.len() / 2)?;
    for _ in 0..6 {
        let (worst, off) = farthest(row, &shares, &curve);
        if off <= tolerance {
            return Ok(curve);
        }
        // far off: no better shares will help
        if off > 16.0 * tolerance {
            return Err(worst);
        }
        for (t, p) in shares.iter_mut().zip(row) {
            let (q, d1, d2) = (curve.at(*t) - *p, curve.slope(*t), curve.bend(*t));
            let denominator = d1.dot(d1) + q.dot(d2);
            if denominator.abs() > 1e-12 {
                *t = (*t - q.dot(d1) / denominator).clamp(0.0, 1.0);
            }
        }
        curve = fitted(&shares).ok_or(worst)?;
    }
    let (worst, off) = farthest(row, &shares, &curve);
    if off <= tolerance { Ok(curve) } else { Err(worst) }
}

fn by_length(row: &[Point]) -> Vec<f64> {
    let mut so_far = 0.0;
    let mut shares = vec![0.0];
    for w in row.windows(2) {
        so_far += (w[1] - w[0]).norm();
        shares.push(so_far);
    }
    shares.iter_mut().for_each(|s| *s /= so_far.max(1e-12));
    shares
}

fn farthest(row: &[Point], shares: &[f64], curve: &Bezier) -> (usize, f64) {
    let off = |i: usize| (curve.at(shares[i]) - row[i]).norm();
    let worst = (0..row.len()).max_by(|a, b| off(*a).total_cmp(&off(*b))).unwrap_or(0);
    (worst, off(worst))
}

/// The curve with given ends whose two control points fit best.
fn free_fit(row: &[Point], shares: &[f64]) -> Option<Bezier> {
    let (a, d) = (row[0], row[row.len() - 1]);
    let (mut c00, mut c01, mut c11) = (0.0, 0.0, 0.0);
    let (mut x0, mut x1) = (Point::default(), Point::default());
    for (p, t) in row.iter().zip(shares) {
        let s = 1.0 - t;
        let (b0, b1, b2, b3) = (s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t);
        let rest = *p - (a * b0 + d * b3);
        c00 += b1 * b1;
        c01 += b1 * b2;
        c11 += b2 * b2;
        x0 = x0 + rest * b1;
        x1 = x1 + rest * b2;
    }
    let determinant = c00 * c11 - c01 * c01;
    (determinant > 1e-9 * c00 * c11).then(|| {
        let b = (x0 * c11 - x1 * c01) * (1.0 / determinant);
        let c = (x1 * c00 - x0 * c01) * (1.0 / determinant);
        Bezier([a, b, c, d])
    })
}

/// The curve with given ends and tangents whose two free lengths fit best.
fn least_squares(row: &[Point], shares: &[f64], start: Point, end: Point) -> Bezier {
    let (a, d) = (row[0], row[row.len() - 1]);
    let (mut c00, mut c01, mut c11, mut x0, mut x1) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (p, t) in row.iter().zip(shares) {
        let s = 1.0 - t;
        let (b0, b1, b2, b3) = (s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t);
        let (u, v) = (start * b1, end * b2);
        let rest = *p - (a * (b0 + b1) + d * (b2 + b3));
        c00 += u.dot(u);
        c01 += u.dot(v);
        c11 += v.dot(v);
        x0 += u.dot(rest);
        x1 += v.dot(rest);
    }
    let determinant = c00 * c11 - c01 * c01;
    let long = (d - a).norm();
    let (l, r) = if determinant.abs() > 1e-12 {
        ((x0 * c11 - x1 * c01) / determinant, (c00 * x1 - c01 * x0) / determinant)
    } else {
        (0.0, 0.0)
    };
    // a length that is not ahead, or wildly long, makes loops
    let fine = |x: f64| x > 1e-3 * long && x < 4.0 * long.max(1e-9);
    let (l, r) = if fine(l) && fine(r) { (l, r) } else { (long / 3.0, long / 3.0) };
    Bezier([a, a + start * l, d + end * r, d])
}

/// The farthest that a point of one ring lies from another ring, mm. Both follow the same line, so the nearest edge is
/// looked for near the last one first.
pub(super) fn apart(ring: &[Point], other: &[Point]) -> f64 {
    let n = other.len();
    let distance = |p: Point, k: usize| {
        let (a, b) = (other[k % n], other[(k + 1) % n]);
        let along = b - a;
        let t = ((p - a).dot(along) / along.dot(along).max(1e-300)).clamp(0.0, 1.0);
        (a.toward(b, t) - p).norm()
    };
    let longest = (0..n).map(|k| (other[(k + 1) % n] - other[k]).norm()).fold(0.0, f64::max);
    let mut last = 0;
    let mut worst: f64 = 0.0;
    for (i, p) in ring.iter().enumerate() {
        let window = if i == 0 { n } else { 64.min(n) };
        let start = (last + n - window / 2) % n;
        let near = |from: usize, count: usize| {
            (from..from + count)
                .map(|k| (distance(*p, k), k % n))
                .min_by(|a, b| a.0.total_cmp(&b.0))
                .unwrap_or((f64::INFINITY, 0))
        };
        let (mut off, mut at) = near(start, window);
        // farther than the worst so far: look everywhere before it is believed
        if off > worst && off > 1e-3 * longest.min(1.0) && window < n {
            (off, at) = near(0, n);
        }
        last = at;
        worst = worst.max(off);
    }
    worst
}
