//! Cuts: lines over the panel along which film is slit, or parted into pieces.

use crate::disk::{Disk, NotADisk};
use crate::locate::nearest_on;
use crate::mesh::Mesh;
use crate::newton::Flat;
use crate::retile::lift;
use crate::tile::tile;
use crate::topology::corner_of;
use serde::{Deserialize, Serialize};
use units::Length;

/// A line over the panel: from the rim inward it is a relief cut, from rim to rim a seam.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Cut {
    /// Places on the panel, mm, the first at the rim; straight on the film between them.
    pub points: Vec<[f64; 3]>,
}

/// Why a panel cannot be cut like that.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum CutFlaw {
    /// Fewer than two places, or one that is no place.
    #[error("cut {cut} needs two places on the panel or more")]
    Short {
        /// Which cut, from 0.
        cut: usize,
    },
    /// It begins nowhere near the rim.
    #[error("cut {cut} does not begin at the rim of the panel")]
    NotAtRim {
        /// Which cut, from 0.
        cut: usize,
    },
    /// Cuts cross or leave the panel, or the panel is too narrow for them.
    #[error("the cuts cross each other or leave the panel: draw them apart and within it")]
    Cross,
    /// A piece is no disk.
    #[error("a piece cannot be laid flat: {0}")]
    Piece(#[from] NotADisk),
}

/// A piece of a panel after cutting, with the flat shape it had as part of the whole.
pub struct Piece {
    /// Its surface.
    pub disk: Disk,
    /// Where its vertices lay on the film of the whole, mm: a start without flips.
    pub flat: Flat,
    /// Sides of its rim that the cuts made, in the rim's direction.
    pub cut_sides: Vec<[u32; 2]>,
}

/// New triangles of about `side` along the cuts, and the panel opened along them. `flat` is a flat shape of the whole.
pub fn cut_open(disk: &Disk, flat: &Flat, cuts: &[Vec<[f64; 2]>], side: f64) -> Result<Vec<Piece>, CutFlaw> {
    let outline: Vec<[f64; 2]> = disk.rim().iter().map(|&v| flat[v as usize]).collect();
    let tiling = tile(&outline, cuts, side).ok_or(CutFlaw::Cross)?;
    if let Some(cut) = tiling.lines.iter().position(|line| line[0] as usize >= tiling.rim) {
        return Err(CutFlaw::NotAtRim { cut });
    }
    let mesh = lift(disk.mesh(), flat, &tiling).ok_or(CutFlaw::Cross)?;
    let mut sides: Vec<[u32; 2]> =
        tiling.lines.iter().flat_map(|l| l.windows(2).map(|p| [p[0].min(p[1]), p[0].max(p[1])])).collect();
    sides.sort_unstable();
    let across = crate::Topology::of(&mesh).map_err(NotADisk::from)?.across;
    let (opened, origin) = open(&mesh, &across, &sides);
    let topology = crate::Topology::of(&opened).map_err(NotADisk::from)?;
    let pieces = 0..topology.sheet_count() as u32;
    pieces
        .map(|sheet| {
            let (mesh, own) = part(&opened, &topology.sheets, sheet);
            let before = |v: u32| origin[own[v as usize] as usize];
            let flat = own.iter().map(|&v| tiling.points[origin[v as usize] as usize]).collect();
            let disk = Disk::new(mesh)?;
            let rim = disk.rim();
            let rim_sides = (0..rim.len()).map(|k| [rim[k], rim[(k + 1) % rim.len()]]);
            let made = |[a, b]: &[u32; 2]| {
                let (a, b) = (before(*a), before(*b));
                sides.binary_search(&[a.min(b), a.max(b)]).is_ok()
            };
            let cut_sides = rim_sides.filter(made).collect();
            Ok(Piece { disk, flat, cut_sides })
        })
        .collect()
}

/// The places of cuts on the film of the whole panel.
pub fn onto_flat(disk: &Disk, flat: &Flat, cuts: &[Cut]) -> Result<Vec<Vec<[f64; 2]>>, CutFlaw> {
    cuts.iter()
        .enumerate()
        .map(|(cut, line)| {
            if line.points.len() < 2 || line.points.iter().flatten().any(|c| !c.is_finite()) {
                return Err(CutFlaw::Short { cut });
            }
            let place = |p: &[f64; 3]| {
                let (t, weights) = nearest_on(disk.mesh(), *p);
                let corners = disk.mesh().triangles[t];
                [0, 1].map(|k| (0..3).map(|c| weights[c] * flat[corners[c] as usize][k]).sum::<f64>())
            };
            Ok(line.points.iter().map(place).collect())
        })
        .collect()
}

/// The mesh opened along sides (least vertex first, sorted), and the vertex that each new vertex was.
fn open(mesh: &Mesh, across: &[[Option<u32>; 3]], sides: &[[u32; 2]]) -> (Mesh, Vec<u32>) {
    let is_cut = |a: u32, b: u32| sides.binary_search(&[a.min(b), a.max(b)]).is_ok();
    let mut around: Vec<Vec<u32>> = vec![Vec::new(); mesh.vertices.len()];
    for (t, corners) in mesh.triangles.iter().enumerate() {
        corners.iter().for_each(|v| around[*v as usize].push(t as u32));
    }
    let (mut vertices, mut origin) = (Vec::new(), Vec::new());
    let mut triangles = mesh.triangles.clone();
    for (v, fan) in around.iter().enumerate() {
        // The triangles around a vertex fall into groups that hang together by sides that are not cut.
        let mut left = fan.clone();
        while let Some(first) = left.pop() {
            let mut group = vec![first];
            let mut next = 0;
            while next < group.len() {
                let t = group[next] as usize;
                let k = corner_of(mesh.triangles[t], v as u32);
                for side in [k, (k + 2) % 3] {
                    let (a, b) = (mesh.triangles[t][side], mesh.triangles[t][(side + 1) % 3]);
                    if let Some(n) = across[t][side].filter(|_| !is_cut(a, b))
                        && let Some(place) = left.iter().position(|l| *l == n)
                    {
                        group.push(left.swap_remove(place));
                    }
                }
                next += 1;
            }
            for t in group {
                let k = corner_of(mesh.triangles[t as usize], v as u32);
                triangles[t as usize][k] = vertices.len() as u32;
            }
            vertices.push(mesh.vertices[v]);
            origin.push(v as u32);
        }
    }
    (Mesh { vertices, triangles }, origin)
}

/// One sheet of a mesh, and the vertex that each of its vertices was.
pub fn part(mesh: &Mesh, sheets: &[u32], sheet: u32) -> (Mesh, Vec<u32>) {
    let mut new = vec![u32::MAX; mesh.vertices.len()];
    let (mut own, mut triangles) = (Vec::new(), Vec::new());
    for (corners, _) in mesh.triangles.iter().zip(sheets).filter(|(_, s)| **s == sheet) {
        triangles.push(corners.map(|v| {
            if new[v as usize] == u32::MAX {
                new[v as usize] = own.len() as u32;
                own.push(v);
            }
            new[v as usize]
        }));
    }
    let vertices = own.iter().map(|&v| mesh.vertices[v as usize]).collect();
    (Mesh { vertices, triangles }, own)
}

/// Length of a line over the panel.
pub fn length(points: &[[f64; 3]]) -> Length {
    Length::mm(points.windows(2).map(|p| crate::mesh::norm(crate::mesh::sub(p[1], p[0]))).sum())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square() -> (Disk, Flat) {
        let rim = [[0.0, 0.0], [100.0, 0.0], [100.0, 60.0], [0.0, 60.0]];
        let tiling = tile(&rim, &[], 8.0).unwrap();
        let vertices = tiling.points.iter().map(|p| [p[0], p[1], 5.0]).collect();
        (Disk::new(Mesh { vertices, triangles: tiling.triangles }).unwrap(), tiling.points)
    }

    fn cut(points: &[[f64; 2]]) -> Cut {
        Cut { points: points.iter().map(|p| [p[0], p[1], 5.0]).collect() }
    }

    fn pieces(cuts: &[Cut]) -> Result<Vec<Piece>, CutFlaw> {
        let (disk, flat) = square();
        cut_open(&disk, &flat, &onto_flat(&disk, &flat, cuts)?, 8.0)
    }

    #[test]
    fn a_slit_leaves_one_piece_with_a_longer_rim() {
        let pieces = pieces(&[cut(&[[50.0, 0.0], [50.0, 30.0]])]).unwrap();
        assert_eq!(pieces.len(), 1);
        let disk = &pieces[0].disk;
        let mut rim: Vec<[f64; 3]> = disk.rim().iter().map(|&v| disk.mesh().vertices[v as usize]).collect();
        rim.push(rim[0]);
        assert!((length(&rim).as_mm() - 380.0).abs() < 1e-6);
        assert!((disk.mesh().area().as_mm2() - 6000.0).abs() < 1e-6);
        let at = |v: u32| disk.mesh().vertices[v as usize];
        let made: f64 = pieces[0].cut_sides.iter().map(|s| length(&s.map(at)).as_mm()).sum();
        assert!((made - 60.0).abs() < 1e-6, "both sides of the slit: {made}");
    }

    #[test]
    fn a_seam_parts_the_panel() {
        let pieces = pieces(&[cut(&[[40.0, 0.0], [45.0, 30.0], [40.0, 60.0]])]).unwrap();
        let areas: Vec<f64> = pieces.iter().map(|p| p.disk.mesh().area().as_mm2()).collect();
        assert_eq!(areas.len(), 2);
        assert!((areas.iter().sum::<f64>() - 6000.0).abs() < 1e-6);
        assert!(areas.iter().any(|a| (a - 2550.0).abs() < 1e-6), "{areas:?}");
    }

    #[test]
    fn what_cannot_be_cut_is_told() {
        let flaw = |cuts: &[Cut]| pieces(cuts).err();
        assert_eq!(flaw(&[cut(&[[50.0, 0.0]])]), Some(CutFlaw::Short { cut: 0 }));
        assert_eq!(flaw(&[cut(&[[50.0, 20.0], [50.0, 40.0]])]), Some(CutFlaw::NotAtRim { cut: 0 }));
        let crossed = [cut(&[[50.0, 0.0], [50.0, 60.0]]), cut(&[[0.0, 30.0], [100.0, 30.0]])];
        assert_eq!(flaw(&crossed), Some(CutFlaw::Cross));
    }
}
