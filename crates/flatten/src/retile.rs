//! New triangles for a panel, made on its flat shape.

use crate::locate::Locator;
use crate::mesh::{Mesh, add, scale};
use crate::newton::Flat;
use crate::tile::{Tiling, tile};

/// A surface with a flat shape of it.
pub struct Level {
    /// The surface.
    pub mesh: Mesh,
    /// Its flat shape, mm.
    pub flat: Flat,
}

/// New triangles of about `side` for a surface, made on its flat shape and lifted back; none where the flat shape
/// overlaps itself or is too narrow.
pub fn retile(mesh: &Mesh, rim: &[u32], flat: &Flat, side: f64) -> Option<Level> {
    let outline: Vec<[f64; 2]> = rim.iter().map(|&v| flat[v as usize]).collect();
    let tiling = tile(&outline, &[], side)?;
    Some(Level { mesh: lift(mesh, flat, &tiling)?, flat: tiling.points })
}

/// The tiling of a flat shape lifted to the surface.
pub fn lift(mesh: &Mesh, flat: &Flat, tiling: &Tiling) -> Option<Mesh> {
    let locator = Locator::new(flat, &mesh.triangles);
    let vertices: Option<Vec<[f64; 3]>> = tiling
        .points
        .iter()
        .map(|p| {
            let (t, w) = locator.at(*p)?;
            let [a, b, c] = mesh.corners(t);
            Some(add(add(scale(a, w[0]), scale(b, w[1])), scale(c, w[2])))
        })
        .collect();
    Some(Mesh { vertices: vertices?, triangles: tiling.triangles.clone() })
}
