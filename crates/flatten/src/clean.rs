//! Noise smoothed away without moving the rim: (M + ℓ⁴/16 · L M̃⁻¹ L) x = M x, the bi-Laplacian with its natural
//! boundary, which is had by leaving the rim out of M̃⁻¹. Bends longer than ℓ stay.

use crate::disk::Disk;
use crate::mesh::{Mesh, cross, dot, norm, sub};
use crate::sparse::NotSolvable;
use faer::linalg::solvers::Solve;
use faer::sparse::{SparseColMat, Triplet};
use faer::{Mat, Side};
use units::Length;

/// A vertex with more neighbors than this is no part of an even surface.
const HUB: usize = 64;

/// The surface with noise shorter than about `length` smoothed away; same triangles.
pub fn clean(disk: &Disk, length: Length) -> Result<Mesh, NotSolvable> {
    let mesh = disk.mesh();
    let count = mesh.vertices.len();
    let (mass, laplacian) = (masses(mesh), Laplacian::new(mesh));
    let weight = length.as_mm().powi(4) / 16.0;
    let mut entries = Vec::with_capacity(20 * count);
    for v in 0..count {
        entries.push(Triplet::new(v as u32, v as u32, mass[v]));
        // L is symmetric: row v of L, weighted, times itself. The hub of a large fan is left as the rim is: its row
        // would fill the matrix.
        let row = laplacian.row(v);
        if disk.topology().on_rim[v] || row.len() > HUB {
            continue;
        }
        for (i, a) in row {
            for (j, b) in row {
                if i >= j {
                    entries.push(Triplet::new(*i, *j, weight / mass[v] * a * b));
                }
            }
        }
    }
    let matrix =
        SparseColMat::<u32, f64>::try_new_from_triplets(count, count, &entries).map_err(|_| NotSolvable)?;
    let factor = matrix.sp_cholesky(Side::Lower).map_err(|_| NotSolvable)?;
    let right = Mat::from_fn(count, 3, |v, k| mass[v] * mesh.vertices[v][k]);
    let solved = factor.solve(&right);
    let vertices = (0..count).map(|v| [0, 1, 2].map(|k| solved[(v, k)])).collect();
    Ok(Mesh { vertices, triangles: mesh.triangles.clone() })
}

/// A third of the area of the triangles around each vertex, mm².
fn masses(mesh: &Mesh) -> Vec<f64> {
    let mut mass = vec![0.0; mesh.vertices.len()];
    for (t, corners) in mesh.triangles.iter().enumerate() {
        let third = norm(mesh.cross(t)) / 6.0;
        corners.iter().for_each(|&v| mass[v as usize] += third);
    }
    mass
}

/// The cotangent Laplacian by rows.
pub struct Laplacian {
    starts: Vec<u32>,
    entries: Vec<(u32, f64)>,
}

impl Laplacian {
    /// Of a mesh.
    pub fn new(mesh: &Mesh) -> Self {
        let mut all: Vec<(u32, u32, f64)> = Vec::with_capacity(12 * mesh.triangles.len());
        for (t, corners) in mesh.triangles.iter().enumerate() {
            let places = mesh.corners(t);
            for k in 0..3 {
                // The angle at corner k weighs the side across from it.
                let (a, b, c) = (places[k], places[(k + 1) % 3], places[(k + 2) % 3]);
                let (p, q) = (sub(b, a), sub(c, a));
                let half = dot(p, q) / norm(cross(p, q)) / 2.0;
                let (i, j) = (corners[(k + 1) % 3], corners[(k + 2) % 3]);
                all.extend([(i, j, -half), (j, i, -half), (i, i, half), (j, j, half)]);
            }
        }
        all.sort_by_key(|e| (e.0, e.1));
        let mut starts = vec![0];
        let mut entries: Vec<(u32, f64)> = Vec::with_capacity(all.len() / 3);
        let mut row = 0;
        for group in all.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)) {
            while row < group[0].0 {
                starts.push(entries.len() as u32);
                row += 1;
            }
            entries.push((group[0].1, group.iter().map(|e| e.2).sum()));
        }
        starts.resize(mesh.vertices.len() + 1, entries.len() as u32);
        Self { starts, entries }
    }

    /// Columns and values of a row.
    pub fn row(&self, v: usize) -> &[(u32, f64)] {
        &self.entries[self.starts[v] as usize..self.starts[v + 1] as usize]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tile::tile;

    #[test]
    fn ripples_go_and_bends_stay() {
        let square = [[0.0, 0.0], [300.0, 0.0], [300.0, 200.0], [0.0, 200.0]];
        let tiling = tile(&square, &[], 6.0).unwrap();
        let bend = |p: &[f64; 2]| -(p[0] - 150.0).powi(2) / 3000.0;
        let surface = |ripple: f64| {
            let z = |p: &[f64; 2]| bend(p) + ripple * (1.7 * p[0] + 2.3 * p[1]).sin();
            let vertices = tiling.points.iter().map(|p| [p[0], p[1], z(p)]).collect();
            Disk::new(Mesh { vertices, triangles: tiling.triangles.clone() }).unwrap()
        };
        let off = |mesh: &Mesh| {
            mesh.vertices.iter().map(|v| (v[2] - bend(&[v[0], v[1]])).abs()).fold(0.0, f64::max)
        };
        let inner = |mesh: &Mesh| {
            let far = |v: &&[f64; 3]| v[0] > 30.0 && v[0] < 270.0 && v[1] > 30.0 && v[1] < 170.0;
            mesh.vertices.iter().filter(far).map(|v| (v[2] - bend(&[v[0], v[1]])).abs()).fold(0.0, f64::max)
        };
        assert!(off(&clean(&surface(0.0), Length::mm(12.0)).unwrap()) < 0.05);
        assert!(inner(&clean(&surface(0.3), Length::mm(12.0)).unwrap()) < 0.06);
    }
}
