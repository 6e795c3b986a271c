//! A mesh that can be cut along paths over it.

use super::place::Placed;
use crate::Mesh;
use crate::mesh::{add, norm, scale, sub};
use std::collections::{HashMap, HashSet};

/// A share below which a place is taken for the corner or the side itself.
const SNAP: f64 = 1e-3;

/// A step of a path over a surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Step {
    /// Through a vertex.
    Vertex(u32),
    /// Over an edge, at a share of the way from its first vertex to its second.
    Edge(u32, u32, f64),
}

/// A mesh in work: its triangles can be found by their directed sides.
pub(super) struct Work {
    pub vertices: Vec<[f64; 3]>,
    pub triangles: Vec<[u32; 3]>,
    at: HashMap<(u32, u32), u32>,
}

impl Work {
    pub fn of(mesh: &Mesh) -> Self {
        let mut work =
            Self { vertices: mesh.vertices.clone(), triangles: mesh.triangles.clone(), at: HashMap::new() };
        for t in 0..work.triangles.len() {
            work.enter(t);
        }
        work
    }

    fn enter(&mut self, t: usize) {
        let [a, b, c] = self.triangles[t];
        for side in [(a, b), (b, c), (c, a)] {
            self.at.insert(side, t as u32);
        }
    }

    /// The corner opposite to a directed side; none where no triangle has it.
    pub fn opposite(&self, a: u32, b: u32) -> Option<u32> {
        let t = *self.at.get(&(a, b))?;
        self.triangles[t as usize].into_iter().find(|v| *v != a && *v != b)
    }

    fn has_edge(&self, a: u32, b: u32) -> bool {
        self.at.contains_key(&(a, b)) || self.at.contains_key(&(b, a))
    }

    pub fn length(&self, a: u32, b: u32) -> f64 {
        norm(sub(self.vertices[a as usize], self.vertices[b as usize]))
    }

    /// A vertex at a place: an old one where there is one close by.
    pub fn insert(&mut self, placed: &Placed) -> u32 {
        let corners = self.triangles[placed.triangle as usize];
        if let Some(k) = (0..3).find(|k| placed.shares[*k] >= 1.0 - SNAP) {
            return corners[k];
        }
        if let Some(k) = (0..3).find(|k| placed.shares[*k] <= SNAP) {
            let (a, b) = (corners[(k + 1) % 3], corners[(k + 2) % 3]);
            let (s, t) = (placed.shares[(k + 1) % 3], placed.shares[(k + 2) % 3]);
            return self.split(a, b, t / (s + t));
        }
        let [a, b, c] = corners;
        let place = placed.among(corners.map(|v| self.vertices[v as usize]));
        let new = self.vertices.len() as u32;
        self.vertices.push(place);
        self.triangles[placed.triangle as usize] = [a, b, new];
        self.enter(placed.triangle as usize);
        for t in [[b, c, new], [c, a, new]] {
            self.triangles.push(t);
            self.enter(self.triangles.len() - 1);
        }
        new
    }

    /// A vertex on an edge; the triangles at it become two each.
    fn split(&mut self, a: u32, b: u32, share: f64) -> u32 {
        let new = self.vertices.len() as u32;
        let (p, q) = (self.vertices[a as usize], self.vertices[b as usize]);
        self.vertices.push(add(p, scale(sub(q, p), share)));
        for (a, b) in [(a, b), (b, a)] {
            let Some(t) = self.at.remove(&(a, b)) else { continue };
            let Some(c) = self.triangles[t as usize].into_iter().find(|v| *v != a && *v != b) else {
                continue;
            };
            self.triangles[t as usize] = [a, new, c];
            self.enter(t as usize);
            self.triangles.push([new, b, c]);
            self.enter(self.triangles.len() - 1);
        }
        new
    }

    /// Makes a path from a vertex a run of edges; none where it crosses an edge twice.
    pub fn cut(&mut self, from: u32, way: &[Step]) -> Option<Vec<(u32, u32)>> {
        let mut last = from;
        let mut edges = Vec::new();
        for step in way {
            let next = match *step {
                Step::Vertex(v) => v,
                Step::Edge(a, b, share) if self.has_edge(a, b) => self.split(a, b, share),
                Step::Edge(..) => return None,
            };
            if next == last {
                continue;
            }
            if !self.has_edge(last, next) {
                return None;
            }
            edges.push((last, next));
            last = next;
        }
        Some(edges)
    }

    /// For each triangle, the number of its part where the walls are not crossed.
    pub fn parted(&self, walls: &[(u32, u32)]) -> Vec<u32> {
        let walls: HashSet<(u32, u32)> = walls.iter().flat_map(|(a, b)| [(*a, *b), (*b, *a)]).collect();
        let mut sides = vec![u32::MAX; self.triangles.len()];
        let mut count = 0;
        for seed in 0..self.triangles.len() {
            if sides[seed] != u32::MAX {
                continue;
            }
            sides[seed] = count;
            let mut open = vec![seed];
            while let Some(t) = open.pop() {
                let [a, b, c] = self.triangles[t];
                for (p, q) in [(a, b), (b, c), (c, a)] {
                    let across = self.at.get(&(q, p)).filter(|_| !walls.contains(&(p, q)));
                    if let Some(o) = across.map(|o| *o as usize).filter(|o| sides[*o] == u32::MAX) {
                        sides[o] = count;
                        open.push(o);
                    }
                }
            }
            count += 1;
        }
        sides
    }

    /// The part inside a loop: of those that the most of the loop borders, one without rim, else the smallest.
    pub fn inner(&self, walls: &[(u32, u32)], sides: &[u32], count: usize) -> Option<u32> {
        let mut bordered = vec![0.0; count];
        let mut rim = vec![0.0; count];
        let mut area = vec![0.0; count];
        for (a, b) in walls {
            let both = [self.at.get(&(*a, *b)), self.at.get(&(*b, *a))];
            let mut met: Vec<u32> = both.into_iter().flatten().map(|t| sides[*t as usize]).collect();
            met.dedup();
            met.into_iter().for_each(|s| bordered[s as usize] += self.length(*a, *b));
        }
        let walls: HashSet<(u32, u32)> = walls.iter().flat_map(|(a, b)| [(*a, *b), (*b, *a)]).collect();
        for (t, corners) in self.triangles.iter().enumerate() {
            let s = sides[t] as usize;
            let [a, b, c] = *corners;
            let [p, q, r] = corners.map(|v| self.vertices[v as usize]);
            area[s] += norm(crate::mesh::cross(sub(q, p), sub(r, p)));
            for (p, q) in [(a, b), (b, c), (c, a)] {
                if !self.at.contains_key(&(q, p)) && !walls.contains(&(p, q)) {
                    rim[s] += self.length(p, q);
                }
            }
        }
        let most = bordered.iter().copied().fold(0.0, f64::max);
        (0..count)
            .filter(|s| bordered[*s] >= 0.999 * most)
            .min_by(|a, b| (rim[*a] > 0.0).cmp(&(rim[*b] > 0.0)).then(area[*a].total_cmp(&area[*b])))
            .map(|s| s as u32)
    }
}
