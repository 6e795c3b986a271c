use crate::mesh::{Mesh, cross, dot, norm, scale, sub};

/// The triangles of a surface laid flat one by one: what a map to the plane is measured against.
///
/// Asks for side lengths alone, so a bend without stretch changes nothing.
pub struct Rest {
    /// The corners of each triangle.
    pub triangles: Vec<[u32; 3]>,
    /// Area of each triangle as a share of the whole.
    pub share: Vec<f64>,
    /// For each corner, the gradient of the function that is 1 there and 0 at the other two, in the triangle's own
    /// axes, 1/mm.
    pub gradients: Vec<[[f64; 2]; 3]>,
    /// How many vertices the surface has.
    pub vertices: usize,
}

impl Rest {
    /// Of the triangles of a mesh; each must have an area.
    pub fn new(mesh: &Mesh) -> Self {
        let count = mesh.triangles.len();
        let (mut share, mut gradients) = (Vec::with_capacity(count), Vec::with_capacity(count));
        for t in 0..count {
            let [a, b, c] = mesh.corners(t);
            let (p, q) = (sub(b, a), sub(c, a));
            let normal = cross(p, q);
            let (length, double) = (norm(p), norm(normal));
            let along = scale(p, 1.0 / length);
            let up = scale(cross(normal, along), 1.0 / double);
            let (x1, x2, y2) = (length, dot(q, along), dot(q, up));
            // Corners (0, 0), (x1, 0), (x2, y2); the gradient is the opposite side turned by a quarter.
            let d = x1 * y2;
            gradients.push([[-y2 / d, (x2 - x1) / d], [y2 / d, -x2 / d], [0.0, x1 / d]]);
            share.push(double / 2.0);
        }
        let area: f64 = share.iter().sum();
        share.iter_mut().for_each(|s| *s /= area);
        Self { triangles: mesh.triangles.clone(), share, gradients, vertices: mesh.vertices.len() }
    }

    /// The derivative of the map on a triangle, \[row\]\[column\].
    #[inline]
    pub fn jacobian(&self, triangle: usize, flat: &[[f64; 2]]) -> [[f64; 2]; 2] {
        let (corners, g) = (&self.triangles[triangle], &self.gradients[triangle]);
        let mut j = [[0.0; 2]; 2];
        for k in 0..3 {
            let u = flat[corners[k] as usize];
            j[0][0] += u[0] * g[k][0];
            j[0][1] += u[0] * g[k][1];
            j[1][0] += u[1] * g[k][0];
            j[1][1] += u[1] * g[k][1];
        }
        j
    }

    /// The singular values of the map on every triangle, the second negative where it is turned over.
    pub fn singular_values(&self, flat: &[[f64; 2]]) -> Vec<[f64; 2]> {
        (0..self.triangles.len()).map(|t| Svd::of(self.jacobian(t, flat)).s).collect()
    }
}

/// J = U diag(s) Vᵀ with turns U and V, so s\[1\] carries the sign of the determinant.
#[derive(Clone, Copy, Debug)]
pub struct Svd {
    /// Cosine and sine of the turn U.
    pub u: [f64; 2],
    /// Cosine and sine of the turn V.
    pub v: [f64; 2],
    /// Singular values, s\[0\] ≥ |s\[1\]|.
    pub s: [f64; 2],
}

impl Svd {
    /// In closed form: a 2 × 2 matrix is the sum of a turn and a mirrored turn.
    #[inline]
    pub fn of(j: [[f64; 2]; 2]) -> Self {
        let (e, f) = ((j[0][0] + j[1][1]) / 2.0, (j[0][0] - j[1][1]) / 2.0);
        let (g, h) = ((j[1][0] + j[0][1]) / 2.0, (j[1][0] - j[0][1]) / 2.0);
        let (q, r) = ((e * e + h * h).sqrt(), (f * f + g * g).sqrt());
        let unit =
            |x: f64, y: f64, length: f64| if length > 0.0 { [x / length, y / length] } else { [1.0, 0.0] };
        let (turn, mirror) = (unit(e, h, q), unit(f, g, r));
        // U turns by half the sum of the two angles, Vᵀ by what is left of the turn.
        let sum = [turn[0] * mirror[0] - turn[1] * mirror[1], turn[0] * mirror[1] + turn[1] * mirror[0]];
        let u = half(sum);
        let v = [turn[0] * u[0] + turn[1] * u[1], u[1] * turn[0] - u[0] * turn[1]];
        Self { u, v, s: [q + r, q - r] }
    }
}

/// The turn by half the angle.
#[inline]
fn half([c, s]: [f64; 2]) -> [f64; 2] {
    if c > 0.0 {
        let x = ((1.0 + c) / 2.0).sqrt();
        [x, s / (2.0 * x)]
    } else {
        let y = ((1.0 - c) / 2.0).sqrt();
        [s / (2.0 * y), y]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_parts_make_the_matrix() {
        let matrices = [
            [[1.0, 0.0], [0.0, 1.0]],
            [[0.0, -2.0], [2.0, 0.0]],
            [[3.0, 1.0], [-2.0, 0.5]],
            [[1.0, 2.0], [2.0, 1.0]],
            [[-1.0, 1e-3], [0.0, -1.0]],
            [[0.0, 1.0], [1.0, 0.0]],
            [[-2.0, 0.1], [0.3, 5.0]],
        ];
        for j in matrices {
            let Svd { u: [cu, su], v: [cv, sv], s } = Svd::of(j);
            // U diag(s) Vᵀ
            let back = [
                [cu * s[0] * cv + su * s[1] * sv, cu * s[0] * sv - su * s[1] * cv],
                [su * s[0] * cv - cu * s[1] * sv, su * s[0] * sv + cu * s[1] * cv],
            ];
            for k in 0..4 {
                assert!((back[k / 2][k % 2] - j[k / 2][k % 2]).abs() < 1e-14, "{j:?} {back:?}");
            }
            assert!(s[0] >= s[1].abs());
        }
    }

    #[test]
    fn a_map_to_itself_stretches_nothing() {
        let vertices = vec![[0.0, 0.0, 1.0], [3.0, 0.0, 1.0], [1.0, 2.0, 1.0]];
        let rest = Rest::new(&Mesh { vertices, triangles: vec![[0, 1, 2]] });
        let s = rest.singular_values(&[[0.0, 0.0], [3.0, 0.0], [1.0, 2.0]])[0];
        assert!((s[0] - 1.0).abs() < 1e-15 && (s[1] - 1.0).abs() < 1e-15);
        assert!(rest.singular_values(&[[0.0, 0.0], [-3.0, 0.0], [-1.0, 2.0]])[0][1] < 0.0);
    }
}
