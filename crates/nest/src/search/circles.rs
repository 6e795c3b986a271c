//! Circles inside a shape, each the largest that fits beside those before it: a quick measure of overlap.
//!
//! The largest circle is found by a search in quarters of squares, as for poles of inaccessibility (Garcia-Castellanos
//! and Lombardo 2007, with the pruning that has become usual); squares are kept from one circle to the next, with their
//! distances, so that a new circle costs a few of them.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// Most circles, and fewer once they cover so much of the area.
const LIMITS: [(usize, f64); 3] = [(64, 0.0), (16, 0.8), (8, 0.9)];
/// How often a square may be quartered.
const DEPTH: u8 = 10;
/// A square is quartered only if it may hold a circle larger by this share.
const WORTH: f64 = 1.002;
/// No circle is larger than this share of what was found: rounding to f32.
const INSIDE: f64 = 1.0 - 1e-6;

/// Circles (x, y, radius) inside a simple ring, the largest first; at least one.
pub(crate) fn inscribed(ring: &[[f32; 2]]) -> Vec<[f32; 3]> {
    let ring: Vec<[f64; 2]> = ring.iter().map(|p| p.map(f64::from)).collect();
    let area = shoelace(&ring).abs();
    let mut squares = vec![around(&ring)];
    let mut circles: Vec<[f64; 3]> = Vec::new();
    let mut covered = 0.0;
    while let Some(circle) = largest(&ring, &mut squares, &circles) {
        circles.push(circle);
        covered += std::f64::consts::PI * circle[2] * circle[2] / area;
        if LIMITS.iter().any(|(most, share)| covered > *share && circles.len() >= *most) {
            break;
        }
    }
    circles.iter().map(|c| [c[0] as f32, c[1] as f32, (c[2] * INSIDE) as f32]).collect()
}

/// A square of the search.
struct Square {
    x: f64,
    y: f64,
    half: f64,
    depth: u8,
    /// Distance of its middle to the ring and to the first `seen` circles; negative outside the ring or inside a circle.
    clear: f64,
    seen: usize,
    /// Where its four quarters begin; none yet.
    quarters: Option<usize>,
}

impl Square {
    fn new(ring: &[[f64; 2]], x: f64, y: f64, half: f64, depth: u8) -> Self {
        Self { x, y, half, depth, clear: signed_distance(ring, x, y), seen: 0, quarters: None }
    }

    fn see(&mut self, circles: &[[f64; 3]]) {
        for [x, y, r] in &circles[self.seen..] {
            self.clear = self.clear.min((self.x - x).hypot(self.y - y) - r);
        }
        self.seen = circles.len();
    }

    /// No circle about a point of this square is larger.
    fn bound(&self) -> f64 {
        self.clear + self.half * std::f64::consts::SQRT_2
    }
}

fn around(ring: &[[f64; 2]]) -> Square {
    let side = |axis: usize| {
        let low = ring.iter().map(|p| p[axis]).fold(f64::INFINITY, f64::min);
        let high = ring.iter().map(|p| p[axis]).fold(f64::NEG_INFINITY, f64::max);
        ((low + high) / 2.0, (high - low) / 2.0)
    };
    let ((x, w), (y, h)) = (side(0), side(1));
    Square::new(ring, x, y, w.max(h), 0)
}

/// A square waiting, the most promising first.
struct Waiting(f64, usize);

impl PartialEq for Waiting {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for Waiting {}
impl PartialOrd for Waiting {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Waiting {
    fn cmp(&self, other: &Self) -> Ordering {
        self.0.total_cmp(&other.0).then(other.1.cmp(&self.1))
    }
}

/// The largest circle inside the ring and apart from the circles; none when nothing is left to be seen.
fn largest(ring: &[[f64; 2]], squares: &mut Vec<Square>, circles: &[[f64; 3]]) -> Option<[f64; 3]> {
    let mut best = [0.0; 3];
    let mut waiting = BinaryHeap::new();
    squares[0].see(circles);
    waiting.push(Waiting(squares[0].bound(), 0));
    while let Some(Waiting(bound, index)) = waiting.pop() {
        if bound <= best[2] * WORTH {
            break;
        }
        let Square { x, y, half, depth, clear, quarters, .. } = squares[index];
        if clear > best[2] {
            best = [x, y, clear];
        }
        if depth == DEPTH {
            continue;
        }
        let first = quarters.unwrap_or_else(|| {
            let first = squares.len();
            let q = half / 2.0;
            for (dx, dy) in [(-q, -q), (q, -q), (-q, q), (q, q)] {
                squares.push(Square::new(ring, x + dx, y + dy, q, depth + 1));
            }
            squares[index].quarters = Some(first);
            first
        });
        for (k, square) in squares.iter_mut().enumerate().skip(first).take(4) {
            square.see(circles);
            if square.bound() > best[2] * WORTH {
                waiting.push(Waiting(square.bound(), k));
            }
        }
    }
    (best[2] > 0.0).then_some(best)
}

/// Distance to the ring, negative outside.
fn signed_distance(ring: &[[f64; 2]], x: f64, y: f64) -> f64 {
    let mut least = f64::INFINITY;
    let mut inside = false;
    let mut a = ring[ring.len() - 1];
    for &b in ring {
        let (ex, ey, px, py) = (b[0] - a[0], b[1] - a[1], x - a[0], y - a[1]);
        let t = ((px * ex + py * ey) / (ex * ex + ey * ey).max(1e-300)).clamp(0.0, 1.0);
        let (dx, dy) = (px - t * ex, py - t * ey);
        least = least.min(dx * dx + dy * dy);
        if (a[1] > y) != (b[1] > y) && px < ex * py / ey {
            inside = !inside;
        }
        a = b;
    }
    if inside { least.sqrt() } else { -least.sqrt() }
}

fn shoelace(ring: &[[f64; 2]]) -> f64 {
    let next = ring.iter().skip(1).chain(ring.first());
    ring.iter().zip(next).map(|(a, b)| a[0] * b[1] - a[1] * b[0]).sum::<f64>() / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_circle_of_a_triangle_is_its_incircle() {
        // the 3-4-5 triangle has an incircle of radius 1 about (1, 1)
        let [x, y, r] = inscribed(&[[0.0, 0.0], [4.0, 0.0], [0.0, 3.0]])[0];
        assert!((x - 1.0).abs() < 0.01 && (y - 1.0).abs() < 0.01 && (r - 1.0).abs() < 0.01, "{x} {y} {r}");
    }

    #[test]
    fn circles_lie_inside_and_beside_each_other() {
        let bow =
            [[0.0, 0.0], [90.0, 0.0], [90.0, 10.0], [30.0, 25.0], [90.0, 40.0], [90.0, 60.0], [0.0, 55.0]];
        let circles = inscribed(&bow);
        let ring: Vec<[f64; 2]> = bow.iter().map(|p| p.map(f64::from)).collect();
        assert!(circles.len() >= 8);
        for (i, [x, y, r]) in circles.iter().enumerate() {
            let (x, y, r) = (f64::from(*x), f64::from(*y), f64::from(*r));
            assert!(signed_distance(&ring, x, y) >= r);
            for [ox, oy, or] in &circles[..i] {
                assert!((x - f64::from(*ox)).hypot(y - f64::from(*oy)) >= r + f64::from(*or) - 1e-3);
            }
        }
    }
}
