//! Relief cuts and seams worth having: candidates tried by brute force on a coarse mesh, the front of cut length in sight
//! against worst stretch.
//!
//! Where a cut should end is told by cones: L u = K with u = 0 at the rim, K the angle defects; the place of largest |u|
//! takes the most curvature off the rest (the cone rule of boundary-first flattening, Sawhney and Crane 2017).

use crate::bound::defects;
use crate::certificate;
use crate::clean::Laplacian;
use crate::cut::{Cut, cut_open, length, onto_flat};
use crate::disk::Disk;
use crate::locate::{Locator, nearest_on};
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
    /// Which part.
    pub part: ZonePart,
    /// What holds there.
    pub rule: ZoneRule,
}

/// A part of the panel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ZonePart {
    /// Around a place.
    Round {
        /// Middle of it on the panel, mm.
        center: [f64; 3],
        /// How far it reaches.
        radius: Length,
    },
    /// Within a loop of places on the panel, mm; straight on the film between them.
    Loop(Vec<[f64; 3]>),
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
    /// The same with the pieces laid flat on fine triangles, where that was done: the true figure.
    #[serde(default)]
    pub laid: Option<f64>,
    /// How many pieces there are.
    pub pieces: usize,
}

/// Triangles of the mesh on which everything is tried, and of the one on which the good ones are tried again.
const LEVELS: [f64; 2] = [1000.0, 2500.0];
/// Places along the rim from which cuts are tried.
const RIM_PLACES: usize = 14;
/// What is this much worse than the best that is no longer is given up. The rough mesh is off by some hundredths.
const BAND: [f64; 2] = [1.06, 1.0];

/// The front of cut length in sight against worst stretch, the uncut panel first; `flat` is a flat shape of the panel.
/// When the effort ends, the front of what was tried.
pub fn front(disk: &Disk, flat: &Flat, zones: &[Zone], effort: &Effort) -> Result<Vec<CutPlan>, NotSolvable> {
    let Some((rough, fine)) = Level::of(disk, flat, LEVELS[0]).zip(Level::of(disk, flat, LEVELS[1])) else {
        return Ok(Vec::new());
    };
    let rings: Vec<Vec<[f64; 2]>> = zones.iter().map(|zone| ring(zone, disk, flat)).collect();
    let zones = Zones { zones, rings: &rings };
    let (rough, fine) =
        (Search::new(&rough, BAND[0], zones, effort), Search::new(&fine, BAND[1], zones, effort));
    let mut plans = Tries::default();
    rough.attempt(&[], &mut plans);
    let cones = fine.cones(6)?;
    let rim = fine.rim_places();
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
        rough.attempt(std::slice::from_ref(slit), &mut plans);
    }
    rough.refine(&mut plans);
    let mut seams = Vec::new();
    for (n, a) in rim.iter().enumerate() {
        for b in &rim[n + 1..] {
            seams.push(vec![*a, *b]);
        }
    }
    seams.sort_by(|a, b| span(a).total_cmp(&span(b)));
    for (n, seam) in seams.iter().enumerate() {
        effort.tell(format!("seam {} of {}", n + 1, seams.len()));
        rough.attempt(std::slice::from_ref(seam), &mut plans);
    }
    // Two of the relief cuts that are already good alone.
    let singles: Vec<Vec<[f64; 2]>> = best(&plans.0)
        .iter()
        .filter(|p| p.0.cuts.len() == 1 && p.0.pieces == 1)
        .map(|p| p.1[0].clone())
        .collect();
    for (n, one) in singles.iter().enumerate() {
        effort.tell(format!("pairs with relief cut {} of {}", n + 1, singles.len()));
        for two in &singles[n + 1..] {
            rough.attempt(&[one.clone(), two.clone()], &mut plans);
        }
    }
    // The good ones again on the finer mesh, the shorter first.
    let mut again = plans.0.clone();
    again.sort_by(|a, b| a.0.in_sight.total_cmp(&b.0.in_sight).then(a.0.worst.total_cmp(&b.0.worst)));
    let mut tried = Tries::default();
    for (n, plan) in again.iter().enumerate() {
        effort.tell(format!("finer, {} of {}", n + 1, again.len()));
        if plan.0.worst <= BAND[0] * plans.bar(plan.0.in_sight) {
            fine.attempt(&plan.1, &mut tried);
        }
    }
    Ok(best(if tried.0.is_empty() { &plans.0 } else { &tried.0 }).into_iter().map(|p| p.0).collect())
}

/// A mesh of the panel for trials.
struct Level {
    disk: Disk,
    flat: Flat,
    side: f64,
}

impl Level {
    fn of(disk: &Disk, flat: &Flat, triangles: f64) -> Option<Self> {
        let area: f64 = disk.mesh().area().as_mm2();
        let side = (area / triangles * 4.0 / 3.0_f64.sqrt()).sqrt().max(disk.mesh().mean_edge().as_mm());
        let level = retile(disk.mesh(), disk.rim(), flat, side)?;
        Some(Self { disk: Disk::new(level.mesh).ok()?, flat: level.flat, side })
    }
}

/// What was tried.
#[derive(Default)]
struct Tries(Vec<Tried>);

impl Tries {
    /// The least worst stretch of those that show no more of a cut.
    fn bar(&self, in_sight: Length) -> f64 {
        let no_longer = self.0.iter().filter(|p| p.0.in_sight <= in_sight);
        no_longer.map(|p| p.0.worst).fold(f64::INFINITY, f64::min)
    }
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
    level: &'a Level,
    locator: Locator<'a>,
    /// Factor over the best of its length at which a trial is given up.
    band: f64,
    zones: Zones<'a>,
    effort: &'a Effort,
}

/// Zones with their loops on the film, which are empty for round ones.
#[derive(Clone, Copy)]
struct Zones<'a> {
    zones: &'a [Zone],
    rings: &'a [Vec<[f64; 2]>],
}

impl<'a> Search<'a> {
    fn new(level: &'a Level, band: f64, zones: Zones<'a>, effort: &'a Effort) -> Self {
        let locator = Locator::new(&level.flat, &level.disk.mesh().triangles);
        Self { level, locator, band, zones, effort }
    }

    /// Tries cuts along lines on the film: a plan, if they are allowed, give a sound result and are not given up.
    fn attempt(&self, lines: &[Vec<[f64; 2]>], plans: &mut Tries) -> Option<Tried> {
        if !self.effort.goes_on() {
            return None;
        }
        let placed: Vec<(Cut, Flat)> = lines.iter().map(|line| self.on_panel(line)).collect::<Option<_>>()?;
        let seen = placed.iter().map(|(cut, film)| self.zones.in_sight(cut, film));
        let in_sight = seen.map(|mm| mm.map(Length::mm)).collect::<Option<Vec<Length>>>()?;
        let in_sight = in_sight.into_iter().fold(Length::ZERO, |sum, l| sum + l);
        let cuts: Vec<Cut> = placed.into_iter().map(|(cut, _)| cut).collect();
        let Level { disk, flat, side } = self.level;
        let pieces = cut_open(disk, flat, lines, *side).ok()?;
        let bar = self.band * plans.bar(in_sight);
        let mut worst: f64 = 0.0;
        for piece in &pieces {
            let rest = Rest::new(piece.disk.mesh());
            let mut newton = Newton::new(&rest).ok()?;
            let flat = certificate::in_haste(&rest, &mut newton, &piece.flat, bar, self.effort).ok()??;
            worst = worst.max(Stretches::of(piece.disk.mesh(), &flat).ok()?.ratio());
            if overlap(piece.disk.mesh(), &flat).is_some() {
                return None;
            }
        }
        let length = cuts.iter().map(|c| length(&c.points)).sum();
        let plan =
            (CutPlan { length, in_sight, worst, laid: None, pieces: pieces.len(), cuts }, lines.to_vec());
        plans.0.push(plan.clone());
        Some(plan)
    }

    /// Moves the tip of the best relief cut about as long as that helps.
    fn refine(&self, plans: &mut Tries) {
        let single = |p: &&Tried| p.0.cuts.len() == 1 && p.0.pieces == 1;
        let Some(mut best) =
            plans.0.iter().filter(single).min_by(|a, b| a.0.worst.total_cmp(&b.0.worst)).cloned()
        else {
            return;
        };
        for _ in 0..3 {
            let [root, tip] = [best.1[0][0], best.1[0][1]];
            let around = (0..6).filter_map(|k| {
                let (s, c) = (std::f64::consts::TAU * f64::from(k) / 6.0).sin_cos();
                let reach = self.level.side;
                self.attempt(&[vec![root, [tip[0] + reach * c, tip[1] + reach * s]]], plans)
            });
            let next = around.filter(|p| p.0.pieces == 1).min_by(|a, b| a.0.worst.total_cmp(&b.0.worst));
            match next {
                Some(next) if next.0.worst < best.0.worst => best = next,
                _ => break,
            }
        }
    }

    /// The places on the panel along a line on the film, and those on the film; none where it leaves the panel.
    fn on_panel(&self, line: &[[f64; 2]]) -> Option<(Cut, Flat)> {
        let (mut points, mut film) = (Vec::new(), Vec::new());
        for pair in line.windows(2) {
            let count = (span(pair) / (0.5 * self.level.side)).ceil().max(2.0) as usize;
            for n in usize::from(!points.is_empty())..=count {
                let t = n as f64 / count as f64;
                let p = [0, 1].map(|k| pair[0][k] + t * (pair[1][k] - pair[0][k]));
                let (triangle, w) = self.locator.at(p)?;
                // A quarter of a triangle outside is the rim's own roundness.
                if w.iter().any(|w| *w < -0.25) {
                    return None;
                }
                let [a, b, c] = self.level.disk.mesh().corners(triangle);
                points.push(add(add(scale(a, w[0]), scale(b, w[1])), scale(c, w[2])));
                film.push(p);
            }
        }
        Some((Cut { points }, film))
    }

    /// Places on the film where cuts should end, the most useful first.
    fn cones(&self, count: usize) -> Result<Vec<[f64; 2]>, NotSolvable> {
        let mesh = self.level.disk.mesh();
        let vertices = mesh.vertices.len();
        let (laplacian, curvature) = (Laplacian::new(mesh), defects(&self.level.disk));
        let mut system = System::new(vertices, &mesh.triangles, 1)?;
        let mut held = self.level.disk.topology().on_rim.clone();
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
            cones.push(self.level.flat[largest]);
        }
        Ok(cones)
    }

    /// Places along the rim, evenly by length.
    fn rim_places(&self) -> Vec<[f64; 2]> {
        let mut rim: Vec<[f64; 2]> =
            self.level.disk.rim().iter().map(|&v| self.level.flat[v as usize]).collect();
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

/// The length of drawn cuts in sight; none where one is forbidden. `flat` is a flat shape of the panel.
pub fn drawn_in_sight(disk: &Disk, flat: &Flat, cuts: &[Cut], zones: &[Zone]) -> Option<Length> {
    let rings: Vec<Vec<[f64; 2]>> = zones.iter().map(|zone| ring(zone, disk, flat)).collect();
    let zones = Zones { zones, rings: &rings };
    let locator = Locator::new(flat, &disk.mesh().triangles);
    let films = onto_flat(disk, flat, cuts).ok()?;
    let mut seen = 0.0;
    for film in films {
        // Drawn points may be far apart: small steps between them.
        let mut line = Vec::new();
        for pair in film.windows(2) {
            let count = (span(pair) / 5.0).ceil().max(1.0) as usize;
            line.extend((0..count).map(|n| {
                let t = n as f64 / count as f64;
                [0, 1].map(|k| pair[0][k] + t * (pair[1][k] - pair[0][k]))
            }));
        }
        line.extend(film.last());
        let lifted = line.iter().map(|p| {
            let (triangle, w) = locator.at(*p)?;
            let [a, b, c] = disk.mesh().corners(triangle);
            Some(add(add(scale(a, w[0]), scale(b, w[1])), scale(c, w[2])))
        });
        let points = lifted.collect::<Option<Vec<_>>>()?;
        seen += zones.in_sight(&Cut { points }, &line)?;
    }
    Some(Length::mm(seen))
}

/// The loop of a zone on the film; empty for a round one.
fn ring(zone: &Zone, disk: &Disk, flat: &Flat) -> Vec<[f64; 2]> {
    match &zone.part {
        ZonePart::Round { .. } => Vec::new(),
        ZonePart::Loop(points) => points
            .iter()
            .map(|p| {
                let (t, weights) = nearest_on(disk.mesh(), *p);
                let corners = disk.mesh().triangles[t];
                [0, 1].map(|k| (0..3).map(|c| weights[c] * flat[corners[c] as usize][k]).sum::<f64>())
            })
            .collect(),
    }
}

impl Zones<'_> {
    /// Length in sight of a cut given on the panel and on the film, mm; none where it is forbidden.
    fn in_sight(&self, cut: &Cut, film: &[[f64; 2]]) -> Option<f64> {
        let mut seen = 0.0;
        for (pair, on_film) in cut.points.windows(2).zip(film.windows(2)) {
            let middle = scale(add(pair[0], pair[1]), 0.5);
            let flat_middle = [0, 1].map(|k| (on_film[0][k] + on_film[1][k]) / 2.0);
            let within = |(zone, ring): &(&Zone, &Vec<[f64; 2]>)| match &zone.part {
                ZonePart::Round { center, radius } => norm(sub(middle, *center)) < radius.as_mm(),
                ZonePart::Loop(_) => inside(ring, flat_middle),
            };
            let rules: Vec<ZoneRule> =
                self.zones.iter().zip(self.rings).filter(within).map(|(zone, _)| zone.rule).collect();
            if rules.contains(&ZoneRule::Forbidden) {
                return None;
            }
            if !rules.contains(&ZoneRule::OutOfSight) {
                seen += norm(sub(pair[1], pair[0]));
            }
        }
        Some(seen)
    }
}

/// Whether a place lies within a closed line, by the even-odd rule.
fn inside(ring: &[[f64; 2]], p: [f64; 2]) -> bool {
    let crossed = (0..ring.len()).filter(|&k| {
        let (a, b) = (ring[k], ring[(k + 1) % ring.len()]);
        (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0] + (p[1] - a[1]) / (b[1] - a[1]) * (b[0] - a[0])
    });
    crossed.count() % 2 == 1
}
