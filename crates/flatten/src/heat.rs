//! What a drawing of the stretch needs: values at vertices, and the panel as it is seen.

use crate::mesh::{add, cross, dot, norm, scale, sub};
use crate::{Flattening, Mesh};

/// Greatest stretch at each vertex, as a fraction: the mean of the triangles around it, weighed by area. Level lines want
/// one value a vertex; the worst stretch itself is that of a triangle and a little more.
pub fn at_vertices(flattening: &Flattening) -> Vec<f64> {
    let surface = &flattening.surface;
    let mut sum = vec![[0.0; 2]; surface.vertices.len()];
    for (t, corners) in surface.triangles.iter().enumerate() {
        let area = norm(surface.cross(t));
        for v in corners {
            sum[*v as usize][0] += area * (flattening.stretch[t][0] - 1.0);
            sum[*v as usize][1] += area;
        }
    }
    sum.into_iter().map(|[s, a]| if a > 0.0 { s / a } else { 0.0 }).collect()
}

/// Where each vertex is seen when the panel is looked at squarely from outside and a little from above, mm on a sheet
/// with y down. Its longest way lies level.
pub fn seen(mesh: &Mesh) -> Vec<[f64; 2]> {
    let view = View::of(mesh);
    mesh.vertices.iter().map(|p| view.place(*p)).collect()
}

/// A way of looking at a panel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    right: [f64; 3],
    up: [f64; 3],
}

impl View {
    /// See [`seen`].
    pub fn of(mesh: &Mesh) -> Self {
        let normal = (0..mesh.triangles.len()).fold([0.0; 3], |n, t| add(n, mesh.cross(t)));
        let normal = unit(normal).unwrap_or([0.0, 0.0, 1.0]);
        let count = mesh.vertices.len().max(1) as f64;
        let center = scale(mesh.vertices.iter().fold([0.0; 3], |c, p| add(c, *p)), 1.0 / count);
        // the direction of largest spread within the plane, by turning a start towards it (power iteration)
        let mut right = unit(cross([0.0, 1.0, 0.0], normal)).unwrap_or([1.0, 0.0, 0.0]);
        let first = right;
        for _ in 0..40 {
            let spread = mesh.vertices.iter().fold([0.0; 3], |s, p| {
                let d = sub(*p, center);
                let d = sub(d, scale(normal, dot(d, normal)));
                add(s, scale(d, dot(d, right)))
            });
            right = unit(spread).unwrap_or(right);
        }
        if dot(right, first) < 0.0 {
            right = scale(right, -1.0);
        }
        let up = cross(normal, right);
        // tilted by 25°: the panel's bulge is seen
        let (s, c) = 25f64.to_radians().sin_cos();
        Self { right, up: add(scale(up, c), scale(normal, s)) }
    }

    /// Where a place is seen.
    pub fn place(&self, p: [f64; 3]) -> [f64; 2] {
        [dot(p, self.right), -dot(p, self.up)]
    }
}

fn unit(v: [f64; 3]) -> Option<[f64; 3]> {
    let length = norm(v);
    (length > 1e-12).then(|| scale(v, 1.0 / length))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tape::{Tape, Tapes, patch};
    use units::Length;

    #[test]
    fn a_panel_is_seen_along_its_long_side_and_not_mirrored() {
        let tape = |arc: f64| Tape { at: 0.5, arc: Length::mm(arc), sag: Length::mm(20.0) };
        let tapes = Tapes { along: vec![tape(600.0)], across: vec![tape(1200.0)] };
        let mesh = patch(&tapes, Length::mm(20.0)).unwrap().mesh;
        let seen = seen(&mesh);
        let extent = |k: usize| {
            let (low, high) = seen.iter().fold((f64::MAX, f64::MIN), |(l, h), p| (l.min(p[k]), h.max(p[k])));
            high - low
        };
        assert!(extent(0) > 1100.0 && extent(1) < 620.0, "{} {}", extent(0), extent(1));
        // triangles that turn left from outside turn left on the sheet too, where y runs down
        let turning = mesh
            .triangles
            .iter()
            .map(|t| t.map(|v| seen[v as usize]))
            .map(|[a, b, c]| (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]));
        assert!(turning.sum::<f64>() < 0.0);
    }
}
