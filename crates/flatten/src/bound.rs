//! What no uncut piece can beat.
//!
//! Film that covers a panel is stretched by 1 to 1 + ε, so a path on the panel is as long on the film or shorter, by
//! 1 + ε at most. Around a place p of the panel that is farther than r from the rim:
//! - Domes. The film under what is nearer than r holds a circle of radius r / (1 + ε), so its edge on the film is at least
//!   2πr / (1 + ε) long, and on the panel it is no shorter: 1 + ε ≥ 2πr / L(r), with L(r) the length of the line at
//!   distance r from p. On a cap about its center this is Milnor's α / sin α.
//! - Saddles, the other way round. The circle of radius ρ ≤ r / (1 + ε) on the film lies, on the panel, around all that
//!   is nearer than ρ, and is at most 2πρ (1 + ε) long there. What runs around is no shorter than L(ρ) where lines at
//!   growing distance from p grow, as they do on any panel that bends mildly: 1 + ε ≥ L(ρ) / 2πρ.
//!
//! By Gauss and Bonnet L(r) = 2πr − Σ κ (r − d), over all vertices nearer than r with angle defect κ at distance d. Sums of
//! angle defects do not mind noise.
//!
//! Distances are measured along lines straight on the film, which are real paths on the panel and at most some
//! thousandths of the squared stretch longer than the shortest; r is shortened for that.

use crate::disk::Disk;
use crate::locate::Locator;
use crate::mesh::{dot, norm, sub};
use crate::newton::Flat;
use crate::rest::Rest;
use effort::Effort;
use std::f64::consts::{PI, TAU};

/// Rays around a point.
const RAYS: usize = 48;
/// Places along a ray.
const STEPS: usize = 32;

/// Angle defect of every vertex: 2π less the angles around it, and π less at the rim (there it is the turn of the rim).
/// They add up to 2π on a disk (Gauss and Bonnet).
pub fn defects(disk: &Disk) -> Vec<f64> {
    let mesh = disk.mesh();
    let mut defects: Vec<f64> =
        disk.topology().on_rim.iter().map(|rim| if *rim { PI } else { TAU }).collect();
    for (t, corners) in mesh.triangles.iter().enumerate() {
        let places = mesh.corners(t);
        for k in 0..3 {
            let (p, q) = (sub(places[(k + 1) % 3], places[k]), sub(places[(k + 2) % 3], places[k]));
            defects[corners[k] as usize] -= norm(crate::mesh::cross(p, q)).atan2(dot(p, q));
        }
    }
    defects
}

/// The largest bound found, as a fraction; `flat` is any good flat shape of the panel, `worst` its worst stretch.
pub fn lower_bound(disk: &Disk, rest: &Rest, flat: &Flat, worst: f64, effort: &Effort) -> f64 {
    let search = Search::new(disk, rest, flat, worst);
    let mut best: Vec<(f64, [f64; 2])> = Vec::new();
    for p in search.places() {
        if !effort.goes_on() {
            break;
        }
        best.push((search.bound(p), p));
    }
    best.sort_by(|a, b| b.0.total_cmp(&a.0));
    best.truncate(3);
    let mut found: f64 = 0.0;
    for (mut value, mut p) in best {
        let mut reach = search.spacing / 2.0;
        for _ in 0..5 {
            let around = (0..6).map(|k| {
                let (s, c) = (TAU * f64::from(k) / 6.0).sin_cos();
                [p[0] + reach * c, p[1] + reach * s]
            });
            let better =
                around.map(|q| (search.bound(q), q)).fold((value, p), |b, q| if q.0 > b.0 { q } else { b });
            if better.0 > value {
                (value, p) = better;
            } else {
                reach /= 2.0;
            }
        }
        found = found.max(value);
    }
    // Less what rounding may have added.
    (found - 1e-9).max(0.0)
}

struct Search<'a> {
    rest: &'a Rest,
    locator: Locator<'a>,
    /// Angle defects gathered into cells: place on the film and sum.
    defects: Vec<([f64; 2], f64)>,
    low: [f64; 2],
    high: [f64; 2],
    spacing: f64,
    flat: &'a Flat,
    rim: &'a [u32],
    /// What is taken off a radius: how much longer a straight line on the film may be than the shortest path.
    shorter: f64,
    worst: f64,
}

impl<'a> Search<'a> {
    fn new(disk: &'a Disk, rest: &'a Rest, flat: &'a Flat, worst: f64) -> Self {
        let bound = |k: usize| {
            flat.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), p| (l.min(p[k]), h.max(p[k])))
        };
        let ((x0, x1), (y0, y1)) = (bound(0), bound(1));
        let spacing = ((x1 - x0) * (y1 - y0) / 80.0).sqrt();
        let cell = spacing / 8.0;
        let mut cells: Vec<(i64, i64, [f64; 2], f64)> = defects(disk)
            .into_iter()
            .enumerate()
            .filter(|(v, _)| !disk.topology().on_rim[*v])
            .map(|(v, k)| {
                let [x, y] = flat[v];
                ((x / cell).floor() as i64, (y / cell).floor() as i64, [x, y], k)
            })
            .collect();
        cells.sort_by_key(|c| (c.0, c.1));
        let defects = cells
            .chunk_by(|a, b| (a.0, a.1) == (b.0, b.1))
            .map(|group| {
                let count = group.len() as f64;
                let place = [0, 1].map(|k| group.iter().map(|c| c.2[k]).sum::<f64>() / count);
                (place, group.iter().map(|c| c.3).sum())
            })
            .collect();
        Self {
            rest,
            locator: Locator::new(flat, &rest.triangles),
            defects,
            low: [x0, y0],
            high: [x1, y1],
            spacing,
            flat,
            rim: disk.rim(),
            shorter: 1.0 - 0.5 * worst * worst,
            worst,
        }
    }

    fn places(&self) -> Vec<[f64; 2]> {
        let count = |k: usize| ((self.high[k] - self.low[k]) / self.spacing) as usize + 1;
        let place = |i: usize, k: usize| self.low[k] + (i as f64 + 0.5) * self.spacing;
        let all = (0..count(1)).flat_map(|y| (0..count(0)).map(move |x| (x, y)));
        all.map(|(x, y)| [place(x, 0), place(y, 1)]).collect()
    }

    /// The best bound around a place on the film, as a fraction; zero outside.
    fn bound(&self, p: [f64; 2]) -> f64 {
        let Some(rays) = self.rays(p) else { return 0.0 };
        let clear = rays.clear * self.shorter;
        let mut inside: Vec<(f64, f64)> = self
            .defects
            .iter()
            .filter_map(|(q, k)| Some((rays.distance([q[0] - p[0], q[1] - p[1]])?, *k)))
            .filter(|(d, _)| *d < clear)
            .collect();
        inside.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (mut sum, mut moment, mut next, mut best) = (0.0, 0.0, 0, 0.0_f64);
        // Not from too near: there a few vertices are no surface yet.
        for n in 5..=40 {
            let r = clear * f64::from(n) / 40.0;
            while next < inside.len() && inside[next].0 < r {
                sum += inside[next].1;
                moment += inside[next].0 * inside[next].1;
                next += 1;
            }
            // L(r) = 2πr (1 − short)
            let short = (r * sum - moment) / (TAU * r);
            if short > 0.0 && short < 0.9 {
                best = best.max(1.0 / (1.0 - short) - 1.0);
            } else if short < 0.0 && r * (1.0 + self.worst) <= clear {
                best = best.max(-short);
            }
        }
        best
    }

    /// Distances along rays that are straight on the film.
    fn rays(&self, p: [f64; 2]) -> Option<Rays> {
        self.locator.holds(p)?;
        let reach = (0..2).map(|k| (p[k] - self.low[k]).max(self.high[k] - p[k])).fold(0.0, f64::hypot);
        let step = reach / STEPS as f64;
        let mut rays = Rays { step, along: Vec::new(), clear: f64::INFINITY };
        for k in 0..RAYS {
            let (s, c) = (TAU * k as f64 / RAYS as f64).sin_cos();
            let (mut along, mut length) = (vec![0.0], 0.0);
            for n in 0..STEPS {
                let away = (n as f64 + 0.5) * step;
                let Some(t) = self.locator.holds([p[0] + away * c, p[1] + away * s]) else { break };
                let j = self.rest.jacobian(t, self.flat);
                let det = j[0][0] * j[1][1] - j[0][1] * j[1][0];
                let back = [(j[1][1] * c - j[0][1] * s) / det, (j[0][0] * s - j[1][0] * c) / det];
                length += step * back[0].hypot(back[1]);
                along.push(length);
            }
            rays.along.push(along);
        }
        let away = |v: &u32| [0, 1].map(|k| self.flat[*v as usize][k] - p[k]);
        rays.clear = self.rim.iter().map(|v| rays.beyond(away(v))).fold(f64::INFINITY, f64::min);
        Some(rays)
    }
}

struct Rays {
    step: f64,
    along: Vec<Vec<f64>>,
    /// Distance to the rim.
    clear: f64,
}

impl Rays {
    /// Distance on the panel to what lies `away` on the film; none beyond the rim.
    fn distance(&self, away: [f64; 2]) -> Option<f64> {
        let (k, share, at) = self.polar(away);
        let n = at as usize;
        let on = |k: usize| {
            let ray = &self.along[k % RAYS];
            (n + 1 < ray.len()).then(|| ray[n] + (at - n as f64) * (ray[n + 1] - ray[n]))
        };
        Some(on(k)? * (1.0 - share) + on(k + 1)? * share)
    }

    /// The same for a place at the rim or behind it, as if the ray went on as it ends.
    fn beyond(&self, away: [f64; 2]) -> f64 {
        let (k, share, at) = self.polar(away);
        let on = |k: usize| {
            let ray = &self.along[k % RAYS];
            let n = (at as usize).min(ray.len().saturating_sub(2));
            if ray.len() < 2 { 0.0 } else { ray[n] + (at - n as f64) * (ray[n + 1] - ray[n]) }
        };
        on(k) * (1.0 - share) + on(k + 1) * share
    }

    /// The ray before a direction, how far it is to the next, and how many steps away.
    fn polar(&self, away: [f64; 2]) -> (usize, f64, f64) {
        let turn = away[1].atan2(away[0]).rem_euclid(TAU) / TAU * RAYS as f64;
        (turn as usize % RAYS, turn - turn.floor(), away[0].hypot(away[1]) / self.step)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Mesh, tile::tile};

    /// A round panel of this height over the plane.
    fn panel(height: impl Fn(f64, f64) -> f64, radius: f64) -> Disk {
        let rim: Vec<[f64; 2]> = (0..90)
            .map(|k| (TAU * f64::from(k) / 90.0).sin_cos())
            .map(|(s, c)| [radius * c, radius * s])
            .collect();
        let tiling = tile(&rim, &[], radius / 20.0).unwrap();
        let vertices = tiling.points.iter().map(|p| [p[0], p[1], height(p[0], p[1])]).collect();
        Disk::new(Mesh { vertices, triangles: tiling.triangles }).unwrap()
    }

    #[test]
    fn defects_add_up_to_a_full_turn() {
        // Gauss and Bonnet for a polyhedral disk; to 1e-10.
        for bend in [0.0, 3e-4, -5e-4] {
            let disk = panel(|x, y| bend * (x * x - 0.3 * x * y) + 20.0 * (y / 70.0).sin(), 300.0);
            assert!((defects(&disk).iter().sum::<f64>() - TAU).abs() < 1e-10);
        }
    }

    fn bound(disk: &Disk) -> f64 {
        let flat: Flat = disk.mesh().vertices.iter().map(|v| [v[0], v[1]]).collect();
        lower_bound(disk, &Rest::new(disk.mesh()), &flat, 0.02, &Effort::steps(1))
    }

    #[test]
    fn domes_and_saddles_are_bounded_by_their_curvature() {
        // K = ±1e-6 /mm² at the middle, less outward: about |K| r² / 6 for r = 300 mm (Milnor 1969 for the dome; for the
        // saddle sinh(r) / r − 1, what laying it out by distance and direction from the middle reaches).
        let (dome, saddle) = (
            bound(&panel(|x, y| -5e-4 * (x * x + y * y), 300.0)),
            bound(&panel(|x, y| 5e-4 * (x * x - y * y), 300.0)),
        );
        let about = 1e-6 * 300.0 * 300.0 / 6.0;
        assert!((0.8 * about..1.0 * about).contains(&dome), "{dome}, {about}");
        assert!((0.7 * about..1.0 * about).contains(&saddle), "{saddle}, {about}");
    }
}
