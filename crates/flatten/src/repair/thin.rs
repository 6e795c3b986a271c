//! Triangles without area, and triangles that are there twice.

use super::{RepairReport, middle};
use crate::Mesh;
use crate::mesh::{norm, sub};
use std::collections::{HashMap, HashSet};

/// A triangle whose height is below this share of its longest side has no area.
const THIN: f64 = 1e-4;

/// Takes out triangles with a vertex at two corners, and those that are there twice.
pub(super) fn drop_collapsed(mesh: &mut Mesh, report: &mut RepairReport) {
    let mut met = HashSet::new();
    let mut kept = Vec::with_capacity(mesh.triangles.len());
    for t in 0..mesh.triangles.len() {
        let [a, b, c] = mesh.triangles[t];
        if a == b || b == c || c == a {
            report.degenerate.at(middle(mesh, t));
            continue;
        }
        let mut corners = [a, b, c];
        corners.sort_unstable();
        if met.insert(corners) {
            kept.push([a, b, c]);
        } else {
            report.repeated.at(middle(mesh, t));
        }
    }
    mesh.triangles = kept;
}

/// Mends triangles without area so that no crack is left: one with a short side loses that side, one whose third
/// corner lies on its longest side gives that side's neighbor two triangles instead.
pub(super) fn mend(mesh: &mut Mesh, report: &mut RepairReport) {
    let mut first = true;
    // each round mends what the last one made or left; flips and collapses both lower the count of thin ones
    for _ in 0..8 {
        let thin: Vec<usize> = (0..mesh.triangles.len()).filter(|t| is_thin(mesh, *t)).collect();
        if thin.is_empty() {
            return;
        }
        if std::mem::take(&mut first) {
            thin.iter().for_each(|t| report.degenerate.at(middle(mesh, *t)));
        }
        round(mesh, &thin);
        drop_collapsed(mesh, &mut RepairReport::default());
    }
    let left: Vec<bool> = (0..mesh.triangles.len()).map(|t| is_thin(mesh, t)).collect();
    let mut t = 0;
    mesh.triangles.retain(|_| {
        t += 1;
        !left[t - 1]
    });
}

fn round(mesh: &mut Mesh, thin: &[usize]) {
    let mut at_edge: HashMap<(u32, u32), Vec<u32>> = HashMap::new();
    for (t, [a, b, c]) in mesh.triangles.iter().enumerate() {
        for (p, q) in [(a, b), (b, c), (c, a)] {
            at_edge.entry((*p.min(q), *p.max(q))).or_default().push(t as u32);
        }
    }
    let mut moved: Vec<u32> = (0..mesh.vertices.len() as u32).collect();
    let mut busy = vec![false; mesh.vertices.len()];
    let mut touched = vec![false; mesh.triangles.len()];
    let mut dead = vec![false; mesh.triangles.len()];
    for &t in thin {
        if touched[t] {
            continue;
        }
        let corners = mesh.triangles[t];
        let length = |k: usize| {
            let at = |v: u32| mesh.vertices[v as usize];
            norm(sub(at(corners[(k + 1) % 3]), at(corners[k])))
        };
        let order = |a: &usize, b: &usize| length(*a).total_cmp(&length(*b));
        let (Some(short), Some(long)) = ((0..3).min_by(order), (0..3).max_by(order)) else { continue };
        if length(short) <= 0.05 * length(long) {
            let (keep, go) = (corners[short], corners[(short + 1) % 3]);
            // only one collapse at a vertex in a round: chains would pull far things together
            if !busy[keep as usize] && !busy[go as usize] {
                moved[go as usize] = keep;
                busy[keep as usize] = true;
                busy[go as usize] = true;
            }
            continue;
        }
        let (p, q, r) = (corners[long], corners[(long + 1) % 3], corners[(long + 2) % 3]);
        let there = &at_edge[&(p.min(q), p.max(q))];
        let other = there.iter().copied().find(|o| *o as usize != t);
        match (other, there.len()) {
            (None, _) => dead[t] = true,
            (Some(o), 2) if !touched[o as usize] => {
                let o = o as usize;
                let Some(s) = mesh.triangles[o].into_iter().find(|v| *v != p && *v != q) else { continue };
                if s == r || at_edge.contains_key(&(r.min(s), r.max(s))) {
                    dead[t] = true;
                    continue;
                }
                let same_way =
                    (0..3).any(|k| mesh.triangles[o][k] == p && mesh.triangles[o][(k + 1) % 3] == q);
                mesh.triangles[t] = [p, s, r];
                mesh.triangles[o] = [s, q, r];
                if same_way {
                    // the neighbor faces the other way: it stays as it was turned
                    mesh.triangles[o] = [q, s, r];
                }
                touched[t] = true;
                touched[o] = true;
                // its edges changed: neighbors wait for the next round
                for (a, b) in [(p, s), (s, q), (q, r), (r, p)] {
                    let near = at_edge.get(&(a.min(b), a.max(b)));
                    near.into_iter().flatten().for_each(|n| touched[*n as usize] = true);
                }
            }
            _ => {}
        }
    }
    let mut t = 0;
    mesh.triangles.retain(|_| {
        t += 1;
        !dead[t - 1]
    });
    mesh.triangles.iter_mut().for_each(|t| *t = t.map(|v| moved[v as usize]));
}

fn is_thin(mesh: &Mesh, t: usize) -> bool {
    let [a, b, c] = mesh.corners(t);
    let longest = norm(sub(b, a)).max(norm(sub(c, b))).max(norm(sub(a, c)));
    norm(mesh.cross(t)) <= THIN * longest * longest
}
