//! Mending rings that are nearly outlines.

use crate::{Outline, OutlineFlaw, Point};
use i_overlay::core::fill_rule::FillRule;
use i_overlay::float::simplify::SimplifyShape;
use units::{Area, Length};

/// Ends closer than this are joined; wider gaps are the drawing's fault.
pub const WIDEST_GAP: Length = Length::mm(0.5);
/// Points closer than this to the one before are one point.
const SAME_POINT: f64 = 1e-6;
/// Loops are cut off when they hold less than this share of the area.
const SMALL_LOOP: f64 = 1e-3;

/// What was mended.
#[derive(Clone, Debug, PartialEq)]
pub enum Repair {
    /// Points that repeat their neighbor were dropped.
    Duplicates {
        /// How many.
        count: usize,
    },
    /// The ends were joined.
    Gap {
        /// Where, mm.
        at: Point,
        /// How far they were apart.
        width: Length,
    },
    /// Small loops where the ring crossed itself were cut off.
    Loops {
        /// Where the first was, mm.
        at: Point,
        /// Area lost.
        area: Area,
    },
}

impl std::fmt::Display for Repair {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Duplicates { count } => write!(f, "{count} repeated points were dropped"),
            Self::Gap { at, width } => {
                write!(f, "a gap of {:.3} mm at x {:.2}, y {:.2} mm was closed", width.as_mm(), at.x, at.y)
            }
            Self::Loops { at, area } => write!(
                f,
                "loops of {:.3} mm² where the outline crossed itself near x {:.2}, y {:.2} mm were cut off",
                area.as_mm2(),
                at.x,
                at.y
            ),
        }
    }
}

/// Makes an outline of a ring: drops repeated points, joins ends closer than [`WIDEST_GAP`], cuts off
/// loops that hold less than a thousandth of the area, and tells what it did.
///
/// # Errors
/// When the ring crosses itself in a way that shows: the place, and what to do.
pub fn repair(ring: &[Point]) -> Result<(Outline, Vec<Repair>), OutlineFlaw> {
    let mut points = ring.to_vec();
    let mut repairs = Vec::new();
    if let Some(index) = points.iter().position(|p| !p.is_finite()) {
        return Err(OutlineFlaw::Unplaceable { index });
    }
    // a last point equal to the first says "closed" and is no fault
    if points.len() > 1 && points.first() == points.last() {
        points.pop();
    }
    let before = points.len();
    points.dedup_by(|b, a| (*b - *a).norm() <= SAME_POINT);
    if points.len() < before {
        repairs.push(Repair::Duplicates { count: before - points.len() });
    }
    if let (Some(&first), Some(&last)) = (points.first(), points.last()) {
        let width = first.distance(last);
        if points.len() > 3 && width.as_mm() > 0.0 && width.as_mm() <= nearly_closed(&points) {
            points.pop();
            repairs.push(Repair::Gap { at: last, width });
        }
    }
    match Outline::new(points.clone()) {
        Ok(outline) => Ok((outline, repairs)),
        Err(OutlineFlaw::SelfCrossing { at }) => {
            let (outline, area) = without_loops(&points).ok_or(OutlineFlaw::SelfCrossing { at })?;
            repairs.push(Repair::Loops { at, area });
            Ok((outline, repairs))
        }
        Err(flaw) => Err(flaw),
    }
}

/// How close the last point must come to the first to be the same corner: never more than a
/// quarter of the shorter edge that it would swallow.
fn nearly_closed(points: &[Point]) -> f64 {
    let n = points.len();
    let edges = [points[0].distance(points[1]), points[n - 1].distance(points[n - 2])];
    edges.into_iter().map(|e| e.as_mm() / 4.0).fold(WIDEST_GAP.as_mm() / 10.0, f64::min)
}

/// The largest simple part, where all others are tiny.
fn without_loops(points: &[Point]) -> Option<(Outline, Area)> {
    let ring: Vec<[f64; 2]> = points.iter().map(|p| [p.x, p.y]).collect();
    let shapes = ring.simplify_shape_as::<i64>(FillRule::NonZero);
    let mut outlines: Vec<Outline> = shapes
        .into_iter()
        .flatten()
        .filter_map(|contour| Outline::new(contour.into_iter().map(Point::from).collect()).ok())
        .collect();
    outlines.sort_by(|a, b| b.area().total_cmp(&a.area()));
    let rest: Area = outlines.iter().skip(1).map(Outline::area).sum();
    let main = outlines.into_iter().next()?;
    // what the ring itself encloses, loops run backwards counted against it
    let signed =
        points.windows(2).map(|w| (w[0] - points[0]).cross(w[1] - points[0])).sum::<f64>().abs() / 2.0;
    let lost = rest.as_mm2() + (signed - main.area().as_mm2()).abs();
    (lost <= SMALL_LOOP * main.area().as_mm2()).then_some((main, Area::mm2(lost)))
}
