//! The place on a surface that is nearest to a point.

use crate::Mesh;
use crate::mesh::{add, cross, dot, norm, scale, sub};
use units::Length;

/// A place on a surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placed {
    /// The triangle.
    pub triangle: u32,
    /// Shares of its corners; they add up to 1.
    pub shares: [f64; 3],
    /// How far the point was from it.
    pub off: Length,
}

impl Placed {
    /// Where it lies, for corners given in any space.
    pub fn among<const N: usize>(&self, corners: [[f64; N]; 3]) -> [f64; N] {
        std::array::from_fn(|k| (0..3).map(|c| self.shares[c] * corners[c][k]).sum())
    }
}

/// A surface prepared for finding the nearest places to many points: its triangles in cubes.
#[derive(Debug)]
pub struct Places<'a> {
    mesh: &'a Mesh,
    low: [f64; 3],
    cube: f64,
    counts: [usize; 3],
    cubes: Vec<Vec<u32>>,
}

impl<'a> Places<'a> {
    /// Sorts the triangles into cubes.
    pub fn of(mesh: &'a Mesh) -> Self {
        let [low, high] = mesh.bounds();
        let size = sub(high, low);
        let most = size.into_iter().fold(1e-9, f64::max);
        // about as many cubes along the longest side as triangles lie along it
        let along = ((mesh.triangles.len() as f64 / 2.0).sqrt() / 2.0).clamp(1.0, 128.0);
        // and none smaller than a triangle, so that none lies in many cubes
        let cube = (most / along).max(mesh.mean_edge().as_mm());
        let counts = size.map(|s| (s / cube) as usize + 1);
        let mut cubes = vec![Vec::new(); counts.iter().product()];
        let mut places = Self { mesh, low, cube, counts, cubes: Vec::new() };
        for t in 0..mesh.triangles.len() {
            let corners = mesh.corners(t);
            let from =
                places.cube_of([0, 1, 2].map(|k| corners.iter().map(|c| c[k]).fold(f64::MAX, f64::min)));
            let to = places.cube_of([0, 1, 2].map(|k| corners.iter().map(|c| c[k]).fold(f64::MIN, f64::max)));
            for x in from[0]..=to[0] {
                for y in from[1]..=to[1] {
                    for z in from[2]..=to[2] {
                        cubes[(x * counts[1] + y) * counts[2] + z].push(t as u32);
                    }
                }
            }
        }
        places.cubes = cubes;
        places
    }

    fn cube_of(&self, p: [f64; 3]) -> [usize; 3] {
        [0, 1, 2].map(|k| (((p[k] - self.low[k]) / self.cube).max(0.0) as usize).min(self.counts[k] - 1))
    }

    /// The nearest place; none for an empty mesh.
    pub fn nearest(&self, p: [f64; 3]) -> Option<Placed> {
        let here = self.cube_of(p);
        let most = self.counts.into_iter().max().unwrap_or(1);
        let mut best: Option<Placed> = None;
        for ring in 0..=most {
            // shells of cubes about the point: what is farther out is at least ring − 1 cubes away
            if best.is_some_and(|b| b.off.as_mm() < (ring as f64 - 1.0) * self.cube) {
                break;
            }
            let range = |k: usize| here[k].saturating_sub(ring)..=(here[k] + ring).min(self.counts[k] - 1);
            for x in range(0) {
                for y in range(1) {
                    for z in range(2) {
                        let shell = x.abs_diff(here[0]).max(y.abs_diff(here[1])).max(z.abs_diff(here[2]));
                        if shell != ring {
                            continue;
                        }
                        for &t in &self.cubes[(x * self.counts[1] + y) * self.counts[2] + z] {
                            let placed = on_triangle(t, self.mesh.corners(t as usize), p);
                            if best.is_none_or(|b| nearer(&placed, &b)) {
                                best = Some(placed);
                            }
                        }
                    }
                }
            }
        }
        best
    }
}

fn nearer(a: &Placed, b: &Placed) -> bool {
    a.off.total_cmp(&b.off).then(a.triangle.cmp(&b.triangle)).is_lt()
}

/// The nearest place by looking at every triangle.
pub(super) fn nearest(vertices: &[[f64; 3]], triangles: &[[u32; 3]], p: [f64; 3]) -> Option<Placed> {
    triangles
        .iter()
        .enumerate()
        .map(|(t, corners)| on_triangle(t as u32, corners.map(|v| vertices[v as usize]), p))
        .min_by(|a, b| a.off.total_cmp(&b.off).then(a.triangle.cmp(&b.triangle)))
}

/// The nearest place on a triangle: inside by projection, else on one of its sides.
fn on_triangle(triangle: u32, [a, b, c]: [[f64; 3]; 3], p: [f64; 3]) -> Placed {
    let n = cross(sub(b, a), sub(c, a));
    let area = dot(n, n);
    if area > 0.0 {
        let shares = [(b, c), (c, a), (a, b)].map(|(q, r)| dot(cross(sub(q, p), sub(r, p)), n) / area);
        if shares.iter().all(|s| *s >= 0.0) {
            return Placed { triangle, shares, off: Length::mm(dot(sub(p, a), n).abs() / area.sqrt()) };
        }
    }
    let corners = [a, b, c];
    let side = |k: usize| {
        let (q, r) = (corners[k], corners[(k + 1) % 3]);
        let along = sub(r, q);
        let t = (dot(sub(p, q), along) / dot(along, along).max(f64::MIN_POSITIVE)).clamp(0.0, 1.0);
        let mut shares = [0.0; 3];
        shares[k] = 1.0 - t;
        shares[(k + 1) % 3] = t;
        let off = norm(sub(p, add(q, scale(along, t))));
        Placed { triangle, shares, off: Length::mm(off) }
    };
    let (first, second, third) = (side(0), side(1), side(2));
    let best = if second.off < first.off { second } else { first };
    if third.off < best.off { third } else { best }
}
