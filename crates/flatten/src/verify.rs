//! The check of a flattening, from the two meshes alone: it shares no code with the solver but the mesh itself.

use crate::flattening::{Flattening, Note};
use crate::mesh::Mesh;
use units::Area;

/// What is wrong with a flattening.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum Flaw {
    /// The two meshes do not go together.
    #[error(
        "{flat} flat vertices for {surface} on the surface, {stretch} stretches for {triangles} triangles"
    )]
    Counts {
        /// Vertices on the film.
        flat: usize,
        /// Vertices of the surface.
        surface: usize,
        /// Stretches given.
        stretch: usize,
        /// Triangles of the surface.
        triangles: usize,
    },
    /// A triangle is turned over, or no number came out.
    #[error("triangle {triangle} is flipped on the film")]
    Flipped {
        /// The triangle, from 0.
        triangle: usize,
    },
    /// Film would be compressed.
    #[error("film is compressed to {factor} on triangle {triangle}")]
    Compressed {
        /// The triangle, from 0.
        triangle: usize,
        /// The factor below 1.
        factor: f64,
    },
    /// A figure is not what the meshes say.
    #[error("{what} is given as {given}, the meshes say {found}")]
    Figure {
        /// Which figure.
        what: &'static str,
        /// As given.
        given: f64,
        /// As recomputed.
        found: f64,
    },
    /// The lower bound is above what was reached.
    #[error("the lower bound {bound} is above the stretch reached, {worst}")]
    Bound {
        /// The bound.
        bound: f64,
        /// The worst stretch.
        worst: f64,
    },
    /// The outline crosses itself and no note says so.
    #[error("the flat outline crosses itself at {at:?} mm")]
    Overlap {
        /// Where.
        at: [f64; 2],
    },
}

/// How film is stretched when a flat mesh is laid back on its surface.
///
/// By the metric: with E the three squared side lengths, the stretches are the square roots of the eigenvalues of
/// (flat metric)⁻¹ · (surface metric) in the basis of two sides.
pub struct Stretches {
    factors: Vec<[f64; 2]>,
    areas: Vec<f64>,
    flat_area: f64,
}

impl Stretches {
    /// Greatest and least on every triangle; fails at the first flipped one.
    pub fn of(surface: &Mesh, flat: &[[f64; 2]]) -> Result<Self, Flaw> {
        let (mut factors, mut areas, mut flat_area) = (Vec::new(), Vec::new(), 0.0);
        for (triangle, corners) in surface.triangles.iter().enumerate() {
            let [a, b, c] = corners.map(|v| surface.vertices[v as usize]);
            let [p, q, r] = corners.map(|v| flat[v as usize]);
            let (e, f) = (less3(b, a), less3(c, a));
            let (g, h) = ([q[0] - p[0], q[1] - p[1]], [r[0] - p[0], r[1] - p[1]]);
            let (ee, ef, ff) = (inner3(e, e), inner3(e, f), inner3(f, f));
            let (gg, gh, hh) = (inner2(g, g), inner2(g, h), inner2(h, h));
            let double = g[0] * h[1] - g[1] * h[0];
            if double.is_nan() || double <= 0.0 {
                return Err(Flaw::Flipped { triangle });
            }
            // Trace and determinant of the quotient of the metrics.
            let det_flat = double * double;
            let trace = (hh * ee - 2.0 * gh * ef + gg * ff) / det_flat;
            let det = (ee * ff - ef * ef) / det_flat;
            // Half the gap of the eigenvalues, without cancellation: both in an orthonormal basis of the flat sides.
            let l = gg.sqrt();
            let (x, y) = (gh / l, double / l);
            let m11 = ee / gg;
            let m12 = (ef / l - x * m11) / y;
            let m22 = (ff - 2.0 * x * y * m12 - x * x * m11) / (y * y);
            let gap = (((m11 - m22) / 2.0).powi(2) + m12 * m12).sqrt();
            let great = trace / 2.0 + gap;
            let least = (det / great).max(0.0);
            factors.push([great.sqrt(), least.sqrt()]);
            areas.push((ee * ff - ef * ef).max(0.0).sqrt() / 2.0);
            flat_area += double / 2.0;
        }
        Ok(Self { factors, areas, flat_area })
    }

    /// The least factor anywhere.
    pub fn least(&self) -> f64 {
        self.factors.iter().fold(f64::INFINITY, |m, f| m.min(f[1]))
    }

    /// The greatest, as a fraction above 1.
    pub fn worst(&self) -> f64 {
        self.factors.iter().fold(0.0_f64, |m, f| m.max(f[0])) - 1.0
    }

    /// The worst stretch once scaled so that nothing is compressed, as a fraction above 1.
    pub fn ratio(&self) -> f64 {
        (self.worst() + 1.0) / self.least() - 1.0
    }

    /// The stretch that `share` of the area stays below, as a fraction above 1.
    pub fn quantile(&self, share: f64) -> f64 {
        let mut order: Vec<usize> = (0..self.factors.len()).collect();
        order.sort_by(|&a, &b| self.factors[a][0].total_cmp(&self.factors[b][0]));
        let mut left = share * self.areas.iter().sum::<f64>();
        for &t in &order {
            left -= self.areas[t];
            if left <= 0.0 {
                return self.factors[t][0] - 1.0;
            }
        }
        self.worst()
    }

    /// The mean of the greatest over the area, as a fraction above 1.
    pub fn mean(&self) -> f64 {
        let sum: f64 = self.factors.iter().zip(&self.areas).map(|(f, a)| f[0] * a).sum();
        sum / self.areas.iter().sum::<f64>() - 1.0
    }

    /// Area on the film.
    pub fn flat_area(&self) -> Area {
        Area::mm2(self.flat_area)
    }

    /// Greatest and least on every triangle.
    pub fn into_factors(self) -> Vec<[f64; 2]> {
        self.factors
    }
}

impl Flattening {
    /// Recomputes everything from the two meshes.
    pub fn verify(&self) -> Result<(), Flaw> {
        let (flat, surface) = (self.flat.len(), self.surface.vertices.len());
        let (stretch, triangles) = (self.stretch.len(), self.surface.triangles.len());
        if flat != surface || stretch != triangles {
            return Err(Flaw::Counts { flat, surface, stretch, triangles });
        }
        let found = Stretches::of(&self.surface, &self.flat)?;
        if let Some((triangle, f)) = found.factors.iter().enumerate().find(|(_, f)| f[1] < 1.0 - 1e-9) {
            return Err(Flaw::Compressed { triangle, factor: f[1] });
        }
        let figure = |what, given: f64, found: f64| {
            if (given - found).abs() <= 1e-9 { Ok(()) } else { Err(Flaw::Figure { what, given, found }) }
        };
        figure("worst stretch", self.worst, found.worst())?;
        figure("99.5 % stretch", self.p995, found.quantile(0.995))?;
        figure("mean stretch", self.mean, found.mean())?;
        figure("area over itself", self.area / found.flat_area(), 1.0)?;
        for (given, found) in self.stretch.iter().zip(&found.factors) {
            figure("stretch of a triangle", given[0], found[0])?;
            figure("stretch of a triangle", given[1], found[1])?;
        }
        if self.lower_bound > self.worst {
            return Err(Flaw::Bound { bound: self.lower_bound, worst: self.worst });
        }
        let noted = self.notes.iter().any(|n| matches!(n, Note::Overlap { .. }));
        match overlap(&self.surface, &self.flat) {
            Some(at) if !noted => Err(Flaw::Overlap { at }),
            _ => Ok(()),
        }
    }
}

/// A place where the outline of a flat mesh crosses itself. A map of a disk that turns no triangle over and whose outline
/// is a simple closed line covers no place twice. Lines that touch do not cross: the two sides of a slit may.
pub fn overlap(surface: &Mesh, flat: &[[f64; 2]]) -> Option<[f64; 2]> {
    crossed(surface, flat).map(|(_, at)| at)
}

/// Two sides of the outline that cross, as pairs of vertices, and where.
pub fn crossed(surface: &Mesh, flat: &[[f64; 2]]) -> Option<([[usize; 2]; 2], [f64; 2])> {
    let mut sides: Vec<(u32, u32)> =
        surface.triangles.iter().flat_map(|&[a, b, c]| [(a, b), (b, c), (c, a)]).collect();
    sides.sort_unstable();
    let outline: Vec<[usize; 2]> = sides
        .iter()
        .filter(|(a, b)| sides.binary_search(&(*b, *a)).is_err())
        .map(|&(a, b)| [a as usize, b as usize])
        .collect();
    let ends = |k: usize| outline[k].map(|v| flat[v]);
    let length = |k: usize| {
        let [p, q] = ends(k);
        (q[0] - p[0]).hypot(q[1] - p[1])
    };
    // Cells of two sides, but no more than so many along the outline: a long side among tiny ones covers a box of them.
    let cell = (0..outline.len()).map(length).sum::<f64>() / (outline.len() as f64 / 2.0).clamp(1.0, 1000.0);
    // Every side in the cells of its box; sides in one cell are compared.
    let mut cells: Vec<(i64, i64, u32)> = Vec::new();
    for k in 0..outline.len() {
        let [p, q] = ends(k);
        let range = |i: usize| {
            let (low, high) = (p[i].min(q[i]) / cell, p[i].max(q[i]) / cell);
            low.floor() as i64..=high.floor() as i64
        };
        for x in range(0) {
            cells.extend(range(1).map(|y| (x, y, k as u32)));
        }
    }
    cells.sort_unstable();
    for group in cells.chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)) {
        for (n, one) in group.iter().enumerate() {
            for two in &group[n + 1..] {
                let (one, two) = (one.2 as usize, two.2 as usize);
                if outline[one].iter().any(|v| outline[two].contains(v)) {
                    continue;
                }
                if let Some(at) = crossing(ends(one), ends(two)) {
                    return Some(([outline[one], outline[two]], at));
                }
            }
        }
    }
    None
}

fn crossing([a, b]: [[f64; 2]; 2], [c, d]: [[f64; 2]; 2]) -> Option<[f64; 2]> {
    let side = |p: [f64; 2], q: [f64; 2], r: [f64; 2]| {
        let coord = |p: [f64; 2]| robust::Coord { x: p[0], y: p[1] };
        robust::orient2d(coord(p), coord(q), coord(r))
    };
    let (one, two) = (side(a, b, c), side(a, b, d));
    let (three, four) = (side(c, d, a), side(c, d, b));
    if one * two < 0.0 && three * four < 0.0 {
        let t = three / (three - four);
        return Some([0, 1].map(|k| a[k] + t * (b[k] - a[k])));
    }
    None
}

fn less3(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn inner3(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn inner2(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_outline_that_crosses_itself_is_found() {
        // A strip of triangles bent round until its end lies on its start.
        let around = |turns: f64| -> Vec<[f64; 2]> {
            let ring = |k: usize| std::f64::consts::TAU * turns * (k / 2) as f64 / 20.0;
            (0..42)
                .map(|k| [ring(k), 1.0 + (k % 2) as f64])
                .map(|[a, r]| [r * a.cos(), r * a.sin()])
                .collect()
        };
        let triangles = (0..40u32).map(|k| if k % 2 == 0 { [k, k + 1, k + 2] } else { [k, k + 2, k + 1] });
        let mesh = |flat: &[[f64; 2]]| Mesh {
            vertices: flat.iter().map(|p| [p[0], p[1], 0.0]).collect(),
            triangles: triangles.clone().collect(),
        };
        let (open, closed) = (around(0.9), around(1.1));
        assert_eq!(overlap(&mesh(&open), &open), None);
        assert!(overlap(&mesh(&closed), &closed).is_some());
    }

    #[test]
    fn stretches_are_those_of_a_known_map() {
        // The film is the surface shrunk by 1.25 along and 2 across, turned: stretches 2 and 1.25.
        let vertices = vec![[0.0, 0.0, 0.0], [5.0, 0.0, 0.0], [5.0, 4.0, 0.0], [0.0, 4.0, 0.0]];
        let surface = Mesh { vertices, triangles: vec![[0, 1, 2], [0, 2, 3]] };
        let flat = [[0.0, 0.0], [0.0, 4.0], [-2.0, 4.0], [-2.0, 0.0]];
        let found = Stretches::of(&surface, &flat).unwrap();
        for f in &found.factors {
            assert!((f[0] - 2.0).abs() < 1e-14 && (f[1] - 1.25).abs() < 1e-14);
        }
        assert!((found.worst() - 1.0).abs() < 1e-14 && (found.quantile(0.5) - 1.0).abs() < 1e-14);
        let mirrored = flat.map(|[x, y]| [-x, y]);
        assert_eq!(Stretches::of(&surface, &mirrored).err(), Some(Flaw::Flipped { triangle: 0 }));
    }
}
