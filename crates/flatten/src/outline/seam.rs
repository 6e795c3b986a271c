//! Which parts of a rim were made by cuts, and where the two sides of a cut come together.

use super::Traced;
use crate::flattening::Flattening;
use crate::mesh::{norm, sub};
use plane::Point;
use std::collections::BTreeSet;

/// The rim of a flat piece.
pub(super) struct Rim {
    /// Its vertices in order.
    pub vertices: Vec<u32>,
    /// Whether a cut made the side from each vertex to the next.
    cut: Vec<bool>,
}

/// From one place where a cut comes together to the next, about, mm. Common practice, no source.
const APART: f64 = 250.0;
/// Places on two sides of a cut are the same within this, mm.
const SAME: f64 = 1.0;
/// A side of a cut runs past a place within this, mm.
const PAST: f64 = 3.0;

impl Rim {
    pub fn of(flattening: &Flattening) -> Self {
        let topology = crate::Topology::of(&flattening.surface).ok();
        let vertices = topology.and_then(|t| t.rims.into_iter().next()).unwrap_or_default();
        let made: BTreeSet<[u32; 2]> =
            flattening.cut_sides.iter().flat_map(|[a, b]| [[*a, *b], [*b, *a]]).collect();
        let n = vertices.len();
        let cut = (0..n).map(|k| made.contains(&[vertices[k], vertices[(k + 1) % n]])).collect();
        Self { vertices, cut }
    }

    /// Where cuts begin and end, and the tips of relief cuts: corners of the outline.
    pub fn ends(&self, points: &[Point]) -> Vec<Point> {
        let n = points.len();
        let tips = self.runs().into_iter().flat_map(|(from, count)| {
            let turn = |k: usize| {
                let (a, b, c) = (points[(k + n - 1) % n], points[k % n], points[(k + 1) % n]);
                (b - a).dot(c - b) < 0.0
            };
            (from + 1..from + count).filter(|k| turn(*k)).map(|k| k % n).collect::<Vec<_>>()
        });
        let tips: Vec<usize> = tips.collect();
        let change = |k: &usize| self.cut[*k] != self.cut[(k + n - 1) % n];
        (0..n).filter(|k| change(k) || tips.contains(k)).map(|k| points[k]).collect()
    }

    /// Tells each edge of the outline whether a cut made it: most of its length runs along sides that cuts made.
    pub fn tell(&self, points: &[Point], traced: &mut Traced) {
        let n = points.len();
        if !self.cut.contains(&true) {
            return;
        }
        let ring = traced.outline.points();
        let made = |p: Point| {
            let away = |k: &usize| to_segment(p, points[*k], points[(*k + 1) % n]);
            (0..n).min_by(|a, b| away(a).total_cmp(&away(b))).is_some_and(|k| self.cut[k])
        };
        for edge in &mut traced.edges {
            // ends belong to two edges: places well inside decide
            let count = edge.to - edge.from;
            let places = (1..=7).map(|k| {
                let at = edge.from as f64 + count as f64 * f64::from(k) / 8.0;
                let i = at.floor() as usize;
                ring[i % ring.len()].toward(ring[(i + 1) % ring.len()], at.fract())
            });
            edge.cut = places.filter(|p| made(*p)).count() >= 4;
        }
    }

    /// Runs of sides that cuts made: the first side, and how many.
    fn runs(&self) -> Vec<(usize, usize)> {
        let n = self.cut.len();
        let starts = (0..n).filter(|k| self.cut[*k] && !self.cut[(k + n - 1) % n]);
        starts.map(|from| (from, (0..n).take_while(|i| self.cut[(from + i) % n]).count())).collect()
    }

    fn places_of(&self, flattening: &Flattening, (from, count): (usize, usize)) -> Vec<[f64; 3]> {
        let n = self.vertices.len();
        (from..=from + count).map(|k| flattening.surface.vertices[self.vertices[k % n] as usize]).collect()
    }

    /// The places on the film where the sides of cuts run past places on the panel, mm.
    pub fn meeting(&self, flattening: &Flattening, places: &[[f64; 3]]) -> Vec<[f64; 2]> {
        let mut found = Vec::new();
        let n = self.vertices.len();
        for run in self.runs() {
            let line = self.places_of(flattening, run);
            for place in places {
                let near: Vec<(f64, f64)> =
                    line.windows(2).map(|side| nearest(*place, side[0], side[1])).collect();
                // each stretch that passes by gives one place: a relief cut passes twice
                let mut k = 0;
                while k < near.len() {
                    let end = (k..near.len()).find(|i| near[*i].0 > PAST).unwrap_or(near.len());
                    if let Some(i) = (k..end).min_by(|a, b| near[*a].0.total_cmp(&near[*b].0)) {
                        let at = |i: usize| flattening.flat[self.vertices[(run.0 + i) % n] as usize];
                        let (p, q, t) = (at(i), at(i + 1), near[i].1);
                        found.push([0, 1].map(|c| p[c] + t * (q[c] - p[c])));
                    }
                    k = end + 1;
                }
            }
        }
        found
    }
}

/// Places on the panel where the two sides of cuts are to come together, evenly along each.
pub(super) fn places(pieces: &[Flattening]) -> Vec<[f64; 3]> {
    let mut places: Vec<[f64; 3]> = Vec::new();
    for piece in pieces {
        let rim = Rim::of(piece);
        for run in rim.runs() {
            let line = rim.places_of(piece, run);
            // both sides of a relief cut are one run that comes back to where it began
            let back = norm(sub(line[0], line[line.len() - 1])) < SAME;
            let line = if back { &line[..=line.len() / 2] } else { &line[..] };
            let long: f64 = line.windows(2).map(|p| norm(sub(p[1], p[0]))).sum();
            let count = (long / APART).round().clamp(1.0, 8.0);
            for k in 1..=count as usize {
                let place = along(line, long * k as f64 / (count + 1.0));
                if places.iter().all(|p| norm(sub(*p, place)) > SAME) {
                    places.push(place);
                }
            }
        }
    }
    places
}

fn along(line: &[[f64; 3]], mut left: f64) -> [f64; 3] {
    for pair in line.windows(2) {
        let long = norm(sub(pair[1], pair[0]));
        if left <= long {
            let t = left / long.max(1e-12);
            return [0, 1, 2].map(|k| pair[0][k] + t * (pair[1][k] - pair[0][k]));
        }
        left -= long;
    }
    line[line.len() - 1]
}

/// Distance from a place to a segment, and where on it.
fn nearest(p: [f64; 3], a: [f64; 3], b: [f64; 3]) -> (f64, f64) {
    let (along, away) = (sub(b, a), sub(p, a));
    let dot = |u: [f64; 3], v: [f64; 3]| u[0] * v[0] + u[1] * v[1] + u[2] * v[2];
    let t = (dot(away, along) / dot(along, along).max(1e-300)).clamp(0.0, 1.0);
    (norm(sub(away, along.map(|c| c * t))), t)
}

fn to_segment(p: Point, a: Point, b: Point) -> f64 {
    let along = b - a;
    let t = ((p - a).dot(along) / along.dot(along).max(1e-300)).clamp(0.0, 1.0);
    (a.toward(b, t) - p).norm()
}
