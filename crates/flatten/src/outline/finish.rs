//! A traced piece made ready for the knife: allowances to wrap around, notches, marks, a name.

use super::Traced;
use plane::drawing::{Label, Layer, Stroke};
use plane::{Outline, Point, Pose};
use serde::{Deserialize, Serialize};
use units::Length;

/// What is added outside an edge, or taken off it where it is negative (a stand-off).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Allowance {
    /// Which edge, from 0 in the order of the traced piece.
    pub edge: usize,
    /// How much.
    #[serde(rename = "by_mm")]
    pub by: Length,
}

/// A notch in an edge, where two pieces or a piece and a body line are brought together.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Notch {
    /// Which edge, from 0.
    pub edge: usize,
    /// Where on it, as a share of its length.
    pub share: f64,
}

/// How a piece is finished.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Finish {
    /// Written on the piece.
    pub name: String,
    /// Outside every edge of the panel that has none of its own: to be wrapped around into the shut line.
    #[serde(rename = "wrap_mm")]
    pub wrap: Length,
    /// Outside every edge that a cut made: to lie over the film on the other side. None: the edges meet.
    #[serde(rename = "seam_mm")]
    pub seam: Length,
    /// Edges with an allowance of their own.
    pub allowances: Vec<Allowance>,
    /// Notches; they are never deeper than half of the allowance at their place.
    pub notches: Vec<Notch>,
    /// Whether the true edge of the panel is drawn as a mark inside the allowance.
    pub edge_marks: bool,
}

impl Default for Finish {
    fn default() -> Self {
        // 6 to 12 mm where the shut line lets it in: common practice, no source
        Self {
            name: String::new(),
            wrap: Length::mm(8.0),
            seam: Length::ZERO,
            allowances: Vec::new(),
            notches: Vec::new(),
            edge_marks: false,
        }
    }
}

/// A finished piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Finished {
    /// Its name.
    pub name: String,
    /// Where the knife goes.
    pub outline: Outline,
    /// Cut out of it: holes of the panel.
    pub cut_outs: Vec<Outline>,
    /// Marks and labels, drawn on the film's liner.
    pub marks: Vec<Stroke>,
    /// Its name, written inside it.
    pub label: Label,
}

/// Why a piece cannot be finished.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum FinishFlaw {
    /// There is no such edge.
    #[error("the piece has {count} edges, there is no edge {edge} (counted from 0)")]
    NoEdge {
        /// Which was asked for.
        edge: usize,
        /// How many there are.
        count: usize,
    },
    /// Too much or too little.
    #[error("an allowance of {} mm is not possible: at most 40 mm are added, and a stand-off takes at most 20 mm off", .by.as_mm())]
    Allowance {
        /// What was asked for.
        by: Length,
    },
    /// Nothing is left.
    #[error("the stand-off leaves nothing of the piece, or cuts it in two: take less off")]
    Nothing,
}

/// Depth and width of a notch, mm. Common practice, no source.
const NOTCH: (f64, f64) = (3.0, 4.0);
/// Length of an alignment mark, mm.
const MARK: f64 = 8.0;

impl Traced {
    /// Made ready for the knife.
    ///
    /// # Errors
    /// When an edge is named that does not exist, or an allowance leaves nothing.
    pub fn finished(&self, finish: &Finish, cut_outs: Vec<Outline>) -> Result<Finished, FinishFlaw> {
        let count = self.edges.len();
        let mut by: Vec<Length> =
            self.edges.iter().map(|e| if e.cut { finish.seam } else { finish.wrap }).collect();
        for a in &finish.allowances {
            *by.get_mut(a.edge).ok_or(FinishFlaw::NoEdge { edge: a.edge, count })? = a.by;
        }
        if let Some(by) = by.iter().find(|b| !(-20.0..=40.0).contains(&b.as_mm())) {
            return Err(FinishFlaw::Allowance { by: *by });
        }
        let mut outline = self.with_allowances(&by)?;
        let mut marks = Vec::new();
        for notch in &finish.notches {
            let edge = self.edges.get(notch.edge).ok_or(FinishFlaw::NoEdge { edge: notch.edge, count })?;
            let (at, outward) = self.place(edge.from, edge.to, notch.share);
            let room = by[notch.edge].as_mm();
            let depth = NOTCH.0.min(room / 2.0);
            if depth >= 1.0 {
                outline = notched(&outline, at + outward * room, outward, depth);
            }
            // the mark stands where the panel ends, notch or not
            let points = vec![at, at - outward * MARK];
            marks.push(Stroke { layer: Layer::Marks, name: finish.name.clone(), points, closed: false });
        }
        for at in &self.meets {
            // inward: toward the side on which the piece is
            let outward = self.outward(*at);
            let points = vec![*at, *at - outward * MARK];
            marks.push(Stroke { layer: Layer::Marks, name: finish.name.clone(), points, closed: false });
        }
        if finish.edge_marks && by.iter().any(|b| *b > Length::ZERO) {
            let points = self.outline.points().to_vec();
            marks.push(Stroke { layer: Layer::Marks, name: finish.name.clone(), points, closed: true });
        }
        let size = outline.bounds().width().min(outline.bounds().height()).as_mm();
        let label = Label {
            at: inner_point(&outline),
            height: Length::mm((size / 20.0).clamp(4.0, 15.0)),
            text: finish.name.clone(),
        };
        Ok(Finished { name: finish.name.clone(), outline, cut_outs, marks, label })
    }

    fn with_allowances(&self, by: &[Length]) -> Result<Outline, FinishFlaw> {
        if by.iter().all(|b| *b == by[0]) {
            return match by[0] {
                b if b >= Length::ZERO => Ok(self.outline.grown(b)),
                b => one(self.outline.shrunk(-b)),
            };
        }
        let points = self.outline.points();
        let band = |k: usize| {
            let edge = &self.edges[k];
            let run: Vec<Point> = (edge.from..=edge.to).map(|i| points[i % points.len()]).collect();
            Outline::band(&run, Length::mm(by[k].as_mm().abs()))
        };
        let bands = |sign: f64| -> Vec<Outline> {
            (0..by.len()).filter(|k| by[*k].as_mm() * sign > 0.0).flat_map(band).collect()
        };
        let (mut all, off) = (bands(1.0), bands(-1.0));
        all.push(self.outline.clone());
        // bands end square: a disk fills the corner between two of them
        for k in 0..by.len() {
            let next = by[(k + 1) % by.len()];
            let corner = points[self.edges[k].to % points.len()];
            all.extend(disk(corner, by[k].min(next)));
        }
        let mut outline = one(Outline::joined(&all))?;
        if !off.is_empty() {
            outline = one(outline.without(&off))?;
        }
        Ok(outline)
    }

    /// The direction away from the piece at the place of the outline that is nearest.
    fn outward(&self, at: Point) -> Point {
        let away = |(a, b): &(Point, Point)| {
            let along = *b - *a;
            let t = ((at - *a).dot(along) / along.dot(along).max(1e-300)).clamp(0.0, 1.0);
            (a.toward(*b, t) - at).norm()
        };
        let side = self.outline.edges().min_by(|a, b| away(a).total_cmp(&away(b)));
        side.map_or(Point::mm(0.0, 0.0), |(a, b)| {
            let along = (b - a) * (1.0 / a.distance(b).as_mm().max(1e-12));
            Point::mm(along.y, -along.x)
        })
    }

    /// A place on a run of the outline, and the direction away from the piece there.
    fn place(&self, from: usize, to: usize, share: f64) -> (Point, Point) {
        let points = self.outline.points();
        let n = points.len();
        let lengths: Vec<f64> =
            (from..to).map(|i| points[i % n].distance(points[(i + 1) % n]).as_mm()).collect();
        let mut left = share.clamp(0.0, 1.0) * lengths.iter().sum::<f64>();
        let mut at = from;
        for (i, length) in lengths.iter().enumerate() {
            at = from + i;
            if left <= *length {
                break;
            }
            left -= length;
        }
        let (a, b) = (points[at % n], points[(at + 1) % n]);
        let long = a.distance(b).as_mm().max(1e-12);
        let along = (b - a) * (1.0 / long);
        // the outline turns from x towards y, so what lies outside is along turned the other way
        (a.toward(b, (left / long).clamp(0.0, 1.0)), Point::mm(along.y, -along.x))
    }
}

impl Finished {
    /// The partner for the other side of the car: its mirror image, writing the right way around.
    pub fn mirrored(&self, name: &str) -> Self {
        let flip = |p: Point| Point::mm(-p.x, p.y);
        Self {
            name: name.to_owned(),
            outline: self.outline.mirrored(),
            cut_outs: self.cut_outs.iter().map(Outline::mirrored).collect(),
            marks: self
                .marks
                .iter()
                .map(|m| Stroke {
                    name: name.to_owned(),
                    points: m.points.iter().map(|p| flip(*p)).collect(),
                    ..m.clone()
                })
                .collect(),
            label: Label { at: flip(self.label.at), height: self.label.height, text: name.to_owned() },
        }
    }

    /// Moved by a pose.
    pub fn placed(&self, pose: &Pose) -> Self {
        Self {
            name: self.name.clone(),
            outline: self.outline.placed(pose),
            cut_outs: self.cut_outs.iter().map(|c| c.placed(pose)).collect(),
            marks: self
                .marks
                .iter()
                .map(|m| Stroke { points: m.points.iter().map(|p| pose.apply(*p)).collect(), ..m.clone() })
                .collect(),
            label: Label { at: pose.apply(self.label.at), ..self.label.clone() },
        }
    }
}

/// A disk, its chords outside of the circle; none without a radius.
fn disk(center: Point, radius: Length) -> Option<Outline> {
    let n = 48;
    let step = std::f64::consts::TAU / f64::from(n);
    let r = radius.as_mm() / (step / 2.0).cos();
    let ring = (0..n).map(|k| {
        let (s, c) = (f64::from(k) * step).sin_cos();
        Point::mm(center.x + r * c, center.y + r * s)
    });
    (radius > Length::ZERO).then(|| Outline::new(ring.collect()).ok()).flatten()
}

/// The one part that is left; crumbs at corners do not count.
fn one(mut parts: Vec<Outline>) -> Result<Outline, FinishFlaw> {
    parts.sort_by(|a, b| b.area().total_cmp(&a.area()));
    let crumbs = parts.iter().skip(1).map(Outline::area).sum::<units::Area>();
    match parts.into_iter().next() {
        Some(largest) if largest.area().as_mm2() > 1.0 && crumbs < largest.area() * 0.02 => Ok(largest),
        _ => Err(FinishFlaw::Nothing),
    }
}

/// A triangle cut in from the edge.
fn notched(outline: &Outline, tip: Point, outward: Point, depth: f64) -> Outline {
    let side = Point::mm(-outward.y, outward.x) * (NOTCH.1 / 2.0);
    let base = tip + outward;
    let triangle = Outline::new(vec![tip - outward * depth, base + side, base - side]);
    let cut = triangle.ok().map(|t| outline.without(&[t])).unwrap_or_default();
    match one(cut) {
        Ok(cut) => cut,
        Err(_) => outline.clone(),
    }
}

/// A point well inside: of a coarse grid the one farthest from the ring.
fn inner_point(outline: &Outline) -> Point {
    let b = outline.bounds();
    let far = |p: Point| {
        let edges = outline.edges();
        edges
            .map(|(a, c)| {
                let along = c - a;
                let t = ((p - a).dot(along) / along.dot(along).max(1e-300)).clamp(0.0, 1.0);
                (a.toward(c, t) - p).norm()
            })
            .fold(f64::INFINITY, f64::min)
    };
    let center = outline.centroid();
    let grid = (1..16).flat_map(|i| (1..16).map(move |j| (f64::from(i) / 16.0, f64::from(j) / 16.0)));
    grid.map(|(u, v)| Point::mm(b.low.x + u * (b.high.x - b.low.x), b.low.y + v * (b.high.y - b.low.y)))
        .filter(|p| outline.contains(*p))
        .map(|p| (far(p), p))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map_or(center, |(_, p)| p)
}
