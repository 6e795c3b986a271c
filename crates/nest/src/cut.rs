//! From a layout to the sheet that a cutter follows.

use crate::verify::Placed;
use crate::{ContainerKind, Flaw, Instance, Layout};
use plane::drawing::{Drawing, Label, Layer, Stroke};
use plane::{Bounds, Outline, Point, Pose};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use units::Length;

/// Rounds of improving the order of cuts.
const ROUNDS: usize = 30;

/// How the cutter wants its cuts.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CutSettings {
    /// A closed cut goes on over its start by so much, so that no bridge is left.
    pub overcut: Length,
    /// A cut begins so far beside the line, in the waste; at most half the gap is used.
    pub lead_in: Length,
    /// Height of labels; none for no labels.
    pub labels: Option<Length>,
}

impl Default for CutSettings {
    /// No overcut, no lead-in, labels of 8 mm.
    fn default() -> Self {
        Self { overcut: Length::ZERO, lead_in: Length::ZERO, labels: Some(Length::mm(8.0)) }
    }
}

/// What belongs to a piece besides its outline, in the piece's own coordinates.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct PieceDetail {
    /// Cuts inside it: sensors, washers, relief.
    #[serde(default)]
    pub inner: Vec<Outline>,
    /// Alignment marks.
    #[serde(default)]
    pub marks: Vec<(Point, Point)>,
    /// What is written on it; its name where there is nothing here.
    #[serde(default)]
    pub label: Option<String>,
}

/// The sheet of one roll or offcut: inner cuts before the outline of their piece, pieces in an order of short travel.
///
/// # Errors
/// When the layout names pieces or a container that the instance does not hold.
pub fn cut_sheet(
    instance: &Instance,
    layout: &Layout,
    container: &str,
    details: &BTreeMap<String, PieceDetail>,
    settings: &CutSettings,
) -> Result<Drawing, Flaw> {
    let window = window(instance, layout, container)?;
    let placed: Vec<Placed<'_>> =
        layout.outlines(instance)?.into_iter().filter(|p| p.0.container == container).collect();
    let none = PieceDetail::default();
    let mut drawing = Drawing { window, strokes: Vec::new(), labels: Vec::new() };
    let lead_in = settings.lead_in.as_mm().min(instance.gap.as_mm() / 2.0);
    let mut knife =
        Knife { at: Point::mm(window.low.x, window.high.y), overcut: settings.overcut.as_mm(), lead_in };
    for i in order(&placed, knife.at) {
        let (placement, piece, _, outline) = &placed[i];
        let detail = details.get(&piece.id).unwrap_or(&none);
        let name = format!("{} {}", piece.id, placement.copy + 1);
        for inner in &detail.inner {
            drawing.strokes.push(knife.cut(&inner.placed(&placement.pose), name.clone(), true));
        }
        drawing.strokes.push(knife.cut(outline, name.clone(), false));
        drawing.strokes.extend(detail.marks.iter().map(|mark| marked(mark, &placement.pose, &name)));
        if let Some(height) = settings.labels {
            let text = detail.label.clone().unwrap_or(name);
            drawing.labels.push(Label { at: writing_place(outline), height, text });
        }
    }
    Ok(drawing)
}

/// The edges of the sheet: the used part of a roll, or the box of an offcut.
fn window(instance: &Instance, layout: &Layout, container: &str) -> Result<Bounds, Flaw> {
    let unknown = || Flaw::Unknown { id: container.to_owned() };
    let found = instance.containers.iter().find(|c| c.id == container).ok_or_else(unknown)?;
    Ok(match &found.kind {
        ContainerKind::Roll { width, .. } => {
            let used =
                layout.used.iter().find(|u| u.container == container).map_or(Length::ZERO, |u| u.length);
            Bounds { low: Point::default(), high: Point::mm(used.as_mm(), width.as_mm()) }
        }
        ContainerKind::Offcut { outline, .. } => outline.bounds(),
    })
}

fn marked((a, b): &(Point, Point), pose: &Pose, name: &str) -> Stroke {
    let points = vec![pose.apply(*a), pose.apply(*b)];
    Stroke { layer: Layer::Marks, name: name.to_owned(), points, closed: false }
}

/// Where writing lies inside the piece: its center of area, or else the middle of its widest inner chord there.
fn writing_place(outline: &Outline) -> Point {
    let center = outline.centroid();
    if outline.contains(center) {
        return center;
    }
    let mut cuts: Vec<f64> = outline
        .edges()
        .filter(|(a, b)| (a.y > center.y) != (b.y > center.y))
        .map(|(a, b)| a.x + (center.y - a.y) / (b.y - a.y) * (b.x - a.x))
        .collect();
    cuts.sort_by(f64::total_cmp);
    let widest = cuts.chunks_exact(2).max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])));
    widest.map_or(center, |w| Point::mm((w[0] + w[1]) / 2.0, center.y))
}

/// Pieces by nearest neighbor from `start`, then with crossings of the way undone (2-opt).
fn order(placed: &[Placed<'_>], start: Point) -> Vec<usize> {
    let centers: Vec<Point> = placed.iter().map(|p| p.3.bounds().center()).collect();
    let mut rest: Vec<usize> = (0..placed.len()).collect();
    let mut way = Vec::with_capacity(placed.len());
    let mut at = start;
    while let Some(next) = (0..rest.len()).min_by(|&a, &b| {
        let d = |k: usize| (centers[rest[k]] - at).norm();
        d(a).total_cmp(&d(b))
    }) {
        let piece = rest.remove(next);
        at = centers[piece];
        way.push(piece);
    }
    let point = |way: &[usize], k: usize| if k == 0 { start } else { centers[way[k - 1]] };
    for _ in 0..ROUNDS {
        let mut gained = false;
        for i in 1..way.len() {
            for j in i + 1..=way.len() {
                let before = (point(&way, i) - point(&way, i - 1)).norm();
                let after = (point(&way, j) - point(&way, i - 1)).norm();
                let (old, new) = match way.get(j) {
                    Some(&next) => (
                        before + (centers[next] - point(&way, j)).norm(),
                        after + (centers[next] - point(&way, i)).norm(),
                    ),
                    None => (before, after),
                };
                if new < old - 1e-9 {
                    way[i - 1..j].reverse();
                    gained = true;
                }
            }
        }
        if !gained {
            break;
        }
    }
    way
}

/// Cuts rings one after another, each from the corner nearest to where it stands.
struct Knife {
    at: Point,
    overcut: f64,
    lead_in: f64,
}

impl Knife {
    fn cut(&mut self, ring: &Outline, name: String, inner: bool) -> Stroke {
        let corners = ring.points();
        let n = corners.len();
        let near = |i: &usize| (corners[*i] - self.at).norm();
        let first = (0..n).min_by(|a, b| near(a).total_cmp(&near(b))).unwrap_or(0);
        let mut points: Vec<Point> = corners[first..].iter().chain(&corners[..first]).copied().collect();
        let start = points[0];
        self.at = start;
        if self.overcut <= 0.0 && self.lead_in <= 0.0 {
            return Stroke { layer: Layer::Cut, name, points, closed: true };
        }
        points.push(start);
        if self.overcut > 0.0 {
            points.extend(overcut(&points, self.overcut));
        }
        if self.lead_in > 0.0 {
            points.insert(0, beside(&points, n, self.lead_in, inner));
        }
        self.at = points.last().copied().unwrap_or(start);
        Stroke { layer: Layer::Cut, name, points, closed: false }
    }
}

/// The first `length` mm of a ring once more, without its start.
fn overcut(ring: &[Point], length: f64) -> Vec<Point> {
    let mut again = Vec::new();
    let mut left = length;
    for pair in ring.windows(2) {
        let step = (pair[1] - pair[0]).norm();
        if step >= left {
            again.push(pair[0].toward(pair[1], left / step));
            break;
        }
        again.push(pair[1]);
        left -= step;
    }
    again
}

/// A point beside the first corner, in the waste: outside an outline, inside an inner cut.
fn beside(ring: &[Point], n: usize, distance: f64, inner: bool) -> Point {
    let (before, start, after) = (ring[n - 1], ring[0], ring[1]);
    let unit = |v: Point| v * (1.0 / v.norm().max(1e-12));
    let sum = unit(after - start) + unit(before - start);
    // a straight corner has no bisector: across the edge then; outlines turn from x towards y
    let inward = if sum.norm() > 1e-6 {
        let convex = (start - before).cross(after - start) > 0.0;
        unit(sum) * if convex { 1.0 } else { -1.0 }
    } else {
        let along = unit(after - start);
        Point::mm(-along.y, along.x)
    };
    start + inward * if inner { distance } else { -distance }
}
