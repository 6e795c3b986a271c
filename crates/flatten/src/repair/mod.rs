//! A scan mended until it is an oriented surface of one sheet, with a report of all that was done.

mod holes;
mod sheets;
mod thin;
mod weld;

pub(crate) use sheets::compact;

use crate::mesh::{norm, sub};
use crate::{Mesh, MeshFlaw, Topology};
use serde::{Deserialize, Serialize};
use units::{Area, Length};

/// How a scan is mended.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct RepairConfig {
    /// Vertices nearer than this are one; by default a hundred-thousandth of the scan's diagonal.
    pub weld: Option<Length>,
    /// A hole with a rim up to this long is a fault of the scan and filled; a longer one is kept as a cut-out.
    /// Common practice, no source.
    pub hole: Length,
}

impl Default for RepairConfig {
    fn default() -> Self {
        Self { weld: None, hole: Length::mm(120.0) }
    }
}

/// How often a fault was met, and where first.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Found {
    /// How often.
    pub count: usize,
    /// Where, mm; the first eight.
    pub places: Vec<[f64; 3]>,
}

impl Found {
    const PLACES: usize = 8;

    fn at(&mut self, place: [f64; 3]) {
        self.count += 1;
        if self.places.len() < Self::PLACES {
            self.places.push(place);
        }
    }
}

/// A hole of the scan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Hole {
    /// Its middle, mm.
    pub at: [f64; 3],
    /// Length of its rim.
    #[serde(rename = "rim_mm")]
    pub rim: Length,
    /// Whether it stays a hole of the piece.
    pub kept: bool,
}

/// A part of the scan that hangs on nothing and was dropped.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Island {
    /// Its middle, mm.
    pub at: [f64; 3],
    /// How many triangles.
    pub triangles: usize,
    /// Its area.
    #[serde(rename = "area_m2")]
    pub area: Area,
}

/// What was wrong with a scan and mended.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct RepairReport {
    /// Vertices that lay at the place of another one.
    pub welded: Found,
    /// Triangles without area.
    pub degenerate: Found,
    /// Triangles that were there twice.
    pub repeated: Found,
    /// Triangles that faced against their neighbors.
    pub flipped: Found,
    /// Edges with three triangles or more, and edges at which a sheet met its own back: parted there.
    pub parted_edges: Found,
    /// Vertices at which sheets touched: parted there.
    pub parted_vertices: Found,
    /// Parts that hang on nothing.
    pub islands: Vec<Island>,
    /// Holes, filled or kept.
    pub holes: Vec<Hole>,
    /// Something to look at, in words.
    pub warnings: Vec<String>,
}

impl RepairReport {
    /// Whether nothing had to be mended.
    pub fn is_clean(&self) -> bool {
        let counts = [
            &self.welded,
            &self.degenerate,
            &self.repeated,
            &self.flipped,
            &self.parted_edges,
            &self.parted_vertices,
        ];
        counts.iter().all(|f| f.count == 0) && self.islands.is_empty() && self.holes.is_empty()
    }
}

/// A surface that can be flattened, and the holes of it that stay holes of the piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Closed {
    /// One sheet with one rim, its holes filled.
    pub mesh: Mesh,
    /// Rims of the holes that are cut-outs, as places on the surface, mm.
    pub cut_outs: Vec<Vec<[f64; 3]>>,
}

/// Mends a mesh: welds vertices, takes out triangles without area or there twice, turns flipped ones over, parts what
/// meets at edges and vertices where no surface can, and keeps the largest sheet.
///
/// # Errors
/// When nothing of it is a surface.
pub fn repair(mesh: &Mesh, config: &RepairConfig) -> Result<(Mesh, RepairReport), MeshFlaw> {
    let mut report = RepairReport::default();
    let [low, high] = mesh.bounds();
    let diagonal = norm(sub(high, low));
    let within = config.weld.map_or(1e-5 * diagonal, Length::as_mm);
    let mut mesh = weld::weld(mesh, within, &mut report.welded);
    if mesh.vertices.iter().flatten().any(|c| !c.is_finite()) {
        mesh.check()?;
    }
    thin::drop_collapsed(&mut mesh, &mut report);
    thin::mend(&mut mesh, &mut report);
    let mesh = sheets::part(&mesh, &mut report);
    let mesh = sheets::keep_largest(&mesh, &mut report);
    let topology = Topology::of(&mesh)?;
    if topology.rims.is_empty() {
        report.warnings.push("The scan is closed all around: choose a region of it.".into());
    } else if hollow(&mesh) {
        report.warnings.push(
            "Seen from the side that its triangles face, the panel is hollow: if this is a scan of its outside, it is \
             inside out and the piece would be its mirror image. Turn it over."
                .into(),
        );
    }
    Ok((mesh, report))
}

/// Fills the holes of a surface; those longer than the limit are kept as cut-outs all the same. The longest rim is
/// the outline.
///
/// # Errors
/// When the mesh is no surface.
pub fn close_holes(mesh: &Mesh, limit: Length, report: &mut RepairReport) -> Result<Closed, MeshFlaw> {
    holes::close(mesh, limit, report)
}

/// The other side out.
pub fn turned_over(mesh: &Mesh) -> Mesh {
    let triangles = mesh.triangles.iter().map(|[a, b, c]| [*a, *c, *b]).collect();
    Mesh { vertices: mesh.vertices.clone(), triangles }
}

/// Whether a panel bulges away from where its triangles face: the mean of its places, weighed by area, lies behind the
/// plane through its vertices of largest extent. Panels bulge outwards but for dents.
fn hollow(mesh: &Mesh) -> bool {
    use crate::mesh::{add, dot, scale};
    let (mut normal, mut middle, mut area) = ([0.0; 3], [0.0; 3], 0.0);
    for t in 0..mesh.triangles.len() {
        let n = mesh.cross(t);
        let [a, b, c] = mesh.corners(t);
        normal = add(normal, n);
        middle = add(middle, scale(add(add(a, b), c), norm(n) / 3.0));
        area += norm(n);
    }
    let Ok(topology) = Topology::of(mesh) else { return false };
    let Some(rim) = topology.rims.iter().max_by(|a, b| a.len().cmp(&b.len())) else { return false };
    let (mut edge, mut length) = ([0.0; 3], 0.0);
    for k in 0..rim.len() {
        let p = mesh.vertices[rim[k] as usize];
        let q = mesh.vertices[rim[(k + 1) % rim.len()] as usize];
        let l = norm(sub(q, p));
        edge = add(edge, scale(add(p, q), l / 2.0));
        length += l;
    }
    if area <= 0.0 || length <= 0.0 || norm(normal) <= 0.0 {
        return false;
    }
    let bulge = sub(scale(middle, 1.0 / area), scale(edge, 1.0 / length));
    let [low, high] = mesh.bounds();
    dot(bulge, normal) / norm(normal) < -1e-3 * norm(sub(high, low))
}

fn middle(mesh: &Mesh, triangle: usize) -> [f64; 3] {
    let [a, b, c] = mesh.corners(triangle);
    [0, 1, 2].map(|k| (a[k] + b[k] + c[k]) / 3.0)
}

#[cfg(test)]
mod tests;
