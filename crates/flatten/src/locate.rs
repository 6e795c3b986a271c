use crate::mesh::{Mesh, add, dot, norm, scale, sub};
use crate::newton::Flat;

/// Finds the triangle of a flat mesh at a point: triangles sorted into square cells.
pub struct Locator<'a> {
    flat: &'a Flat,
    triangles: &'a [[u32; 3]],
    low: [f64; 2],
    cell: f64,
    columns: usize,
    rows: usize,
    starts: Vec<u32>,
    content: Vec<u32>,
}

impl<'a> Locator<'a> {
    /// For a flat mesh without flips.
    pub fn new(flat: &'a Flat, triangles: &'a [[u32; 3]]) -> Self {
        let bound = |k: usize| {
            flat.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p[k]), h.max(p[k])))
        };
        let ((x0, x1), (y0, y1)) = (bound(0), bound(1));
        // About two triangles a cell.
        let cell =
            ((x1 - x0) * (y1 - y0) * 2.0 / triangles.len() as f64).sqrt().max((x1 - x0 + y1 - y0) / 4000.0);
        let (columns, rows) = (((x1 - x0) / cell) as usize + 1, ((y1 - y0) / cell) as usize + 1);
        let mut locator = Self {
            flat,
            triangles,
            low: [x0, y0],
            cell,
            columns,
            rows,
            starts: Vec::new(),
            content: Vec::new(),
        };
        let mut pairs: Vec<(u32, u32)> = Vec::with_capacity(4 * triangles.len());
        for (t, corners) in triangles.iter().enumerate() {
            let points = corners.map(|v| flat[v as usize]);
            let (low, high) = points
                .iter()
                .fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p[1]), h.max(p[1])));
            for row in locator.index(low, 1)..=locator.index(high, 1) {
                // Row by row, so that a long thin triangle across the shape fills few cells.
                let from = locator.low[1] + row as f64 * cell;
                let (left, right) = extent(points, from - 1e-6 * cell, from + (1.0 + 1e-6) * cell);
                let columns_of = locator.index(left - 1e-6 * cell, 0)..=locator.index(right + 1e-6 * cell, 0);
                pairs.extend(columns_of.map(|x| ((row * columns + x) as u32, t as u32)));
            }
        }
        locator.starts = vec![0; columns * rows + 1];
        for pair in &pairs {
            locator.starts[pair.0 as usize + 1] += 1;
        }
        for c in 0..columns * rows {
            locator.starts[c + 1] += locator.starts[c];
        }
        let mut fill = locator.starts.clone();
        locator.content = vec![0; pairs.len()];
        for (cell, t) in pairs {
            locator.content[fill[cell as usize] as usize] = t;
            fill[cell as usize] += 1;
        }
        locator
    }

    fn index(&self, at: f64, axis: usize) -> usize {
        let most = [self.columns, self.rows][axis] - 1;
        (((at - self.low[axis]) / self.cell) as usize).min(most)
    }

    /// The triangle at a point with the weights of its corners; outside the mesh the nearest one around, with
    /// weights below zero. None far outside.
    pub fn at(&self, p: [f64; 2]) -> Option<(usize, [f64; 3])> {
        let (x, y) = (self.index(p[0], 0), self.index(p[1], 1));
        let mut best: Option<(usize, [f64; 3], f64)> = None;
        for reach in 0..4usize {
            for y in y.saturating_sub(reach)..=(y + reach).min(self.rows - 1) {
                for x in x.saturating_sub(reach)..=(x + reach).min(self.columns - 1) {
                    let cell = y * self.columns + x;
                    for &t in &self.content[self.starts[cell] as usize..self.starts[cell + 1] as usize] {
                        let (weights, outside) = self.weights(t as usize, p);
                        if outside <= 0.0 {
                            return Some((t as usize, weights));
                        }
                        if best.is_none_or(|b| outside < b.2) {
                            best = Some((t as usize, weights, outside));
                        }
                    }
                }
            }
        }
        best.map(|(t, weights, _)| (t, weights))
    }

    /// The triangle that holds a point; none outside.
    pub fn holds(&self, p: [f64; 2]) -> Option<usize> {
        if (0..2).any(|k| p[k] < self.low[k]) {
            return None;
        }
        let cell = self.index(p[1], 1) * self.columns + self.index(p[0], 0);
        let held = &self.content[self.starts[cell] as usize..self.starts[cell + 1] as usize];
        held.iter().map(|&t| t as usize).find(|&t| self.weights(t, p).1 <= 1e-9)
    }

    /// Weights of the corners, and how far outside the point lies as a share of the triangle's height.
    fn weights(&self, t: usize, p: [f64; 2]) -> ([f64; 3], f64) {
        let [a, b, c] = self.triangles[t].map(|v| self.flat[v as usize]);
        let double = |p: [f64; 2], q: [f64; 2], r: [f64; 2]| {
            (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])
        };
        let whole = double(a, b, c);
        let (one, two) = (double(p, b, c) / whole, double(a, p, c) / whole);
        let weights = [one, two, 1.0 - one - two];
        (weights, -weights.into_iter().fold(f64::INFINITY, f64::min))
    }
}

/// From where to where in x a triangle reaches between two values of y; empty where it does not.
fn extent(points: [[f64; 2]; 3], low: f64, high: f64) -> (f64, f64) {
    let mut reach = (f64::INFINITY, f64::NEG_INFINITY);
    for k in 0..3 {
        let (a, b) = (points[k], points[(k + 1) % 3]);
        let (down, up) = if a[1] <= b[1] { (a, b) } else { (b, a) };
        if up[1] < low || down[1] > high {
            continue;
        }
        let at = |y: f64| {
            let t = if up[1] > down[1] { ((y - down[1]) / (up[1] - down[1])).clamp(0.0, 1.0) } else { 0.0 };
            down[0] + t * (up[0] - down[0])
        };
        let ends = if up[1] > down[1] { [at(low), at(high)] } else { [down[0], up[0]] };
        ends.into_iter().for_each(|x| reach = (reach.0.min(x), reach.1.max(x)));
    }
    reach
}

/// The triangle of a surface nearest to a place, with the weights of its corners there.
pub fn nearest_on(mesh: &Mesh, p: [f64; 3]) -> (usize, [f64; 3]) {
    let mut best = (0, [1.0, 0.0, 0.0], f64::INFINITY);
    for t in 0..mesh.triangles.len() {
        let weights = nearest_weights(mesh.corners(t), p);
        let [a, b, c] = mesh.corners(t);
        let q = add(add(scale(a, weights[0]), scale(b, weights[1])), scale(c, weights[2]));
        let away = norm(sub(q, p));
        if away < best.2 {
            best = (t, weights, away);
        }
    }
    (best.0, best.1)
}

/// Weights of the corners at the place of a triangle nearest to a point.
fn nearest_weights([a, b, c]: [[f64; 3]; 3], p: [f64; 3]) -> [f64; 3] {
    let (e, f, d) = (sub(b, a), sub(c, a), sub(p, a));
    let (ee, ef, ff, ed, fd) = (dot(e, e), dot(e, f), dot(f, f), dot(e, d), dot(f, d));
    let det = ee * ff - ef * ef;
    let (v, w) = ((ff * ed - ef * fd) / det, (ee * fd - ef * ed) / det);
    if v >= 0.0 && w >= 0.0 && v + w <= 1.0 {
        return [1.0 - v - w, v, w];
    }
    // Else on one of the sides.
    let on = |p0: [f64; 3], p1: [f64; 3]| {
        let side = sub(p1, p0);
        let t = (dot(side, sub(p, p0)) / dot(side, side)).clamp(0.0, 1.0);
        (t, norm(sub(add(p0, scale(side, t)), p)))
    };
    let (ab, bc, ca) = (on(a, b), on(b, c), on(c, a));
    if ab.1 <= bc.1 && ab.1 <= ca.1 {
        [1.0 - ab.0, ab.0, 0.0]
    } else if bc.1 <= ca.1 {
        [0.0, 1.0 - bc.0, bc.0]
    } else {
        [ca.0, 0.0, 1.0 - ca.0]
    }
}
