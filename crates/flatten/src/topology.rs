use crate::mesh::{Mesh, MeshFlaw};

/// How the triangles of a mesh hang together: an oriented surface with rims, perhaps in several sheets.
#[derive(Clone, Debug, PartialEq)]
pub struct Topology {
    /// For each triangle, the triangle across the side from corner k to corner k + 1; none at the rim.
    pub across: Vec<[Option<u32>; 3]>,
    /// The rims, each a closed walk of vertices with the surface on its left, in the order of their least vertex.
    pub rims: Vec<Vec<u32>>,
    /// For each triangle, the number of its sheet, from 0 in the order of the triangles.
    pub sheets: Vec<u32>,
    /// For each vertex, whether it lies on a rim.
    pub on_rim: Vec<bool>,
}

const NONE: u32 = u32::MAX;

impl Topology {
    /// Reads it off the triangles; fails where three triangles meet at an edge, two neighbors face opposite ways, or
    /// two sheets touch at a vertex alone. Vertices that no triangle uses are no flaw.
    pub fn of(mesh: &Mesh) -> Result<Self, MeshFlaw> {
        mesh.check()?;
        let across = across(mesh)?;
        let mut next = vec![NONE; mesh.vertices.len()];
        for (t, sides) in across.iter().enumerate() {
            for k in 0..3 {
                if sides[k].is_none() {
                    let from = mesh.triangles[t][k];
                    if next[from as usize] != NONE {
                        return Err(MeshFlaw::Vertex { vertex: from });
                    }
                    next[from as usize] = mesh.triangles[t][(k + 1) % 3];
                }
            }
        }
        let on_rim: Vec<bool> = next.iter().map(|&n| n != NONE).collect();
        fans(mesh, &across, &on_rim)?;
        let sheets = sheets(&across);
        Ok(Self { rims: rims(next), sheets, on_rim, across })
    }

    /// How many sheets there are.
    pub fn sheet_count(&self) -> usize {
        self.sheets.iter().max().map_or(0, |&last| last as usize + 1)
    }
}

fn across(mesh: &Mesh) -> Result<Vec<[Option<u32>; 3]>, MeshFlaw> {
    // Sides sorted by their two vertices: those of one edge lie beside each other.
    let mut sides: Vec<(u32, u32, u32, u8)> = Vec::with_capacity(3 * mesh.triangles.len());
    for (t, corners) in mesh.triangles.iter().enumerate() {
        for k in 0..3u8 {
            let (a, b) = (corners[k as usize], corners[(k as usize + 1) % 3]);
            sides.push((a.min(b), a.max(b), t as u32, k));
        }
    }
    sides.sort_unstable();
    let mut across = vec![[None; 3]; mesh.triangles.len()];
    for edge in sides.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)) {
        let from = |s: &(u32, u32, u32, u8)| mesh.triangles[s.2 as usize][s.3 as usize];
        if let [first, second, rest @ ..] = edge {
            let clash = if from(first) == from(second) { Some(second) } else { rest.first() };
            if let Some(clash) = clash {
                let (from, to) = (first.0, first.1);
                return Err(MeshFlaw::Edge { first: first.2, second: clash.2, from, to });
            }
            across[first.2 as usize][first.3 as usize] = Some(second.2);
            across[second.2 as usize][second.3 as usize] = Some(first.2);
        }
    }
    Ok(across)
}

/// All triangles at a vertex hang together around it.
fn fans(mesh: &Mesh, across: &[[Option<u32>; 3]], on_rim: &[bool]) -> Result<(), MeshFlaw> {
    let mut count = vec![0u32; mesh.vertices.len()];
    let mut start = vec![NONE; mesh.vertices.len()];
    for (t, corners) in mesh.triangles.iter().enumerate() {
        for k in 0..3 {
            let v = corners[k] as usize;
            count[v] += 1;
            // At the rim, begin with the triangle whose side from the vertex lies on the rim.
            if start[v] == NONE || across[t][k].is_none() {
                start[v] = t as u32;
            }
        }
    }
    for v in 0..mesh.vertices.len() {
        if start[v] == NONE {
            continue;
        }
        let (mut t, mut seen) = (start[v], 0);
        loop {
            seen += 1;
            let k = corner_of(mesh.triangles[t as usize], v as u32);
            match across[t as usize][(k + 2) % 3] {
                Some(next) if next != start[v] => t = next,
                _ => break,
            }
            if seen > count[v] {
                break;
            }
        }
        if seen != count[v] {
            return Err(MeshFlaw::Vertex { vertex: v as u32 });
        }
        debug_assert!(!on_rim[v] || across[start[v] as usize].contains(&None));
    }
    Ok(())
}

/// Which corner of the triangle the vertex is.
pub(crate) fn corner_of(triangle: [u32; 3], vertex: u32) -> usize {
    if triangle[0] == vertex {
        0
    } else if triangle[1] == vertex {
        1
    } else {
        2
    }
}

fn rims(mut next: Vec<u32>) -> Vec<Vec<u32>> {
    let mut rims = Vec::new();
    for start in 0..next.len() {
        let mut rim = Vec::new();
        let mut v = start;
        while next[v] != NONE {
            rim.push(v as u32);
            v = std::mem::replace(&mut next[v], NONE) as usize;
        }
        if !rim.is_empty() {
            rims.push(rim);
        }
    }
    rims
}

fn sheets(across: &[[Option<u32>; 3]]) -> Vec<u32> {
    let mut sheets = vec![NONE; across.len()];
    let mut count = 0;
    let mut open = Vec::new();
    for t in 0..across.len() {
        if sheets[t] == NONE {
            sheets[t] = count;
            open.push(t);
            while let Some(t) = open.pop() {
                for n in across[t].iter().flatten() {
                    if sheets[*n as usize] == NONE {
                        sheets[*n as usize] = count;
                        open.push(*n as usize);
                    }
                }
            }
            count += 1;
        }
    }
    sheets
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mesh(count: usize, triangles: &[[u32; 3]]) -> Mesh {
        let vertices = (0..count).map(|k| [k as f64, (k * k) as f64, 0.0]).collect();
        Mesh { vertices, triangles: triangles.to_vec() }
    }

    #[test]
    fn two_triangles_share_a_side() {
        let topology = Topology::of(&mesh(4, &[[0, 1, 2], [2, 1, 3]])).unwrap();
        assert_eq!(topology.across, [[None, Some(1), None], [Some(0), None, None]]);
        assert_eq!(topology.rims, [[0, 1, 3, 2]]);
        assert_eq!(topology.sheet_count(), 1);
    }

    #[test]
    fn a_tetrahedron_has_no_rim() {
        let topology = Topology::of(&mesh(4, &[[0, 1, 2], [0, 2, 3], [0, 3, 1], [1, 3, 2]])).unwrap();
        assert!(topology.rims.is_empty() && !topology.on_rim.contains(&true));
    }

    #[test]
    fn a_triangle_turned_over_is_a_flaw() {
        let flaw = Topology::of(&mesh(4, &[[0, 1, 2], [1, 2, 3]]));
        assert_eq!(flaw, Err(MeshFlaw::Edge { first: 0, second: 1, from: 1, to: 2 }));
    }

    #[test]
    fn three_triangles_at_an_edge_are_a_flaw() {
        let flaw = Topology::of(&mesh(5, &[[0, 1, 2], [2, 1, 3], [1, 2, 4]]));
        assert!(matches!(flaw, Err(MeshFlaw::Edge { from: 1, to: 2, .. })));
    }

    #[test]
    fn sheets_that_touch_at_a_vertex_are_a_flaw() {
        let flaw = Topology::of(&mesh(5, &[[0, 1, 2], [2, 3, 4]]));
        assert_eq!(flaw, Err(MeshFlaw::Vertex { vertex: 2 }));
        let closed = [[0, 2, 1], [0, 3, 2], [0, 1, 3], [1, 2, 3], [0, 5, 4], [0, 6, 5], [0, 4, 6], [4, 5, 6]];
        assert_eq!(Topology::of(&mesh(7, &closed)), Err(MeshFlaw::Vertex { vertex: 0 }));
    }

    #[test]
    fn sheets_apart_are_told_apart() {
        let topology = Topology::of(&mesh(6, &[[0, 1, 2], [3, 4, 5]])).unwrap();
        assert_eq!((topology.sheets, topology.rims.len()), (vec![0, 1], 2));
    }
}
