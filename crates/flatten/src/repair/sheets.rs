//! Triangles sorted into oriented sheets.

use super::{Island, RepairReport, middle};
use crate::Mesh;
use crate::mesh::{dot, norm};
use units::Area;

/// A side of a triangle.
type Side = (u32, u8);

/// Takes out what no surface has, turns triangles that face against their sheet, and parts the rest: at each edge with
/// more than two triangles the two that lie flattest stay, and each fan of triangles around a vertex gets a vertex of
/// its own.
pub(super) fn part(mesh: &Mesh, report: &mut RepairReport) -> Mesh {
    let mesh = &without_extra(mesh, report);
    let mut pairs = vec![[None; 3]; mesh.triangles.len()];
    for edge in sides(mesh).chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)) {
        if let [first, second] = edge {
            pairs[first.2 as usize][first.3 as usize] = Some((second.2, second.3));
            pairs[second.2 as usize][second.3 as usize] = Some((first.2, first.3));
        }
    }
    let turned = orient(mesh, &mut pairs, report);
    let triangles: Vec<[u32; 3]> = mesh
        .triangles
        .iter()
        .zip(&turned)
        .map(|([a, b, c], over)| if *over { [*a, *c, *b] } else { [*a, *b, *c] })
        .collect();
    // side k of a turned triangle (a, c, b) is side 2 − k of the old one
    let side = |t: u32, k: u8| if turned[t as usize] { 2 - k } else { k };
    let across: Vec<[Option<Side>; 3]> = (0..triangles.len() as u32)
        .map(|t| [0, 1, 2].map(|k| pairs[t as usize][side(t, k) as usize].map(|(o, ok)| (o, side(o, ok)))))
        .collect();
    fans(mesh, triangles, &across, report)
}

/// The sides of all triangles as (lesser vertex, greater vertex, triangle, side), those of an edge beside each other.
fn sides(mesh: &Mesh) -> Vec<EdgeSide> {
    let mut sides: Vec<EdgeSide> = Vec::with_capacity(3 * mesh.triangles.len());
    for (t, corners) in mesh.triangles.iter().enumerate() {
        for k in 0..3u8 {
            let (a, b) = (corners[k as usize], corners[(k as usize + 1) % 3]);
            sides.push((a.min(b), a.max(b), t as u32, k));
        }
    }
    sides.sort_unstable();
    sides
}

/// At edges with more than two triangles only the two that lie flattest stay.
fn without_extra(mesh: &Mesh, report: &mut RepairReport) -> Mesh {
    let mut extra = vec![false; mesh.triangles.len()];
    for edge in sides(mesh).chunk_by(|a, b| (a.0, a.1) == (b.0, b.1)).filter(|e| e.len() > 2) {
        let (a, b) = (mesh.vertices[edge[0].0 as usize], mesh.vertices[edge[0].1 as usize]);
        report.parted_edges.at([0, 1, 2].map(|k| (a[k] + b[k]) / 2.0));
        let kept = flattest(mesh, edge).map(|(a, b)| [a.2, b.2]).unwrap_or_default();
        edge.iter().filter(|s| !kept.contains(&s.2)).for_each(|s| extra[s.2 as usize] = true);
    }
    let triangles = mesh.triangles.iter().zip(&extra).filter(|(_, e)| !**e).map(|(t, _)| *t).collect();
    Mesh { vertices: mesh.vertices.clone(), triangles }
}

/// A triangle's side: its ends, its triangle, and which side of it.
type EdgeSide = (u32, u32, u32, u8);

/// The two triangles at an edge that go on into each other with the least bend. Of hundreds at one edge only the first
/// are compared: no surface is hidden in such a thing.
fn flattest<'a>(mesh: &Mesh, edge: &'a [EdgeSide]) -> Option<(&'a EdgeSide, &'a EdgeSide)> {
    let edge = &edge[..edge.len().min(16)];
    let mut best = None;
    for i in 0..edge.len() {
        for j in i + 1..edge.len() {
            let from = |s: &EdgeSide| mesh.triangles[s.2 as usize][s.3 as usize];
            let (m, n) = (mesh.cross(edge[i].2 as usize), mesh.cross(edge[j].2 as usize));
            let flat = dot(m, n) / (norm(m) * norm(n)).max(f64::MIN_POSITIVE);
            let flat = if from(&edge[i]) == from(&edge[j]) { -flat } else { flat };
            if best.is_none_or(|(f, _, _)| flat > f) {
                best = Some((flat, &edge[i], &edge[j]));
            }
        }
    }
    best.map(|(_, a, b)| (a, b))
}

/// Which triangles to turn over. In each sheet the side with less area is turned; where a sheet meets its own back, as
/// on a band with a twist, it is parted.
fn orient(mesh: &Mesh, pairs: &mut [[Option<Side>; 3]], report: &mut RepairReport) -> Vec<bool> {
    let n = mesh.triangles.len();
    let mut turned: Vec<Option<bool>> = vec![None; n];
    let from = |t: u32, k: u8| mesh.triangles[t as usize][k as usize];
    for seed in 0..n {
        if turned[seed].is_some() {
            continue;
        }
        turned[seed] = Some(false);
        let mut sheet = vec![seed];
        let mut i = 0;
        while i < sheet.len() {
            let t = sheet[i];
            i += 1;
            for k in 0..3u8 {
                let Some((o, ok)) = pairs[t][k as usize] else { continue };
                let against = from(t as u32, k) == from(o, ok);
                // neighbors that run along their edge the same way face opposite ways
                let wanted = (turned[t] == Some(true)) != against;
                match turned[o as usize] {
                    None => {
                        turned[o as usize] = Some(wanted);
                        sheet.push(o as usize);
                    }
                    Some(is) if is != wanted => {
                        let v = mesh.vertices[from(t as u32, k) as usize];
                        report.parted_edges.at(v);
                        pairs[t][k as usize] = None;
                        pairs[o as usize][ok as usize] = None;
                    }
                    Some(_) => {}
                }
            }
        }
        let area = |over: bool| -> f64 {
            sheet.iter().filter(|t| turned[**t] == Some(over)).map(|t| norm(mesh.cross(*t))).sum()
        };
        let swap = area(true) > area(false);
        for &t in &sheet {
            if swap {
                turned[t] = turned[t].map(|over| !over);
            }
            if turned[t] == Some(true) {
                report.flipped.at(middle(mesh, t));
            }
        }
    }
    turned.into_iter().map(|t| t == Some(true)).collect()
}

/// A vertex of its own for each fan of triangles around a vertex.
fn fans(
    mesh: &Mesh,
    triangles: Vec<[u32; 3]>,
    across: &[[Option<Side>; 3]],
    report: &mut RepairReport,
) -> Mesh {
    // the old vertex of each fan
    let mut fans: Vec<u32> = Vec::with_capacity(mesh.vertices.len());
    let mut taken = vec![false; mesh.vertices.len()];
    let mut done = vec![[false; 3]; triangles.len()];
    let mut new = triangles.clone();
    for t in 0..triangles.len() {
        for k in 0..3 {
            if done[t][k] {
                continue;
            }
            let v = triangles[t][k] as usize;
            if std::mem::replace(&mut taken[v], true) {
                report.parted_vertices.at(mesh.vertices[v]);
            }
            let number = fans.len() as u32;
            fans.push(v as u32);
            // both ways around the vertex until the rim or the start
            let (mut s, mut c) = (t as u32, k);
            while !std::mem::replace(&mut done[s as usize][c], true) {
                new[s as usize][c] = number;
                // over the side that arrives at the corner
                match across[s as usize][(c + 2) % 3] {
                    Some((o, ok)) => (s, c) = (o, ok as usize),
                    None => break,
                }
            }
            let (mut s, mut c) = (t as u32, k);
            while let Some((o, ok)) = across[s as usize][c] {
                (s, c) = (o, (ok as usize + 1) % 3);
                if std::mem::replace(&mut done[s as usize][c], true) {
                    break;
                }
                new[s as usize][c] = number;
            }
        }
    }
    // in the order of the old vertices, so that what is sound comes through as it is
    let mut order: Vec<u32> = (0..fans.len() as u32).collect();
    order.sort_by_key(|f| (fans[*f as usize], *f));
    let mut rank = vec![0; order.len()];
    order.iter().enumerate().for_each(|(r, f)| rank[*f as usize] = r as u32);
    let vertices = order.iter().map(|f| mesh.vertices[fans[*f as usize] as usize]).collect();
    let triangles = new.into_iter().map(|t| t.map(|f| rank[f as usize])).collect();
    Mesh { vertices, triangles }
}

/// Keeps the sheet with the largest area.
pub(super) fn keep_largest(mesh: &Mesh, report: &mut RepairReport) -> Mesh {
    let sheets = sheets(mesh);
    let count = sheets.iter().max().map_or(0, |s| *s as usize + 1);
    let mut area = vec![0.0; count];
    let mut triangles = vec![0u32; count];
    let mut center = vec![[0.0; 3]; count];
    for (t, s) in sheets.iter().enumerate() {
        let s = *s as usize;
        area[s] += norm(mesh.cross(t)) / 2.0;
        triangles[s] += 1;
        let m = middle(mesh, t);
        (0..3).for_each(|k| center[s][k] += m[k]);
    }
    let Some(largest) = (0..count).max_by(|a, b| area[*a].total_cmp(&area[*b]).then(b.cmp(a))) else {
        return mesh.clone();
    };
    for s in (0..count).filter(|s| *s != largest) {
        let at = center[s].map(|c| c / f64::from(triangles[s]));
        report.islands.push(Island { at, triangles: triangles[s] as usize, area: Area::mm2(area[s]) });
        if area[s] > 0.25 * area[largest] {
            report.warnings.push(format!(
                "A part as large as {:.0} % of the panel hangs on nothing and was dropped: scan both in one go, or flatten them one by one.",
                100.0 * area[s] / area[largest]
            ));
        }
    }
    let kept = mesh.triangles.iter().zip(&sheets).filter(|(_, s)| **s as usize == largest).map(|(t, _)| *t);
    compact(mesh, kept.collect())
}

/// The triangles with the vertices that they use, in their order.
pub(crate) fn compact(mesh: &Mesh, mut triangles: Vec<[u32; 3]>) -> Mesh {
    let mut used = vec![false; mesh.vertices.len()];
    triangles.iter().flatten().for_each(|v| used[*v as usize] = true);
    let mut new = vec![u32::MAX; mesh.vertices.len()];
    let mut vertices = Vec::new();
    for (v, at) in mesh.vertices.iter().enumerate().filter(|(v, _)| used[*v]) {
        new[v] = vertices.len() as u32;
        vertices.push(*at);
    }
    triangles.iter_mut().for_each(|t| *t = t.map(|v| new[v as usize]));
    Mesh { vertices, triangles }
}

/// The sheet of each triangle, by shared vertices: fans have vertices of their own by now.
fn sheets(mesh: &Mesh) -> Vec<u32> {
    let mut root: Vec<u32> = (0..mesh.vertices.len() as u32).collect();
    fn find(root: &mut [u32], mut v: u32) -> u32 {
        while root[v as usize] != v {
            root[v as usize] = root[root[v as usize] as usize];
            v = root[v as usize];
        }
        v
    }
    for [a, b, c] in &mesh.triangles {
        for (p, q) in [(*a, *b), (*b, *c)] {
            let (p, q) = (find(&mut root, p), find(&mut root, q));
            root[p.max(q) as usize] = p.min(q);
        }
    }
    let mut number = vec![u32::MAX; mesh.vertices.len()];
    let mut count = 0;
    mesh.triangles
        .iter()
        .map(|t| {
            let r = find(&mut root, t[0]) as usize;
            if number[r] == u32::MAX {
                number[r] = count;
                count += 1;
            }
            number[r]
        })
        .collect()
}
