//! A first map without flips: angle-preserving (LSCM, Lévy and others 2002), else onto a disk (Tutte 1963).

use crate::disk::Disk;
use crate::mesh::{norm, sub};
use crate::newton::{Flat, Newton};
use crate::rest::Rest;
use crate::sparse::{NotSolvable, PAIRS, System};

/// The angle-preserving map, scaled to the area of the surface; triangles may be flipped.
pub fn conformal(disk: &Disk, rest: &Rest, newton: &mut Newton<'_>) -> Result<Flat, NotSolvable> {
    let system = newton.system();
    system.clear();
    for (t, share) in rest.share.iter().enumerate() {
        let g = &rest.gradients[t];
        let blocks = PAIRS.map(|(i, j)| {
            let same = share * (g[i][0] * g[j][0] + g[i][1] * g[j][1]);
            let turn = share * (g[i][1] * g[j][0] - g[i][0] * g[j][1]);
            [[same, turn], [-turn, same]]
        });
        system.add_blocks(t, &blocks);
    }
    let place = |v: u32| disk.mesh().vertices[v as usize];
    let far = |from: u32| {
        let away = |v: u32| norm(sub(place(v), place(from)));
        disk.rim().iter().copied().fold(from, |best, v| if away(v) > away(best) { v } else { best })
    };
    let one = far(disk.rim()[0]);
    let two = far(one);
    let size = 2 * rest.vertices;
    let (mut held, mut x, mut right) = (vec![false; size], vec![0.0; size], vec![0.0; size]);
    for v in [one, two] {
        held[2 * v as usize] = true;
        held[2 * v as usize + 1] = true;
    }
    x[2 * two as usize] = norm(sub(place(two), place(one)));
    system.hold(&held, &x, &mut right);
    system.factorize()?;
    system.solve(&mut right);
    let mut flat: Flat = right.chunks_exact(2).map(|p| [p[0], p[1]]).collect();
    scale_to_area(rest, &mut flat);
    Ok(flat)
}

/// The rim on a circle, every other vertex in the middle of its neighbors: never flipped, but far from the shape.
pub fn onto_circle(disk: &Disk, rest: &Rest) -> Result<Flat, NotSolvable> {
    let rim = disk.rim();
    let place = |k: usize| disk.mesh().vertices[rim[k % rim.len()] as usize];
    let lengths: Vec<f64> = (0..rim.len()).map(|k| norm(sub(place(k + 1), place(k)))).collect();
    let around: f64 = lengths.iter().sum();
    let mut held = vec![false; rest.vertices];
    let mut axes = [vec![0.0; rest.vertices], vec![0.0; rest.vertices]];
    let mut along = 0.0;
    for (k, &v) in rim.iter().enumerate() {
        held[v as usize] = true;
        let (s, c) = (std::f64::consts::TAU * along / around).sin_cos();
        axes[0][v as usize] = c;
        axes[1][v as usize] = s;
        along += lengths[k];
    }
    let mut system = System::new(rest.vertices, &rest.triangles, 1)?;
    for axis in &mut axes {
        system.clear();
        for t in 0..rest.triangles.len() {
            system.add_scalars(t, [2.0, 2.0, 2.0, -1.0, -1.0, -1.0]);
        }
        let mut right = vec![0.0; rest.vertices];
        system.hold(&held, axis, &mut right);
        system.factorize()?;
        system.solve(&mut right);
        *axis = right;
    }
    let mut flat: Flat = (0..rest.vertices).map(|v| [axes[0][v], axes[1][v]]).collect();
    scale_to_area(rest, &mut flat);
    Ok(flat)
}

fn scale_to_area(rest: &Rest, flat: &mut Flat) {
    let area: f64 = (0..rest.triangles.len())
        .map(|t| {
            let j = rest.jacobian(t, flat);
            rest.share[t] * (j[0][0] * j[1][1] - j[0][1] * j[1][0]).abs()
        })
        .sum();
    let by = 1.0 / area.sqrt();
    flat.iter_mut().for_each(|p| *p = p.map(|c| c * by));
}
