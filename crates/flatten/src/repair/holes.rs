//! Holes of a surface filled.

use super::{Closed, Hole, RepairReport};
use crate::mesh::{add, cross, dot, norm, scale, sub};
use crate::{Mesh, MeshFlaw, Topology};
use std::collections::HashSet;
use units::Length;

/// Corners of a rim up to which the triangulation of least area is searched; longer rims are clipped ear by ear.
const EXACT: usize = 96;

pub(super) fn close(mesh: &Mesh, limit: Length, report: &mut RepairReport) -> Result<Closed, MeshFlaw> {
    let topology = Topology::of(mesh)?;
    let length = |rim: &[u32]| -> f64 {
        let at = |k: usize| mesh.vertices[rim[k % rim.len()] as usize];
        (0..rim.len()).map(|k| norm(sub(at(k + 1), at(k)))).sum()
    };
    let outline = (0..topology.rims.len())
        .max_by(|a, b| length(&topology.rims[*a]).total_cmp(&length(&topology.rims[*b])).then(b.cmp(a)));
    let mut edges = HashSet::new();
    if topology.rims.len() > 1 {
        edges.extend(
            mesh.triangles.iter().flat_map(|[a, b, c]| [(*a, *b), (*b, *c), (*c, *a)]).map(undirected),
        );
    }
    let mut closed = Closed { mesh: mesh.clone(), cut_outs: Vec::new() };
    for (_, rim) in topology.rims.iter().enumerate().filter(|(r, _)| Some(*r) != outline) {
        let places: Vec<[f64; 3]> = rim.iter().map(|v| mesh.vertices[*v as usize]).collect();
        let long = length(rim);
        let at = scale(places.iter().fold([0.0; 3], |s, p| add(s, *p)), 1.0 / places.len() as f64);
        let kept = long > limit.as_mm();
        // the rim runs with the surface on its left; the patch runs the other way
        let ring: Vec<u32> = rim.iter().rev().copied().collect();
        let mut fill = patch(&mesh.vertices, &ring);
        if chords(&fill, &ring).any(|edge| edges.contains(&edge)) {
            // the surface has such an edge already: a fan about a new vertex has none of its own
            let center = closed.mesh.vertices.len() as u32;
            closed.mesh.vertices.push(at);
            fill = (0..ring.len()).map(|k| [ring[k], ring[(k + 1) % ring.len()], center]).collect();
        }
        edges.extend(fill.iter().flat_map(|[a, b, c]| [(*a, *b), (*b, *c), (*c, *a)]).map(undirected));
        closed.mesh.triangles.extend(fill);
        report.holes.push(Hole { at, rim: Length::mm(long), kept });
        if kept {
            closed.cut_outs.push(places);
        }
    }
    Ok(closed)
}

fn undirected((a, b): (u32, u32)) -> (u32, u32) {
    (a.min(b), a.max(b))
}

/// Edges of a patch that are not edges of its ring.
fn chords(patch: &[[u32; 3]], ring: &[u32]) -> impl Iterator<Item = (u32, u32)> {
    let around: HashSet<(u32, u32)> =
        (0..ring.len()).map(|k| undirected((ring[k], ring[(k + 1) % ring.len()]))).collect();
    let edges: Vec<_> =
        patch.iter().flat_map(|[a, b, c]| [(*a, *b), (*b, *c), (*c, *a)]).map(undirected).collect();
    edges.into_iter().filter(move |e| !around.contains(e))
}

/// Triangles that fill a ring.
fn patch(vertices: &[[f64; 3]], ring: &[u32]) -> Vec<[u32; 3]> {
    if ring.len() <= EXACT { least_area(vertices, ring) } else { clipped(vertices, ring) }
}

/// Least total area (Barequet and Sharir 1995), by dynamic programming over the chords.
fn least_area(vertices: &[[f64; 3]], ring: &[u32]) -> Vec<[u32; 3]> {
    let n = ring.len();
    let at = |k: usize| vertices[ring[k] as usize];
    let area = |i: usize, k: usize, j: usize| norm(cross(sub(at(k), at(i)), sub(at(j), at(i))));
    let mut cost = vec![0.0; n * n];
    let mut through = vec![0usize; n * n];
    for span in 2..n {
        for i in 0..n - span {
            let j = i + span;
            let best = (i + 1..j)
                .map(|k| (cost[i * n + k] + cost[k * n + j] + area(i, k, j), k))
                .min_by(|a, b| a.0.total_cmp(&b.0));
            if let Some((c, k)) = best {
                cost[i * n + j] = c;
                through[i * n + j] = k;
            }
        }
    }
    let mut triangles = Vec::with_capacity(n.saturating_sub(2));
    let mut open = vec![(0, n - 1)];
    while let Some((i, j)) = open.pop() {
        if j < i + 2 {
            continue;
        }
        let k = through[i * n + j];
        triangles.push([ring[i], ring[k], ring[j]]);
        open.extend([(i, k), (k, j)]);
    }
    triangles
}

/// Ear by ear, the sharpest corner of the ring first.
fn clipped(vertices: &[[f64; 3]], ring: &[u32]) -> Vec<[u32; 3]> {
    let n = ring.len();
    let at = |k: usize| vertices[ring[k] as usize];
    // the ring's own normal tells inner corners from outer ones (Newell)
    let normal = (0..n).fold([0.0; 3], |s, k| add(s, cross(at(k), at((k + 1) % n))));
    let mut next: Vec<usize> = (0..n).map(|k| (k + 1) % n).collect();
    let mut back: Vec<usize> = (0..n).map(|k| (k + n - 1) % n).collect();
    let angle = |p: usize, k: usize, q: usize| {
        let (u, v) = (sub(at(q), at(k)), sub(at(p), at(k)));
        let turn = cross(u, v);
        let open = norm(turn).atan2(dot(u, v));
        if dot(turn, normal) < 0.0 { 2.0 * std::f64::consts::PI - open } else { open }
    };
    let mut queue: std::collections::BTreeSet<(u64, usize)> = std::collections::BTreeSet::new();
    // angles are positive, so their bits order as they do
    let mut key: Vec<u64> = (0..n).map(|k| angle(back[k], k, next[k]).to_bits()).collect();
    queue.extend((0..n).map(|k| (key[k], k)));
    let mut triangles = Vec::with_capacity(n - 2);
    while queue.len() > 3 {
        let Some((_, k)) = queue.pop_first() else { break };
        let (p, q) = (back[k], next[k]);
        triangles.push([ring[p], ring[k], ring[q]]);
        next[p] = q;
        back[q] = p;
        for c in [p, q] {
            queue.remove(&(key[c], c));
            key[c] = angle(back[c], c, next[c]).to_bits();
            queue.insert((key[c], c));
        }
    }
    let last: Vec<usize> = queue.iter().map(|(_, k)| *k).collect();
    if let [a, _, _] = last[..] {
        triangles.push([ring[a], ring[next[a]], ring[next[next[a]]]]);
    }
    triangles
}
