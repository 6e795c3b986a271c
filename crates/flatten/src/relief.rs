//! Relief cuts and seams worth having: candidates tried by brute force on a coarse mesh, the front of cut length in sight
//! against worst stretch.
//!
//! Where a cut should end is told by cones: L u = K with u = 0 at the rim, K the angle defects; the place of largest |u|
//! takes the most curvature off the rest (the cone rule of boundary-first flattening, Sawhney and Crane 2017).

use crate::bound::defects;
use crate::certificate::{self, Care};
use crate::clean::Laplacian;
use crate::cut::{Cut, cut_open, length};
use crate::disk::Disk;
use crate::locate::Locator;
use crate::mesh::{add, norm, scale, sub};
use crate::newton::{Flat, Newton};
use crate::rest::Rest;
use crate::retile::retile;
use crate::sparse::{NotSolvable, System};
use crate::verify::{Stretches, overlap};
use effort::Effort;
use serde::{Deserialize, Serialize};
use units::Length;

/// A part of the panel where cuts are not free.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Zone {
    /// Middle of it on the panel, mm.
    pub center: [f64; 3],
    /// How far it reaches.
    pub radius: Length,
    /// What holds there.
    pub rule: ZoneRule,
}

/// What holds in a zone.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ZoneRule {
    /// No cut: the eye line, a badge.
    Forbidden,
    /// Nobody sees a cut there: its length is not counted.
    OutOfSight,
}

/// A way of cutting, and what it gains.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CutPlan {
    /// The cuts; none for the uncut panel.
    pub cuts: Vec<Cut>,
    /// Their length together.
    pub length: Length,
    /// The part of it in sight.
    pub in_sight: Length,
    /// The worst stretch of all pieces on a coarse mesh, as a fraction.
    pub worst: f64,
    /// How many pieces there are.
    pub pieces: usize,
}

/// Triangles of the coarse mesh.
const COARSE: f64 = 2500.0;
/// Places along the rim from which cuts are tried.
const RIM_PLACES: usize = 14;

/// The front of cut length in sight against worst stretch, the uncut panel first; `flat` is a flat shape of the panel.
/// When the effort ends, the front of what was tried.
pub fn front(disk: &Disk, flat: &Flat, zones: &[Zone], effort: &Effort) -> Result<Vec<CutPlan>, NotSolvable> {
    let area: f64 = disk.mesh().area().as_mm2();
    let side = (area / COARSE * 4.0 / 3.0_f64.sqrt()).sqrt().max(disk.mesh().mean_edge().as_mm());
    let coarse = retile(disk.mesh(), disk.rim(), flat, side)
        .and_then(|level| Some((Disk::new(level.mesh).ok()?, level.flat)));
    let Some((disk, flat)) = coarse else { return Ok(Vec::new()) };
    let search = Search {
        disk: &disk,
        flat: &flat,
        locator: Locator::new(&flat, &disk.mesh().triangles),
        side,
        zones,
        effort,
    };
    let mut plans = Vec::new();
    plans.extend(search.tried(&[]));
    let cones = search.cones(6)?;
    let rim = search.rim_places();
    let mut slits = Vec::new();
    for cone in &cones {
        let mut lines: Vec<Vec<[f64; 2]>> = rim.iter().map(|p| vec![*p, *cone]).collect();
        lines.sort_by(|a, b| span(a).total_cmp(&span(b)));
        // The nearer places of the rim, and those cuts shortened and lengthened.
        for line in lines.iter().take(5) {
            for share in [0.6, 1.0, 1.3] {
                let tip = [0, 1].map(|k| line[0][k] + share * (line[1][k] - line[0][k]));
                slits.push(vec![line[0], tip]);
            }
        }
    }
    slits.sort_by(|a, b| span(a).total_cmp(&span(b)));
    for (n, slit) in slits.iter().enumerate() {
        effort.tell(format!("relief cut {} of {}", n + 1, slits.len()));
        plans.extend(search.tried(std::slice::from_ref(slit)));
    }
    search.refine(&mut plans);
    let mut seams = Vec::new();
    for (n, a) in rim.iter().enumerate() {
        for b in &rim[n + 1..] {
            seams.push(vec![*a, *b]);
        }
    }
    seams.sort_by(|a, b| span(a).total_cmp(&span(b)));
    for (n, seam) in seams.iter().enumerate() {
        effort.tell(format!("seam {} of {}", n + 1, seams.len()));
        plans.extend(search.tried(std::slice::from_ref(seam)));
    }
    // Two of the relief cuts that are already good alone.
    let singles: Vec<(Vec<[f64; 2]>, f64)> = best(&plans)
        .iter()
        .filter(|p| p.0.cuts.len() == 1 && p.0.pieces == 1)
        .map(|p| (p.1[0].clone(), p.0.worst))
        .collect();
    for (n, one) in singles.iter().enumerate() {
        for two in &singles[n + 1..] {
            plans.extend(search.tried(&[one.0.clone(), two.0.clone()]));
        }
    }
    Ok(best(&plans).into_iter().map(|p| p.0).collect())
}

type Tried = (CutPlan, Vec<Vec<[f64; 2]>>);

/// Those that no other plan beats in both length in sight and worst stretch, by rising length.
fn best(plans: &[Tried]) -> Vec<Tried> {
    let mut plans = plans.to_vec();
    plans.sort_by(|a, b| {
        a.0.in_sight
            .total_cmp(&b.0.in_sight)
            .then(a.0.worst.total_cmp(&b.0.worst))
            .then(a.0.length.total_cmp(&b.0.length))
    });
    let mut front: Vec<Tried> = Vec::new();
    for plan in plans {
        if front.last().is_none_or(|last| plan.0.worst < last.0.worst) {
            front.push(plan);
        }
    }
    front
}

fn span(line: &[[f64; 2]]) -> f64 {
    line.windows(2).map(|p| (p[1][0] - p[0][0]).hypot(p[1][1] - p[0][1])).sum()
}

struct Search<'a> {
    disk: &'a Disk,
    flat: &'a Flat,
    locator: Locator<'a>,
    side: f64,
    zones: &'a [Zone],
    effort: &'a Effort,
}

impl Search<'_> {
    /// Cuts along lines on the film, if they are allowed and give a sound result.
    fn tried(&self, lines: &[Vec<[f64; 2]>]) -> Option<Tried> {
        if !self.effort.goes_on() {
            return None;
        }
        let cuts: Vec<Cut> = lines.iter().map(|line| self.on_panel(line)).collect::<Option<_>>()?;
        let in_sight = cuts.iter().map(|cut| self.in_sight(cut)).collect::<Option<Vec<f64>>>()?;
        let pieces = cut_open(self.disk, self.flat, lines, self.side).ok()?;
        let mut worst: f64 = 0.0;
        for piece in &pieces {
            let rest = Rest::new(piece.disk.mesh());
            let mut newton = Newton::new(&rest).ok()?;
            let (flat, _) =
                certificate::least_worst(&rest, &mut newton, &piece.flat, Care::Haste, self.effort).ok()?;
            worst = worst.max(Stretches::of(piece.disk.mesh(), &flat).ok()?.ratio());
            if overlap(piece.disk.mesh(), &flat).is_some() {
                return None;
            }
        }
        let plan = CutPlan {
            length: cuts.iter().map(|c| length(&c.points)).sum(),
            in_sight: Length::mm(in_sight.iter().sum()),
            worst,
            pieces: pieces.len(),
            cuts,
        };
        Some((plan, lines.to_vec()))
    }

    /// Moves the tip of the best relief cut about as long as that helps.
    fn refine(&self, plans: &mut Vec<Tried>) {
        let single = |p: &&Tried| p.0.cuts.len() == 1 && p.0.pieces == 1;
        let Some(mut best) =
            plans.iter().filter(single).min_by(|a, b| a.0.worst.total_cmp(&b.0.worst)).cloned()
        else {
            return;
        };
        for _ in 0..3 {
            let [root, tip] = [best.1[0][0], best.1[0][1]];
            let around = (0..6).filter_map(|k| {
                let (s, c) = (std::f64::consts::TAU * f64::from(k) / 6.0).sin_cos();
                let reach = 1.5 * self.side;
                self.tried(&[vec![root, [tip[0] + reach * c, tip[1] + reach * s]]])
            });
            let tried: Vec<Tried> = around.filter(|p| p.0.pieces == 1).collect();
            let next = tried.iter().min_by(|a, b| a.0.worst.total_cmp(&b.0.worst)).cloned();
            plans.extend(tried);
            match next {
                Some(next) if next.0.worst < best.0.worst => best = next,
                _ => break,
            }
        }
    }

    /// The places on the panel along a line on the film; none where it leaves the panel.
    fn on_panel(&self, line: &[[f64; 2]]) -> Option<Cut> {
        let mut points = Vec::new();
        for pair in line.windows(2) {
            let count = (span(pair) / (0.5 * self.side)).ceil().max(2.0) as usize;
            for n in usize::from(!points.is_empty())..=count {
                let t = n as f64 / count as f64;
                let p = [0, 1].map(|k| pair[0][k] + t * (pair[1][k] - pair[0][k]));
                let (triangle, w) = self.locator.at(p)?;
                // A quarter of a triangle outside is the rim's own roundness.
                if w.iter().any(|w| *w < -0.25) {
                    return None;
                }
                let [a, b, c] = self.disk.mesh().corners(triangle);
                points.push(add(add(scale(a, w[0]), scale(b, w[1])), scale(c, w[2])));
            }
        }
        Some(Cut { points })
    }

    /// Length in sight, mm; none where the cut is forbidden.
    fn in_sight(&self, cut: &Cut) -> Option<f64> {
        let mut seen = 0.0;
        for pair in cut.points.windows(2) {
            let middle = scale(add(pair[0], pair[1]), 0.5);
            let within = |zone: &&Zone| norm(sub(middle, zone.center)) < zone.radius.as_mm();
            let rules: Vec<ZoneRule> = self.zones.iter().filter(within).map(|zone| zone.rule).collect();
            if rules.contains(&ZoneRule::Forbidden) {
                return None;
            }
            if !rules.contains(&ZoneRule::OutOfSight) {
                seen += norm(sub(pair[1], pair[0]));
            }
        }
        Some(seen)
    }

    /// Places on the film where cuts should end, the most useful first.
    fn cones(&self, count: usize) -> Result<Vec<[f64; 2]>, NotSolvable> {
        let mesh = self.disk.mesh();
        let vertices = mesh.vertices.len();
        let (laplacian, curvature) = (Laplacian::new(mesh), defects(self.disk));
        let mut system = System::new(vertices, &mesh.triangles, 1)?;
        let mut held = self.disk.topology().on_rim.clone();
        let mut cones = Vec::new();
        for _ in 0..count {
            system.clear();
            system.set_rows(|v| laplacian.row(v));
            let mut u = curvature.clone();
            system.hold(&held, &vec![0.0; vertices], &mut u);
            system.factorize()?;
            system.solve(&mut u);
            let largest = (0..vertices).fold(0, |best, v| if u[v].abs() > u[best].abs() { v } else { best });
            if u[largest].abs() < 1e-4 {
                break;
            }
            held[largest] = true;
            cones.push(self.flat[largest]);
        }
        Ok(cones)
    }

    /// Places along the rim, evenly by length.
    fn rim_places(&self) -> Vec<[f64; 2]> {
        let mut rim: Vec<[f64; 2]> = self.disk.rim().iter().map(|&v| self.flat[v as usize]).collect();
        rim.push(rim[0]);
        let step = span(&rim) / RIM_PLACES as f64;
        let (mut places, mut along, mut next) = (Vec::new(), 0.0, 0.5 * step);
        for pair in rim.windows(2) {
            along += span(pair);
            if along >= next {
                places.push(pair[1]);
                next += step;
            }
        }
        places
    }
}
