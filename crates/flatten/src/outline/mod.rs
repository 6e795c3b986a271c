//! From the rim of a flat piece to the outline that is cut.

mod curve;
mod finish;
mod seam;

pub use curve::Bezier;
pub use finish::{Allowance, Finish, FinishFlaw, Finished, Notch};

use crate::Flattening;
use crate::region::Places;
use plane::{Outline, OutlineFlaw, Point};
use serde::{Deserialize, Serialize};
use units::Length;

/// How the rim of a mesh becomes an outline.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Tracing {
    /// The outline stays this near to the rim, and the rim to the outline.
    #[serde(rename = "tolerance_mm")]
    pub tolerance: Length,
    /// A bend of the rim by this many degrees within the width of `window` is a corner and stays sharp.
    pub corner_degrees: f64,
    /// See `corner_degrees`.
    #[serde(rename = "window_mm")]
    pub window: Length,
}

impl Default for Tracing {
    fn default() -> Self {
        Self { tolerance: Length::mm(0.3), corner_degrees: 40.0, window: Length::mm(24.0) }
    }
}

/// A run of the outline between two corners.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Edge {
    /// First point, as an index into the outline's points.
    pub from: usize,
    /// Last point; it may be beyond the end of the list, which then goes around.
    pub to: usize,
    /// Its length.
    #[serde(rename = "length_mm")]
    pub length: Length,
    /// Whether a cut made it; else it is the panel's own edge.
    #[serde(default)]
    pub cut: bool,
}

/// The outline of a flat piece, smooth between its corners.
#[derive(Clone, Debug, PartialEq)]
pub struct Traced {
    /// The outline; its points lie within a hundredth of a millimeter of the curves.
    pub outline: Outline,
    /// Cubic curves of the same line, in order.
    pub curves: Vec<Bezier>,
    /// Runs between corners in order around the outline; one for an outline without corners.
    pub edges: Vec<Edge>,
    /// How far the outline and the rim are apart at most.
    pub off: Length,
    /// Places on cut edges that come together with a place on the other side of the cut.
    pub meets: Vec<Point>,
}

/// A place of the flat piece on a sheet whose y runs down, seen from outside the car.
fn on_sheet([x, y]: [f64; 2]) -> Point {
    Point::mm(x, -y)
}

/// The outline of a flat piece and the holes that stay in it, on a sheet whose y runs down, seen from outside the car.
/// Cut-outs are given as places on the surface (see `repair::Closed`); one that does not come out as an outline is left
/// whole, to be trimmed on the car.
///
/// # Errors
/// When the rim crosses itself.
pub fn of_flattening(
    flattening: &Flattening,
    cut_outs: &[Vec<[f64; 3]>],
    tracing: &Tracing,
) -> Result<(Traced, Vec<Outline>), OutlineFlaw> {
    of_piece(flattening, cut_outs, &seam::places(std::slice::from_ref(flattening)), tracing)
}

/// The same for all pieces of a panel that was cut: the places where they come together are the same on both sides of
/// a cut.
///
/// # Errors
/// When a rim crosses itself.
pub fn of_pieces(
    pieces: &[Flattening],
    cut_outs: &[Vec<[f64; 3]>],
    tracing: &Tracing,
) -> Result<Vec<(Traced, Vec<Outline>)>, OutlineFlaw> {
    let places = seam::places(pieces);
    pieces.iter().map(|piece| of_piece(piece, cut_outs, &places, tracing)).collect()
}

/// A cut-out belongs to a piece that it lies on; smoothing moves a surface by less.
const OFF: Length = Length::mm(5.0);

fn of_piece(
    flattening: &Flattening,
    cut_outs: &[Vec<[f64; 3]>],
    meeting: &[[f64; 3]],
    tracing: &Tracing,
) -> Result<(Traced, Vec<Outline>), OutlineFlaw> {
    let places = (!cut_outs.is_empty()).then(|| Places::of(&flattening.surface));
    let flat = |p: [f64; 3]| {
        let placed = places.as_ref()?.nearest(p).filter(|placed| placed.off <= OFF)?;
        let corners = flattening.surface.triangles[placed.triangle as usize];
        Some(on_sheet(placed.among(corners.map(|v| flattening.flat[v as usize]))))
    };
    let holes = cut_outs
        .iter()
        .filter_map(|ring| ring.iter().map(|p| flat(*p)).collect::<Option<Vec<_>>>())
        .filter_map(|ring| Some(trace(&ring, tracing).ok()?.outline))
        .collect();
    let rim = seam::Rim::of(flattening);
    let points: Vec<Point> = rim.vertices.iter().map(|&v| on_sheet(flattening.flat[v as usize])).collect();
    let mut traced = traced(&points, &rim.ends(&points), tracing)?;
    rim.tell(&points, &mut traced);
    traced.meets = rim.meeting(flattening, meeting).into_iter().map(on_sheet).collect();
    Ok((traced, holes))
}

/// How near the points of the outline follow the curves, mm.
const CHORD: f64 = 0.01;

/// The outline of a rim: corners are kept, noise between them smoothed away, as far as the tolerance allows.
///
/// # Errors
/// When the rim crosses itself.
pub fn trace(rim: &[Point], tracing: &Tracing) -> Result<Traced, OutlineFlaw> {
    traced(rim, &[], tracing)
}

/// The same with points that stay corners in any case.
fn traced(rim: &[Point], stay: &[Point], tracing: &Tracing) -> Result<Traced, OutlineFlaw> {
    // as an outline, so that it turns from x towards y and repeats no point
    let rim = Outline::new(rim.to_vec())?;
    let corners = corners(rim.points(), stay, tracing);
    let mut tolerance = tracing.tolerance.as_mm();
    for _ in 0..5 {
        if let Some(traced) = fitted(&rim, &corners, tolerance * 0.8).filter(|t| t.off <= tracing.tolerance) {
            return Ok(traced);
        }
        tolerance /= 2.0;
    }
    Ok(as_it_is(&rim, &corners))
}

/// The rim itself, where no smooth curve does.
fn as_it_is(rim: &Outline, corners: &[usize]) -> Traced {
    let points = rim.points();
    let curves = rim.edges().map(|(a, b)| Bezier::straight(a, b)).collect();
    let n = points.len();
    let starts = if corners.is_empty() { &[0][..] } else { corners };
    let edges = runs(starts, n).map(|(from, to)| edge(points, from, to)).collect();
    Traced { outline: rim.clone(), curves, edges, off: Length::ZERO, meets: Vec::new() }
}

/// Pairs of neighboring starts around a ring of n; the second may lie beyond n.
fn runs(starts: &[usize], n: usize) -> impl Iterator<Item = (usize, usize)> + '_ {
    (0..starts.len()).map(move |k| {
        let from = starts[k];
        let to = starts[(k + 1) % starts.len()];
        (from, if to > from { to } else { to + n })
    })
}

fn edge(points: &[Point], from: usize, to: usize) -> Edge {
    let n = points.len();
    let length = (from..to).map(|i| points[i % n].distance(points[(i + 1) % n])).sum();
    Edge { from, to, length, cut: false }
}

fn fitted(rim: &Outline, corners: &[usize], tolerance: f64) -> Option<Traced> {
    let ring = rim.points();
    let n = ring.len();
    let starts = if corners.is_empty() { &[0][..] } else { corners };
    let mut points = Vec::new();
    let mut curves = Vec::new();
    let mut marks = Vec::new();
    for (from, to) in runs(starts, n) {
        let run: Vec<Point> = (from..=to).map(|i| ring[i % n]).collect();
        marks.push(points.len());
        // an outline without corners closes smoothly: both ends share a tangent
        let tangent = corners.is_empty().then(|| curve::tangent_across(ring, from));
        let fit = curve::fit(&run, tolerance, tangent);
        for c in &fit {
            let mut chords = c.points(CHORD);
            chords.pop();
            points.extend(chords);
        }
        curves.extend(fit);
    }
    let count = points.len();
    let edges = runs(&marks, count).map(|(from, to)| edge(&points, from, to)).collect();
    let outline = Outline::new(points.clone()).ok()?;
    // a reversed or thinned list would break the numbers of the edges
    if outline.points() != points {
        return None;
    }
    let off = curve::apart(ring, &points).max(curve::apart(&points, ring));
    Some(Traced { outline, curves, edges, off: Length::mm(off), meets: Vec::new() })
}

/// Points of a ring where it bends by more than the limit within the window, sharpest first where several are near.
fn corners(ring: &[Point], stay: &[Point], tracing: &Tracing) -> Vec<usize> {
    let n = ring.len();
    let half = tracing.window.as_mm() / 2.0;
    let reach = |i: usize, step: usize| {
        let (mut at, mut left) = (i, half);
        for _ in 0..n {
            let next = (at + step) % n;
            let length = ring[at].distance(ring[next]).as_mm();
            if length >= left {
                return ring[at].toward(ring[next], left / length.max(1e-12));
            }
            left -= length;
            at = next;
        }
        ring[at]
    };
    let bends: Vec<f64> = (0..n)
        .map(|i| {
            let (u, v) = (ring[i] - reach(i, n - 1), reach(i, 1) - ring[i]);
            u.cross(v).atan2(u.dot(v)).abs().to_degrees()
        })
        .collect();
    let mut order: Vec<usize> = (0..n).filter(|i| bends[*i] >= tracing.corner_degrees).collect();
    order.sort_by(|a, b| bends[*b].total_cmp(&bends[*a]).then(a.cmp(b)));
    let mut corners: Vec<usize> = (0..n).filter(|i| stay.contains(&ring[*i])).collect();
    for i in order {
        if corners.iter().all(|c| ring[*c].distance(ring[i]).as_mm() >= half) {
            corners.push(i);
        }
    }
    corners.sort_unstable();
    corners
}

#[cfg(test)]
mod tests;
