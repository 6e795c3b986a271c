//! A part of a scan, chosen by a loop of points on its surface.

mod cut;
mod geodesic;
mod place;

pub use place::{Placed, Places};

use crate::mesh::{norm, sub};
use crate::repair::compact;
use crate::{Mesh, MeshFlaw, Topology};
use cut::Work;
use units::Length;

/// A part of a surface.
#[derive(Clone, Debug, PartialEq)]
pub struct Region {
    /// The part.
    pub mesh: Mesh,
    /// The loop: shortest ways over the surface from point to point, mm.
    pub path: Vec<[f64; 3]>,
    /// How far the farthest of the given points lay from the surface.
    pub farthest: Length,
}

/// Why a loop chooses no region.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum RegionFlaw {
    /// The mesh is no surface.
    #[error(transparent)]
    Mesh(#[from] MeshFlaw),
    /// Fewer than three different points.
    #[error("a loop needs at least three different points on the surface, there are {found}: choose more")]
    TooFew {
        /// How many different ones.
        found: usize,
    },
    /// A point far off.
    #[error("point {point} of the loop lies {:.0} mm from the scan: the points must be in the unit of the scan and on it", .off.as_mm())]
    Off {
        /// Which point, from 1.
        point: usize,
        /// How far off.
        off: Length,
    },
    /// Two points on different parts.
    #[error(
        "no way over the surface leads from point {from} to the next: choose points on one part of the scan"
    )]
    NoWay {
        /// The first of the two, from 1.
        from: usize,
    },
    /// The way from one point to the next winds through a place too often to be cut.
    #[error("the way from point {from} to the next winds about itself: put another point between them")]
    Winds {
        /// The first of the two, from 1.
        from: usize,
    },
    /// The loop does not part the surface.
    #[error("the loop does not part the surface: draw it around the panel, each point once")]
    PartsNothing,
}

/// The part of a surface inside a loop of points (mm), each moved to the nearest place on it and joined to the next by a
/// shortest way. Inside is the side with the point `within`; where none is given, the side that the whole loop borders
/// and that reaches no rim, else the smaller one.
///
/// # Errors
/// When a point is farther from the surface than a tenth of its size, or the loop parts nothing.
pub fn region(mesh: &Mesh, points: &[[f64; 3]], within: Option<[f64; 3]>) -> Result<Region, RegionFlaw> {
    Topology::of(mesh)?;
    let [low, high] = mesh.bounds();
    let size = norm(sub(high, low));
    let mut work = Work::of(mesh);
    let mut corners: Vec<(usize, u32)> = Vec::new();
    let mut farthest = Length::ZERO;
    for (i, p) in points.iter().enumerate() {
        let placed = place::nearest(&work.vertices, &work.triangles, *p);
        let Some(placed) = placed.filter(|q| q.off.as_mm() <= 0.1 * size) else {
            let off = placed.map_or(Length::mm(f64::INFINITY), |q| q.off);
            return Err(RegionFlaw::Off { point: i + 1, off });
        };
        farthest = farthest.max(placed.off);
        let v = work.insert(&placed);
        if corners.last().is_none_or(|(_, last)| *last != v) {
            corners.push((i + 1, v));
        }
    }
    while corners.len() > 1 && corners.first().map(|c| c.1) == corners.last().map(|c| c.1) {
        corners.pop();
    }
    if corners.len() < 3 {
        return Err(RegionFlaw::TooFew { found: corners.len() });
    }
    let mut walls = Vec::new();
    for k in 0..corners.len() {
        let ((from, a), (_, b)) = (corners[k], corners[(k + 1) % corners.len()]);
        let way = geodesic::shortest(&work, a, b).ok_or(RegionFlaw::NoWay { from })?;
        walls.extend(work.cut(a, &way).ok_or(RegionFlaw::Winds { from })?);
    }
    let path = walls.iter().map(|(a, _)| work.vertices[*a as usize]).collect();
    let sides = work.parted(&walls);
    let count = sides.iter().max().map_or(0, |s| *s as usize + 1);
    if count < 2 {
        return Err(RegionFlaw::PartsNothing);
    }
    let inside = match within {
        Some(p) => place::nearest(&work.vertices, &work.triangles, p).map(|q| sides[q.triangle as usize]),
        None => work.inner(&walls, &sides, count),
    };
    let inside = inside.ok_or(RegionFlaw::PartsNothing)?;
    let kept = work.triangles.iter().zip(&sides).filter(|(_, s)| **s == inside).map(|(t, _)| *t).collect();
    let mesh = compact(&Mesh { vertices: work.vertices.clone(), triangles: Vec::new() }, kept);
    Topology::of(&mesh)?;
    Ok(Region { mesh, path, farthest })
}

#[cfg(test)]
mod tests;
