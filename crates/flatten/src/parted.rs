//! A panel whose flat piece would lie over itself, parted in two by a seam half way between the places that would meet.

use crate::cut::Cut;
use crate::disk::Disk;
use crate::flattening::Flattening;
use crate::mesh::{Mesh, add, norm, scale, sub};
use crate::newton::Flat;
use crate::verify::crossed;
use std::collections::{BTreeMap, BinaryHeap};

/// A half: its surface, where it lay on the film of the whole, and the sides of its rim that cuts made.
pub type Half = (Disk, Flat, Vec<[u32; 2]>);

/// The two halves and the seam between them; none where the line half way does not part the panel into two disks.
pub fn parted(whole: &Flattening) -> Option<([Half; 2], Cut)> {
    let mesh = &whole.surface;
    let ([one, two], _) = crossed(mesh, &whole.flat)?;
    // How much nearer a vertex is to the one place than to the other, over the sides of triangles.
    let (near, far) = (distances(mesh, one), distances(mesh, two));
    let lead: Vec<f64> = near.iter().zip(&far).map(|(a, b)| b - a).collect();
    let first: Vec<bool> = lead.iter().map(|l| *l >= 0.0).collect();
    let mut split = Split { vertices: mesh.vertices.clone(), flat: whole.flat.clone(), new: BTreeMap::new() };
    let (mut sides, mut line) = ([Vec::new(), Vec::new()], Vec::new());
    for corners in &mesh.triangles {
        let of = corners.map(|v| first[v as usize]);
        let Some(k) = (0..3).find(|&k| of[k] != of[(k + 1) % 3] && of[k] != of[(k + 2) % 3]) else {
            sides[usize::from(of[0])].push(*corners);
            continue;
        };
        let [lone, next, last] = [0, 1, 2].map(|n| corners[(k + n) % 3]);
        let (p, q) = (split.between(lone, next, &lead), split.between(lone, last, &lead));
        sides[usize::from(of[k])].push([lone, p, q]);
        sides[usize::from(!of[k])].extend([[p, next, last], [p, last, q]]);
        line.push([p, q]);
    }
    let seam = Cut { points: chain(line.clone())?.iter().map(|v| split.vertices[*v as usize]).collect() };
    let known: Vec<[u32; 2]> = whole.cut_sides.clone();
    let half = |triangles: &[[u32; 3]]| split.half(triangles, &line, &known);
    let halves = [half(&sides[0])?, half(&sides[1])?];
    Some((halves, seam))
}

struct Split {
    vertices: Vec<[f64; 3]>,
    flat: Flat,
    new: BTreeMap<[u32; 2], u32>,
}

impl Split {
    /// The vertex where the line crosses a side, well between its ends so that no sliver is left.
    fn between(&mut self, a: u32, b: u32, lead: &[f64]) -> u32 {
        let key = [a.min(b), a.max(b)];
        if let Some(v) = self.new.get(&key) {
            return *v;
        }
        let [i, j] = key.map(|v| v as usize);
        let t = (lead[i] / (lead[i] - lead[j])).clamp(0.2, 0.8);
        let v = self.vertices.len() as u32;
        self.vertices.push(add(scale(self.vertices[i], 1.0 - t), scale(self.vertices[j], t)));
        self.flat.push([0, 1].map(|k| (1.0 - t) * self.flat[i][k] + t * self.flat[j][k]));
        self.new.insert(key, v);
        v
    }

    fn half(&self, triangles: &[[u32; 3]], line: &[[u32; 2]], known: &[[u32; 2]]) -> Option<Half> {
        let mut new = BTreeMap::new();
        let mut own = Vec::new();
        let renumbered = triangles.iter().map(|t| {
            t.map(|v| {
                *new.entry(v).or_insert_with(|| {
                    own.push(v);
                    own.len() as u32 - 1
                })
            })
        });
        let triangles: Vec<[u32; 3]> = renumbered.collect();
        let vertices = own.iter().map(|v| self.vertices[*v as usize]).collect();
        let disk = Disk::new(Mesh { vertices, triangles }).ok()?;
        let flat = own.iter().map(|v| self.flat[*v as usize]).collect();
        let made = |[a, b]: [u32; 2]| {
            let (a, b) = (own[a as usize], own[b as usize]);
            line.contains(&[a, b]) || line.contains(&[b, a]) || known.contains(&[a, b])
        };
        let rim = disk.rim();
        let sides = (0..rim.len()).map(|k| [rim[k], rim[(k + 1) % rim.len()]]);
        let cut_sides = sides.filter(|s| made(*s)).collect();
        Some((disk, flat, cut_sides))
    }
}

/// Length of the shortest way over the sides of triangles from either of two vertices, mm.
fn distances(mesh: &Mesh, from: [usize; 2]) -> Vec<f64> {
    let mut around: Vec<Vec<u32>> = vec![Vec::new(); mesh.vertices.len()];
    for corners in &mesh.triangles {
        for k in 0..3 {
            let (a, b) = (corners[k], corners[(k + 1) % 3]);
            around[a as usize].push(b);
            around[b as usize].push(a);
        }
    }
    let mut length = vec![f64::INFINITY; mesh.vertices.len()];
    // Lengths are not negative, so their bits order as they do.
    let mut next = BinaryHeap::new();
    for v in from {
        length[v] = 0.0;
        next.push((std::cmp::Reverse(0.0_f64.to_bits()), v as u32));
    }
    while let Some((std::cmp::Reverse(bits), v)) = next.pop() {
        let at = f64::from_bits(bits);
        if at > length[v as usize] {
            continue;
        }
        for w in &around[v as usize] {
            let way = at + norm(sub(mesh.vertices[*w as usize], mesh.vertices[v as usize]));
            if way < length[*w as usize] {
                length[*w as usize] = way;
                next.push((std::cmp::Reverse(way.to_bits()), *w));
            }
        }
    }
    length
}

/// Segments joined into one open line; none where they are several lines or closed.
fn chain(segments: Vec<[u32; 2]>) -> Option<Vec<u32>> {
    let mut at: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for [a, b] in &segments {
        at.entry(*a).or_default().push(*b);
        at.entry(*b).or_default().push(*a);
    }
    let mut line = vec![*at.iter().find(|(_, n)| n.len() == 1)?.0];
    let mut before = u32::MAX;
    while let Some(next) = at[line.last()?].iter().find(|v| **v != before) {
        before = *line.last()?;
        line.push(*next);
    }
    (line.len() == segments.len() + 1).then_some(line)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Options, flatten, flatten_parted};
    use effort::Effort;
    use units::Length;

    /// A ramp around a post, `degrees` of it: almost flat, but film of it would lie over itself after a full turn.
    fn ramp(degrees: f64) -> Mesh {
        let (n, m) = ((degrees / 4.0) as u32, 8);
        let at = |i: u32, j: u32| {
            let (turn, r) = (degrees.to_radians() * f64::from(i) / f64::from(n), 100.0 + 12.5 * f64::from(j));
            [r * turn.cos(), r * turn.sin(), 3.0 * turn]
        };
        let v = |i: u32, j: u32| i * (m + 1) + j;
        let cells = (0..n).flat_map(|i| (0..m).map(move |j| (i, j)));
        Mesh {
            vertices: (0..=n).flat_map(|i| (0..=m).map(move |j| at(i, j))).collect(),
            triangles: cells
                .flat_map(|(i, j)| {
                    [[v(i, j), v(i, j + 1), v(i + 1, j + 1)], [v(i, j), v(i + 1, j + 1), v(i + 1, j)]]
                })
                .map(|[a, b, c]| [a, c, b])
                .collect(),
        }
    }

    #[test]
    fn a_piece_that_would_lie_over_itself_is_parted() {
        let options = Options { smoothing: Length::ZERO, ..Options::default() };
        let effort = Effort::steps(u64::MAX);
        let mesh = ramp(500.0);
        assert!(flatten(&mesh, &options, &effort, &mut |_| {}).unwrap().overlaps());
        let parted = flatten_parted(&mesh, &options, &effort, &mut |_| {}).unwrap();
        assert_eq!((parted.pieces.len(), parted.seams.len()), (2, 1));
        let area: f64 = parted.pieces.iter().map(|p| p.surface.area().as_mm2()).sum();
        assert!((area / mesh.area().as_mm2() - 1.0).abs() < 1e-9);
        for piece in &parted.pieces {
            assert!(!piece.overlaps() && !piece.cut_sides.is_empty());
            assert!(crate::outline::of_flattening(piece, &[], &crate::outline::Tracing::default()).is_ok());
        }
        // What lies flat in one piece stays in one.
        let whole = flatten_parted(&ramp(300.0), &options, &effort, &mut |_| {}).unwrap();
        assert_eq!((whole.pieces.len(), whole.seams.len()), (1, 0));
    }
}
