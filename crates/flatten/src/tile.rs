//! New triangles of even size for a flat shape, along its outline and along lines inside it.

use crate::newton::Flat;
use spade::{ConstrainedDelaunayTriangulation, Point2, Triangulation};

/// A flat shape filled with triangles.
pub struct Tiling {
    /// Where the vertices lie, mm: first those of the rim in their order, then those of the lines, then the rest.
    pub points: Flat,
    /// The triangles, counterclockwise.
    pub triangles: Vec<[u32; 3]>,
    /// How many vertices lie on the rim.
    pub rim: usize,
    /// The vertices along each line.
    pub lines: Vec<Vec<u32>>,
}

/// The rim turns at least this much at a corner, which then stays a vertex.
const CORNER: f64 = 0.4;

/// Fills the simple closed line `rim` (counterclockwise) with triangles of about `side`; the `lines` become sides of
/// triangles, from rim to rim or from the rim inward. None where the shape is too narrow for that or lines cross.
pub fn tile(rim: &[[f64; 2]], lines: &[Vec<[f64; 2]>], side: f64) -> Option<Tiling> {
    let track = Track::new(rim);
    // What must be a vertex of the rim: corners, and where lines begin or end.
    let mut marks: Vec<f64> = track.corners();
    let mut ends = Vec::new();
    for line in lines {
        let place = |p: &[f64; 2]| track.nearest(*p);
        let pair = [line.first().map(place)?, line.last().map(place)?];
        let on_rim = pair.map(|(at, away)| (away < 0.3 * side).then_some(at));
        for at in on_rim.into_iter().flatten() {
            marks.retain(|m| track.gap(*m, at) > 0.25 * side);
            marks.push(at);
        }
        ends.push(on_rim);
    }
    if marks.is_empty() {
        marks.push(0.0);
    }
    marks.sort_by(f64::total_cmp);
    marks.dedup();
    let mut points = Vec::new();
    let mut mark_vertex = Vec::new();
    let few = if marks.len() < 3 { 3 } else { 1 };
    for (k, &from) in marks.iter().enumerate() {
        let to = if k + 1 < marks.len() { marks[k + 1] } else { marks[0] + track.length };
        let count = ((to - from) / side).round().max(f64::from(few)) as usize;
        mark_vertex.push((from, points.len() as u32));
        points.extend((0..count).map(|n| track.at(from + (to - from) * n as f64 / count as f64)));
    }
    let rim_count = points.len() as u32;
    let mut edges: Vec<[usize; 2]> =
        (0..rim_count).map(|k| [k as usize, ((k + 1) % rim_count) as usize]).collect();
    let mut along = Vec::new();
    for (line, on_rim) in lines.iter().zip(ends) {
        let vertex = |at: Option<f64>| -> Option<u32> {
            let at = at?;
            mark_vertex.iter().find(|m| m.0 == at).map(|m| m.1)
        };
        let path = line_vertices(line, on_rim.map(vertex), side, &mut points);
        edges.extend(path.windows(2).map(|p| [p[0] as usize, p[1] as usize]));
        along.push(path);
    }
    let inside = Inside::new(&points[..rim_count as usize], side);
    let near = Near::new(&points, 0.7 * side);
    lattice(&inside, &near, side, &mut points);
    let vertices: Vec<Point2<f64>> = points.iter().map(|p| Point2::new(p[0], p[1])).collect();
    if edges.iter().any(|e| e[0] == e[1]) || twice(&points) {
        return None;
    }
    let mut clash = false;
    let cdt =
        ConstrainedDelaunayTriangulation::<Point2<f64>>::try_bulk_load_cdt(vertices, edges.clone(), |_| {
            clash = true;
        })
        .ok()?;
    if clash || cdt.num_vertices() != points.len() {
        return None;
    }
    let triangles: Vec<[u32; 3]> = cdt
        .inner_faces()
        .map(|face| face.vertices().map(|v| v.fix().index() as u32))
        .filter(|t| inside.contains(middle(t.map(|v| points[v as usize]))))
        .collect();
    // A line through a vertex of another is no clash, but no side either.
    let mut sides: Vec<[u32; 2]> = triangles
        .iter()
        .flat_map(|&[a, b, c]| [[a, b], [b, c], [c, a]])
        .map(|[a, b]| [a.min(b), a.max(b)])
        .collect();
    sides.sort_unstable();
    let is_side = |&[a, b]: &[usize; 2]| sides.binary_search(&[a.min(b) as u32, a.max(b) as u32]).is_ok();
    if !edges.iter().all(is_side) {
        return None;
    }
    Some(Tiling { points, triangles, rim: rim_count as usize, lines: along })
}

/// Whether two points are the same.
fn twice(points: &Flat) -> bool {
    let mut sorted = points.clone();
    sorted.sort_by(|a, b| a[0].total_cmp(&b[0]).then(a[1].total_cmp(&b[1])));
    sorted.windows(2).any(|p| p[0] == p[1])
}

fn middle([a, b, c]: [[f64; 2]; 3]) -> [f64; 2] {
    [0, 1].map(|k| (a[k] + b[k] + c[k]) / 3.0)
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

fn line_vertices(line: &[[f64; 2]], ends: [Option<u32>; 2], side: f64, points: &mut Flat) -> Vec<u32> {
    let mut line = line.to_vec();
    let last = line.len() - 1;
    for (place, end) in [0, last].into_iter().zip(ends) {
        if let Some(v) = end {
            line[place] = points[v as usize];
        }
    }
    let mut path = Vec::new();
    let mut put = |p: [f64; 2], path: &mut Vec<u32>| {
        path.push(points.len() as u32);
        points.push(p);
    };
    match ends[0] {
        Some(v) => path.push(v),
        None => put(line[0], &mut path),
    }
    for (k, pair) in line.windows(2).enumerate() {
        let count = (distance(pair[0], pair[1]) / side).round().max(1.0) as usize;
        for n in 1..=count {
            let t = n as f64 / count as f64;
            match ends[1] {
                Some(v) if k + 1 == last && n == count => path.push(v),
                _ => put([0, 1].map(|i| pair[0][i] + t * (pair[1][i] - pair[0][i])), &mut path),
            }
        }
    }
    path
}

/// A closed line by its length.
struct Track<'a> {
    points: &'a [[f64; 2]],
    starts: Vec<f64>,
    length: f64,
}

impl<'a> Track<'a> {
    fn new(points: &'a [[f64; 2]]) -> Self {
        let (mut starts, mut length) = (Vec::with_capacity(points.len()), 0.0);
        for k in 0..points.len() {
            starts.push(length);
            length += distance(points[k], points[(k + 1) % points.len()]);
        }
        Self { points, starts, length }
    }

    fn at(&self, along: f64) -> [f64; 2] {
        let along = along.rem_euclid(self.length);
        let k = self.starts.partition_point(|s| *s <= along).max(1) - 1;
        let (p, q) = (self.points[k], self.points[(k + 1) % self.points.len()]);
        let length = distance(p, q);
        let t = if length > 0.0 { (along - self.starts[k]) / length } else { 0.0 };
        [0, 1].map(|i| p[i] + t * (q[i] - p[i]))
    }

    fn gap(&self, one: f64, two: f64) -> f64 {
        let d = (one - two).abs();
        d.min(self.length - d)
    }

    fn corners(&self) -> Vec<f64> {
        let n = self.points.len();
        (0..n)
            .filter(|&k| {
                let (a, b, c) = (self.points[(k + n - 1) % n], self.points[k], self.points[(k + 1) % n]);
                let (p, q) = ([b[0] - a[0], b[1] - a[1]], [c[0] - b[0], c[1] - b[1]]);
                (p[0] * q[1] - p[1] * q[0]).atan2(p[0] * q[0] + p[1] * q[1]).abs() > CORNER
            })
            .map(|k| self.starts[k])
            .collect()
    }

    /// Where along the line the nearest place to a point lies, and how far away it is.
    fn nearest(&self, p: [f64; 2]) -> (f64, f64) {
        let mut best = (0.0, f64::INFINITY);
        for k in 0..self.points.len() {
            let (a, b) = (self.points[k], self.points[(k + 1) % self.points.len()]);
            let (d, e) = ([b[0] - a[0], b[1] - a[1]], [p[0] - a[0], p[1] - a[1]]);
            let square = d[0] * d[0] + d[1] * d[1];
            let t = if square > 0.0 { ((d[0] * e[0] + d[1] * e[1]) / square).clamp(0.0, 1.0) } else { 0.0 };
            let away = distance(p, [a[0] + t * d[0], a[1] + t * d[1]]);
            if away < best.1 {
                best = (self.starts[k] + t * square.sqrt(), away);
            }
        }
        (best.0.rem_euclid(self.length), best.1)
    }
}

/// Whether points lie inside a closed line: its sides sorted into rows.
struct Inside {
    low: [f64; 2],
    high: [f64; 2],
    height: f64,
    rows: Vec<Vec<[[f64; 2]; 2]>>,
}

impl Inside {
    fn new(rim: &[[f64; 2]], height: f64) -> Self {
        let bound = |k: usize| {
            rim.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p[k]), h.max(p[k])))
        };
        let ((x0, x1), (y0, y1)) = (bound(0), bound(1));
        let mut rows = vec![Vec::new(); ((y1 - y0) / height) as usize + 1];
        for k in 0..rim.len() {
            let (a, b) = (rim[k], rim[(k + 1) % rim.len()]);
            let row = |y: f64| ((y - y0) / height) as usize;
            for list in &mut rows[row(a[1].min(b[1]))..=row(a[1].max(b[1]))] {
                list.push([a, b]);
            }
        }
        Self { low: [x0, y0], high: [x1, y1], height, rows }
    }

    fn contains(&self, [x, y]: [f64; 2]) -> bool {
        if !(self.low[1]..=self.high[1]).contains(&y) {
            return false;
        }
        let row = &self.rows[((y - self.low[1]) / self.height) as usize];
        let crossed = |[a, b]: &[[f64; 2]; 2]| {
            (a[1] > y) != (b[1] > y) && x < a[0] + (y - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
        };
        row.iter().filter(|side| crossed(side)).count() % 2 == 1
    }
}

/// Whether a point lies close to one of many: those sorted into cells.
struct Near {
    reach: f64,
    cells: Vec<(i64, i64, [f64; 2])>,
}

impl Near {
    fn new(points: &[[f64; 2]], reach: f64) -> Self {
        let mut cells: Vec<_> = points
            .iter()
            .map(|p| ((p[0] / reach).floor() as i64, (p[1] / reach).floor() as i64, *p))
            .collect();
        cells.sort_by_key(|c| (c.0, c.1));
        Self { reach, cells }
    }

    fn any(&self, p: [f64; 2]) -> bool {
        let (x, y) = ((p[0] / self.reach).floor() as i64, (p[1] / self.reach).floor() as i64);
        (x - 1..=x + 1).any(|x| {
            let from = self.cells.partition_point(|c| (c.0, c.1) < (x, y - 1));
            let close = |c: &(i64, i64, [f64; 2])| distance(c.2, p) < self.reach;
            self.cells[from..].iter().take_while(|c| (c.0, c.1) <= (x, y + 1)).any(close)
        })
    }
}

/// Points of a triangular lattice that are inside and not too near the lines.
fn lattice(inside: &Inside, near: &Near, side: f64, points: &mut Flat) {
    let step = side * 0.75_f64.sqrt();
    let [width, height] = [0, 1].map(|k| inside.high[k] - inside.low[k]);
    for row in 0..=(height / step) as usize {
        let y = inside.low[1] + (row as f64 + 0.5) * step;
        let shift = if row % 2 == 0 { 0.25 } else { 0.75 };
        for column in 0..=(width / side) as usize {
            let p = [inside.low[0] + (column as f64 + shift) * side, y];
            if inside.contains(p) && !near.any(p) {
                points.push(p);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Disk, Mesh};

    fn area(tiling: &Tiling) -> f64 {
        let corner = |t: &[u32; 3]| t.map(|v| tiling.points[v as usize]);
        tiling
            .triangles
            .iter()
            .map(|t| {
                let [a, b, c] = corner(t);
                ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])) / 2.0
            })
            .sum()
    }

    const BENT: [[f64; 2]; 6] =
        [[0.0, 0.0], [100.0, 0.0], [100.0, 40.0], [50.0, 40.0], [50.0, 90.0], [0.0, 90.0]];

    #[test]
    fn a_bent_shape_is_filled_and_keeps_its_corners() {
        let tiling = tile(&BENT, &[], 5.0).unwrap();
        assert!((area(&tiling) - 6500.0).abs() < 1e-9);
        assert!(BENT.iter().all(|c| tiling.points.contains(c)));
        let vertices = tiling.points.iter().map(|p| [p[0], p[1], 0.0]).collect();
        let disk = Disk::new(Mesh { vertices, triangles: tiling.triangles.clone() }).unwrap();
        let mean = disk.mesh().mean_edge().as_mm();
        assert!((4.0..6.5).contains(&mean), "{mean}");
        for t in 0..tiling.triangles.len() {
            let [a, b, c] = tiling.triangles[t].map(|v| tiling.points[v as usize]);
            let longest = distance(a, b).max(distance(b, c)).max(distance(c, a));
            let double = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
            assert!(double / (longest * longest) > 0.25, "a thin triangle {a:?} {b:?} {c:?}");
        }
    }

    #[test]
    fn lines_become_sides() {
        let slit = vec![[25.0, 0.0], [25.0, 30.0]];
        let seam = vec![[0.0, 60.0], [20.0, 55.0], [50.0, 60.0]];
        let tiling = tile(&BENT, &[slit, seam], 5.0).unwrap();
        let has = |a: u32, b: u32| tiling.triangles.iter().any(|t| t.contains(&a) && t.contains(&b));
        assert!(tiling.lines.iter().all(|line| line.windows(2).all(|p| has(p[0], p[1]))));
        assert_eq!(tiling.points[*tiling.lines[0].last().unwrap() as usize], [25.0, 30.0]);
        assert!((area(&tiling) - 6500.0).abs() < 1e-9);
    }

    #[test]
    fn lines_that_cross_are_refused() {
        let lines = [vec![[25.0, 0.0], [25.0, 90.0]], vec![[0.0, 60.0], [50.0, 60.0]]];
        assert!(tile(&BENT, &lines, 5.0).is_none());
    }
}
