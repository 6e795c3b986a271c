//! Exact questions about rings: does one cross itself, is a point inside, do two overlap.

use crate::{Bounds, Point};

/// Where a ring is not simple.
pub(crate) enum Crossing {
    /// All points lie on one line.
    Flat,
    /// Two edges cross or touch here.
    At(Point),
}

/// Which side of a ring a point lies on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Side {
    Inside,
    On,
    Outside,
}

/// Sign of the turn a → b → c (exact, by Shewchuk's adaptive predicate).
pub(crate) fn turn(a: Point, b: Point, c: Point) -> f64 {
    let coord = |p: Point| robust::Coord { x: p.x, y: p.y };
    robust::orient2d(coord(a), coord(b), coord(c))
}

/// The first place, from the left, where a ring crosses or touches itself.
///
/// Shamos and Hoey (1976), sweeping from left to right with exact predicates.
pub(crate) fn first_crossing(points: &[Point]) -> Option<Crossing> {
    if points.windows(3).all(|w| turn(w[0], w[1], w[2]) == 0.0) {
        return Some(Crossing::Flat);
    }
    Sweep { points, status: Vec::new() }.run().map(Crossing::At)
}

struct Sweep<'a> {
    points: &'a [Point],
    /// Edges that meet the sweep line, lowest first; edge `i` joins point `i` to the next.
    status: Vec<usize>,
}

impl Sweep<'_> {
    fn run(mut self) -> Option<Point> {
        let n = self.points.len();
        let mut order: Vec<usize> = (0..n).collect();
        order.sort_by(|&a, &b| compare(self.points[a], self.points[b]));
        if let Some(w) = order.windows(2).find(|w| self.points[w[0]] == self.points[w[1]]) {
            return Some(self.points[w[0]]);
        }
        order.into_iter().find_map(|v| self.pass((v + n - 1) % n, v))
    }

    /// Passes point `v`, where edges `before` and `v` meet.
    fn pass(&mut self, before: usize, v: usize) -> Option<Point> {
        let p = self.points[v];
        let side = |sweep: &Self, edge: usize| {
            let (a, b) = sweep.ends(edge);
            turn(a, b, p)
        };
        let low = self.status.partition_point(|&e| side(self, e) > 0.0);
        let high = low + self.status[low..].partition_point(|&e| side(self, e) == 0.0);
        if self.status[low..high].iter().any(|&e| e != before && e != v) {
            return Some(p);
        }
        let mut starting: Vec<usize> = [before, v].into_iter().filter(|&e| self.ends(e).0 == p).collect();
        if let [a, b] = starting[..] {
            let t = turn(p, self.ends(a).1, self.ends(b).1);
            if t == 0.0 {
                return Some(p);
            }
            if t < 0.0 {
                starting.reverse();
            }
        }
        let count = starting.len();
        self.status.splice(low..high, starting);
        let above = low + count;
        let touching = |i: usize, j: usize| self.meet(*self.status.get(i)?, *self.status.get(j)?);
        let below = low.checked_sub(1).and_then(|i| touching(i, low));
        below.or_else(|| if count > 0 { touching(above - 1, above) } else { None })
    }

    /// Ends of an edge, left one first.
    fn ends(&self, edge: usize) -> (Point, Point) {
        let (a, b) = (self.points[edge], self.points[(edge + 1) % self.points.len()]);
        if compare(a, b).is_lt() { (a, b) } else { (b, a) }
    }

    /// Where two edges meet, other than in the point that neighbors share.
    fn meet(&self, e: usize, f: usize) -> Option<Point> {
        let n = self.points.len();
        if (e + 1) % n == f || (f + 1) % n == e {
            return None; // neighbors that fold back on themselves are found where they start or end
        }
        let ((a, b), (c, d)) = (self.ends(e), self.ends(f));
        segments_meet(a, b, c, d).then(|| meeting_point(a, b, c, d))
    }
}

/// Order of the sweep: from left to right, then upwards.
fn compare(a: Point, b: Point) -> std::cmp::Ordering {
    // `+ 0.0` makes −0 and 0 the same
    (a.x + 0.0).total_cmp(&(b.x + 0.0)).then((a.y + 0.0).total_cmp(&(b.y + 0.0)))
}

/// Whether two closed segments share a point (exact).
pub(crate) fn segments_meet(a: Point, b: Point, c: Point, d: Point) -> bool {
    let apart = |p: f64, q: f64, r: f64, s: f64| p.max(q) < r.min(s) || r.max(s) < p.min(q);
    if apart(a.x, b.x, c.x, d.x) || apart(a.y, b.y, c.y, d.y) {
        return false;
    }
    let (c_side, d_side) = (turn(a, b, c), turn(a, b, d));
    if (c_side > 0.0 && d_side > 0.0) || (c_side < 0.0 && d_side < 0.0) {
        return false;
    }
    let (a_side, b_side) = (turn(c, d, a), turn(c, d, b));
    !((a_side > 0.0 && b_side > 0.0) || (a_side < 0.0 && b_side < 0.0))
}

/// About where two segments known to meet do so.
fn meeting_point(a: Point, b: Point, c: Point, d: Point) -> Point {
    let denominator = (b - a).cross(d - c);
    if denominator == 0.0 {
        return if compare(a, c).is_lt() { c } else { a };
    }
    a.toward(b, ((c - a).cross(d - c) / denominator).clamp(0.0, 1.0))
}

/// On which side of a ring a point lies (exact; even-odd rule).
pub(crate) fn inside(ring: &[Point], p: Point) -> Side {
    let mut odd = false;
    let Some(&last) = ring.last() else { return Side::Outside };
    let mut a = last;
    for &b in ring {
        if (a.y > p.y) != (b.y > p.y) {
            let t = if a.y < b.y { turn(a, b, p) } else { turn(b, a, p) };
            if t == 0.0 {
                return Side::On;
            }
            odd ^= t > 0.0;
        } else if a.y == p.y && b.y == p.y {
            if p.x >= a.x.min(b.x) && p.x <= a.x.max(b.x) {
                return Side::On;
            }
        } else if b == p || a == p {
            return Side::On;
        }
        a = b;
    }
    if odd { Side::Inside } else { Side::Outside }
}

/// Distance from a point to a closed segment.
pub(crate) fn point_segment(p: Point, a: Point, b: Point) -> f64 {
    let d = b - a;
    let t = ((p - a).dot(d) / d.dot(d)).clamp(0.0, 1.0);
    (p - a.toward(b, t)).norm()
}

/// Distance between two closed segments; zero where they meet (exact).
fn segment_distance(a: Point, b: Point, c: Point, d: Point) -> f64 {
    if segments_meet(a, b, c, d) {
        return 0.0;
    }
    point_segment(a, c, d).min(point_segment(b, c, d)).min(point_segment(c, a, b)).min(point_segment(d, a, b))
}

fn edges(ring: &[Point]) -> impl Iterator<Item = (Point, Point)> + Clone + '_ {
    ring.iter().copied().zip(ring.iter().copied().cycle().skip(1))
}

/// How far a box around one segment is from a box around another, at least.
fn box_gap(a: Point, b: Point, c: Point, d: Point) -> f64 {
    let dx = (c.x.min(d.x) - a.x.max(b.x)).max(a.x.min(b.x) - c.x.max(d.x)).max(0.0);
    let dy = (c.y.min(d.y) - a.y.max(b.y)).max(a.y.min(b.y) - c.y.max(d.y)).max(0.0);
    dx.hypot(dy)
}

/// Shortest way between two rings; zero where they meet (exact), whichever holds the other.
///
/// A few corners give a first bound; only edges within it of the other's box are compared, in a sweep along the
/// axis on which they spread more, so that rings of many thousand points stay cheap.
pub(crate) fn ring_distance(one: &[Point], other: &[Point]) -> f64 {
    let Some((my_box, their_box)) = Bounds::around(one).zip(Bounds::around(other)) else {
        return f64::INFINITY;
    };
    let probes = one.iter().step_by(1 + one.len() / 8);
    let mut least = probes.map(|p| point_ring(*p, other)).fold(f64::INFINITY, f64::min);
    let near = |ring, b: Bounds| -> Vec<(Point, Point)> {
        edges(ring).filter(|(p, q)| box_gap(*p, *q, b.low, b.high) <= least).collect()
    };
    let (mine, mut theirs) = (near(one, their_box), near(other, my_box));
    let ends: Vec<Point> = theirs.iter().flat_map(|(p, q)| [*p, *q]).collect();
    let Some(spread) = Bounds::around(&ends) else { return least };
    let along_x = spread.width() >= spread.height();
    let span = |(p, q): &(Point, Point)| {
        let (u, v) = if along_x { (p.x, q.x) } else { (p.y, q.y) };
        (u.min(v), u.max(v))
    };
    theirs.sort_by(|e, f| span(e).0.total_cmp(&span(f).0));
    let longest = theirs.iter().map(|e| span(e).1 - span(e).0).fold(0.0, f64::max);
    for edge in &mine {
        let ((a, b), (low, high)) = (*edge, span(edge));
        let from = theirs.partition_point(|e| span(e).0 < low - least - longest);
        for e in &theirs[from..] {
            if span(e).0 > high + least {
                break;
            }
            if box_gap(a, b, e.0, e.1) < least {
                least = segment_distance(a, b, e.0, e.1).min(least);
                if least == 0.0 {
                    return 0.0;
                }
            }
        }
    }
    least
}

/// Shortest way from a point to a ring.
pub(crate) fn point_ring(p: Point, ring: &[Point]) -> f64 {
    edges(ring).map(|(a, b)| point_segment(p, a, b)).fold(f64::INFINITY, f64::min)
}

/// Whether two closed outlines share a point (exact).
pub(crate) fn meet(one: &[Point], other: &[Point]) -> bool {
    let holds = |ring: &[Point], of: &[Point]| of.first().is_some_and(|p| inside(ring, *p) != Side::Outside);
    ring_distance(one, other) == 0.0 || holds(one, other) || holds(other, one)
}

/// Points of `ring` that tell whether it runs through `other`: its corners, and the middles of the
/// parts into which the edges of `other` cut its edges.
fn witnesses(ring: &[Point], other: &[Point]) -> Vec<Point> {
    let mut found = Vec::new();
    for (a, b) in edges(ring) {
        found.push(a);
        let length = (b - a).norm();
        let mut cuts = vec![0.0, 1.0];
        for (c, d) in edges(other) {
            if box_gap(a, b, c, d) > 1e-9 {
                continue;
            }
            let denominator = (b - a).cross(d - c);
            if denominator != 0.0 {
                cuts.push((c - a).cross(d - c) / denominator);
            }
            for end in [c, d] {
                cuts.push((end - a).dot(b - a) / (length * length));
            }
        }
        cuts.retain(|t| (0.0..=1.0).contains(t));
        cuts.sort_by(f64::total_cmp);
        cuts.dedup();
        found.extend(cuts.windows(2).map(|w| a.toward(b, (w[0] + w[1]) / 2.0)));
    }
    found
}

/// A point inside a ring, as far from it as the middles of its chords come.
pub(crate) fn inner_point(ring: &[Point]) -> Option<Point> {
    let n = ring.len();
    let chords = (0..n).flat_map(|i| [(i, (i + 2) % n), (i, (i + n / 2) % n), (i, (i + n / 3) % n)]);
    chords
        .map(|(i, j)| ring[i].toward(ring[j], 0.5))
        .filter(|p| inside(ring, *p) == Side::Inside)
        .map(|p| (point_ring(p, ring), p))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, p)| p)
}

/// How deep two outlines lie in each other: the farthest that the boundary of one comes inside the other.
pub(crate) fn penetration(one: &[Point], other: &[Point]) -> f64 {
    let deepest = |of: &[Point], within: &[Point]| {
        witnesses(of, within)
            .into_iter()
            .filter(|p| inside(within, *p) == Side::Inside)
            .map(|p| point_ring(p, within))
            .fold(0.0, f64::max)
    };
    let depth = deepest(one, other).max(deepest(other, one));
    let same = |a: &[Point], b: &[Point]| {
        inner_point(a).filter(|p| inside(b, *p) == Side::Inside).map_or(0.0, |p| point_ring(p, b))
    };
    if depth > 0.0 { depth } else { same(one, other).min(same(other, one)) }
}

/// How far `other` sticks out of `ring`, at the most; zero where it lies inside or touches.
pub(crate) fn protrusion(ring: &[Point], other: &[Point]) -> f64 {
    let outside = witnesses(other, ring).into_iter().filter(|p| inside(ring, *p) == Side::Outside);
    let out = outside.map(|p| point_ring(p, ring)).fold(0.0, f64::max);
    // where the container has a dent, its corners reach into the other
    let dents = ring.iter().filter(|p| inside(other, **p) == Side::Inside).map(|p| point_ring(*p, other));
    dents.fold(out, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;
    use units::Seed;

    #[test]
    fn the_sweep_finds_the_same_distance_as_all_pairs() {
        for seed in 0..400 {
            let mut chance = Seed(seed).sequence();
            let mut star = |x: f64, y: f64| -> Vec<Point> {
                let n = 3 + chance.below(40);
                let corner = |i: usize, r: f64| {
                    let angle = std::f64::consts::TAU * i as f64 / n as f64;
                    Point::mm(x + r * angle.cos(), y + r * angle.sin())
                };
                (0..n).map(|i| corner(i, chance.between(20.0, 100.0))).collect()
            };
            let (one, other) = (star(0.0, 0.0), star(seed as f64 * 0.7, 300.0 - seed as f64));
            let pairs =
                edges(&one).flat_map(|(a, b)| edges(&other).map(move |(c, d)| segment_distance(a, b, c, d)));
            let slow = pairs.fold(f64::INFINITY, f64::min);
            assert_eq!(ring_distance(&one, &other), slow, "seed {seed}");
        }
    }
}
