use serde::{Deserialize, Serialize};
use units::{Area, Length};

/// A surface: vertices in millimeters, triangles counterclockwise seen from outside.
///
/// Nothing is promised about how the triangles hang together; [`Topology`](crate::Topology) and
/// [`Disk`](crate::Disk) say that.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Mesh {
    /// Where each vertex lies, mm.
    pub vertices: Vec<[f64; 3]>,
    /// Three vertices each.
    pub triangles: Vec<[u32; 3]>,
}

/// Why a list of vertices and triangles is no surface.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum MeshFlaw {
    /// No triangle.
    #[error("there is no triangle in the mesh")]
    Empty,
    /// More than 2³² − 1 vertices or triangles.
    #[error("the mesh has more vertices or triangles than can be numbered")]
    TooLarge,
    /// A coordinate is no number.
    #[error("vertex {vertex}: a coordinate is not a finite number")]
    NotFinite {
        /// The vertex, from 0.
        vertex: usize,
    },
    /// A corner names a vertex that is not there.
    #[error("triangle {triangle} names vertex {vertex}, which does not exist")]
    NoSuchVertex {
        /// The triangle, from 0.
        triangle: usize,
        /// The vertex it names, from 0.
        vertex: u32,
    },
    /// Two corners are one vertex.
    #[error("triangle {triangle} has the same vertex at two corners")]
    Collapsed {
        /// The triangle, from 0.
        triangle: usize,
    },
    /// A directed edge belongs to two triangles: three at one edge, or two that face opposite ways.
    #[error(
        "triangles {first} and {second} run along the edge {from}–{to} the same way: three at one edge, or one turned over"
    )]
    Edge {
        /// A triangle at the edge.
        first: u32,
        /// Another one.
        second: u32,
        /// Start of the edge.
        from: u32,
        /// End of the edge.
        to: u32,
    },
    /// Two sheets touch at a vertex.
    #[error("two sheets touch at vertex {vertex} alone")]
    Vertex {
        /// The vertex, from 0.
        vertex: u32,
    },
}

impl Mesh {
    /// Every triangle names three different vertices that exist, and every vertex is finite.
    pub fn check(&self) -> Result<(), MeshFlaw> {
        if self.triangles.is_empty() {
            return Err(MeshFlaw::Empty);
        }
        if self.vertices.len() >= u32::MAX as usize || self.triangles.len() >= u32::MAX as usize {
            return Err(MeshFlaw::TooLarge);
        }
        if let Some(vertex) = self.vertices.iter().position(|v| v.iter().any(|c| !c.is_finite())) {
            return Err(MeshFlaw::NotFinite { vertex });
        }
        for (triangle, &[a, b, c]) in self.triangles.iter().enumerate() {
            if let Some(vertex) = [a, b, c].into_iter().find(|&v| v as usize >= self.vertices.len()) {
                return Err(MeshFlaw::NoSuchVertex { triangle, vertex });
            }
            if a == b || b == c || c == a {
                return Err(MeshFlaw::Collapsed { triangle });
            }
        }
        Ok(())
    }

    /// The corners of a triangle, mm. Panics where the triangle or a vertex does not exist.
    pub fn corners(&self, triangle: usize) -> [[f64; 3]; 3] {
        self.triangles[triangle].map(|v| self.vertices[v as usize])
    }

    /// Twice the area of a triangle times its normal, mm².
    pub fn cross(&self, triangle: usize) -> [f64; 3] {
        let [a, b, c] = self.corners(triangle);
        cross(sub(b, a), sub(c, a))
    }

    /// Area of the surface.
    pub fn area(&self) -> Area {
        Area::mm2((0..self.triangles.len()).map(|t| norm(self.cross(t)) / 2.0).sum())
    }

    /// Mean length of the sides of the triangles.
    pub fn mean_edge(&self) -> Length {
        let sum: f64 = (0..self.triangles.len())
            .map(|t| {
                let [a, b, c] = self.corners(t);
                norm(sub(b, a)) + norm(sub(c, b)) + norm(sub(a, c))
            })
            .sum();
        Length::mm(sum / (3.0 * self.triangles.len().max(1) as f64))
    }

    /// The least and the greatest corner of the box around all vertices, mm; zeros for an empty mesh.
    pub fn bounds(&self) -> [[f64; 3]; 2] {
        let mut vertices = self.vertices.iter();
        let Some(&first) = vertices.next() else { return [[0.0; 3]; 2] };
        vertices.fold([first; 2], |[low, high], v| {
            [[0, 1, 2].map(|k| low[k].min(v[k])), [0, 1, 2].map(|k| high[k].max(v[k]))]
        })
    }
}

pub(crate) fn sub(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

pub(crate) fn add(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}

pub(crate) fn scale(a: [f64; 3], by: f64) -> [f64; 3] {
    a.map(|c| c * by)
}

pub(crate) fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

pub(crate) fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
}

pub(crate) fn norm(a: [f64; 3]) -> f64 {
    dot(a, a).sqrt()
}
