//! Vertices at one place become one.

use super::Found;
use crate::Mesh;
use std::collections::HashMap;

/// Welds vertices nearer than `within` (mm) to the first of them, and drops vertices that no triangle names.
pub(super) fn weld(mesh: &Mesh, within: f64, found: &mut Found) -> Mesh {
    let mut used = vec![false; mesh.vertices.len()];
    mesh.triangles.iter().flatten().for_each(|v| used[*v as usize] = true);
    let cell = |p: [f64; 3], k: usize| if within > 0.0 { (p[k] / within).floor() } else { p[k] };
    let key = |c: [f64; 3]| c.map(|x| (x + 0.0).to_bits());
    // kept vertices by cell; at most a few share one, since nearer ones are welded
    let mut cells: HashMap<[u64; 3], Vec<u32>> = HashMap::new();
    let mut vertices: Vec<[f64; 3]> = Vec::new();
    let mut new = vec![u32::MAX; mesh.vertices.len()];
    for (v, &p) in mesh.vertices.iter().enumerate().filter(|(v, _)| used[*v]) {
        let here = [cell(p, 0), cell(p, 1), cell(p, 2)];
        let near = |q: [f64; 3]| {
            let d = [p[0] - q[0], p[1] - q[1], p[2] - q[2]];
            d[0] * d[0] + d[1] * d[1] + d[2] * d[2] <= within * within
        };
        let steps: &[f64] = if within > 0.0 { &[0.0, -1.0, 1.0] } else { &[0.0] };
        let around =
            steps.iter().flat_map(|x| steps.iter().flat_map(move |y| steps.iter().map(move |z| [x, y, z])));
        let known = around
            .filter_map(|[x, y, z]| cells.get(&key([here[0] + x, here[1] + y, here[2] + z])))
            .flatten()
            .find(|k| near(vertices[**k as usize]));
        new[v] = match known {
            Some(k) => {
                found.at(p);
                *k
            }
            None => {
                vertices.push(p);
                let number = vertices.len() as u32 - 1;
                cells.entry(key(here)).or_default().push(number);
                number
            }
        };
    }
    let triangles = mesh.triangles.iter().map(|t| t.map(|v| new[v as usize])).collect();
    Mesh { vertices, triangles }
}
