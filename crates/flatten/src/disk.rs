use crate::mesh::{Mesh, MeshFlaw, norm};
use crate::topology::Topology;

/// A mesh that is one sheet with one rim and no handle, every triangle with an area and every vertex used: what can
/// be flattened without being cut first.
#[derive(Clone, Debug, PartialEq)]
pub struct Disk {
    mesh: Mesh,
    topology: Topology,
}

/// Why a mesh is no disk.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NotADisk {
    /// It is no surface.
    #[error(transparent)]
    Mesh(#[from] MeshFlaw),
    /// It is in several sheets.
    #[error("the mesh is in {count} pieces: flatten them one by one")]
    Sheets {
        /// How many.
        count: usize,
    },
    /// It is closed, or has holes.
    #[error("the mesh has {count} rims, one is needed: {}", if *.count == 0 { "choose a region" } else { "fill the holes or cut to them" })]
    Rims {
        /// How many.
        count: usize,
    },
    /// It has a handle, like the grip of a cup.
    #[error("the mesh has a handle or tunnel: cut it open first")]
    Handle,
    /// A vertex belongs to no triangle.
    #[error("vertex {vertex} belongs to no triangle")]
    Unused {
        /// The vertex, from 0.
        vertex: usize,
    },
    /// A triangle without area, by the rounding of its coordinates.
    #[error("triangle {triangle} has no area")]
    Degenerate {
        /// The triangle, from 0.
        triangle: usize,
    },
}

impl Disk {
    /// Checks that the mesh is a disk.
    pub fn new(mesh: Mesh) -> Result<Self, NotADisk> {
        let topology = Topology::of(&mesh)?;
        let mut used = vec![false; mesh.vertices.len()];
        for v in mesh.triangles.iter().flatten() {
            used[*v as usize] = true;
        }
        if let Some(vertex) = used.iter().position(|u| !u) {
            return Err(NotADisk::Unused { vertex });
        }
        if topology.sheet_count() != 1 {
            return Err(NotADisk::Sheets { count: topology.sheet_count() });
        }
        if topology.rims.len() != 1 {
            return Err(NotADisk::Rims { count: topology.rims.len() });
        }
        // Euler: vertices − edges + triangles = 1, with 2 · edges = 3 · triangles + rim.
        let (v, t, r) = (mesh.vertices.len(), mesh.triangles.len(), topology.rims[0].len());
        if 2 * v != t + r + 2 {
            return Err(NotADisk::Handle);
        }
        if let Some(triangle) = (0..t).find(|&t| thin(&mesh, t)) {
            return Err(NotADisk::Degenerate { triangle });
        }
        Ok(Self { mesh, topology })
    }

    /// The surface.
    pub fn mesh(&self) -> &Mesh {
        &self.mesh
    }

    /// The surface, taken out.
    pub fn into_mesh(self) -> Mesh {
        self.mesh
    }

    /// How its triangles hang together.
    pub fn topology(&self) -> &Topology {
        &self.topology
    }

    /// The rim, with the surface on its left.
    pub fn rim(&self) -> &[u32] {
        &self.topology.rims[0]
    }
}

/// Height below a millionth of the longest side, or lost among the digits of the coordinates.
fn thin(mesh: &Mesh, t: usize) -> bool {
    let [a, b, c] = mesh.corners(t);
    let longest =
        [(a, b), (b, c), (c, a)].map(|(p, q)| norm(crate::mesh::sub(p, q))).into_iter().fold(0.0, f64::max);
    let largest = a.into_iter().chain(b).chain(c).fold(0.0, |m: f64, x| m.max(x.abs()));
    let height = norm(mesh.cross(t)) / longest;
    !(height > 1e-6 * longest && height > 1e-13 * largest)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn flat(points: &[[f64; 2]], triangles: &[[u32; 3]]) -> Mesh {
        Mesh { vertices: points.iter().map(|p| [p[0], p[1], 0.0]).collect(), triangles: triangles.to_vec() }
    }

    #[test]
    fn a_square_is_a_disk() {
        let mesh = flat(&[[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]], &[[0, 1, 2], [0, 2, 3]]);
        let disk = Disk::new(mesh).unwrap();
        assert_eq!(disk.rim(), [0, 1, 2, 3]);
        assert!((disk.mesh().area().as_mm2() - 1.0).abs() < 1e-15);
    }

    #[test]
    fn what_is_no_disk_is_named() {
        let check = |mesh: Mesh, wanted: NotADisk| assert_eq!(Disk::new(mesh), Err(wanted));
        check(flat(&[], &[]), NotADisk::Mesh(MeshFlaw::Empty));
        check(
            flat(&[[0.0, 0.0], [1.0, 0.0], [2.0, 0.0]], &[[0, 1, 2]]),
            NotADisk::Degenerate { triangle: 0 },
        );
        check(
            flat(&[[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [5.0, 5.0]], &[[0, 1, 2]]),
            NotADisk::Unused { vertex: 3 },
        );
        let ring: Vec<[f64; 2]> = (0..8)
            .map(|k| {
                let (s, c) = (std::f64::consts::FRAC_PI_4 * f64::from(k / 2 * 2)).sin_cos();
                let r = f64::from(1 + k % 2);
                [r * c, r * s]
            })
            .collect();
        let band: Vec<[u32; 3]> = (0..4)
            .flat_map(|k| [[2 * k, 2 * k + 1, (2 * k + 3) % 8], [2 * k, (2 * k + 3) % 8, (2 * k + 2) % 8]])
            .collect();
        check(flat(&ring, &band), NotADisk::Rims { count: 2 });
    }
}
