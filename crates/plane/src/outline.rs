//! The closed outline of a flat piece.

use crate::simple::{self, Crossing};
use crate::{Bounds, Point, Pose};
use serde::{Deserialize, Serialize};
use units::{Area, Length};

/// Farthest coordinate that is accepted, mm: a kilometer.
const FARTHEST: f64 = 1e6;
/// Least area that is accepted, mm².
const LEAST_AREA: f64 = 1e-6;

/// A closed ring of straight edges that neither crosses nor touches itself, in millimeters.
///
/// The last point joins the first; the points turn from x towards y (the shoelace sum is positive).
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Vec<Point>", into = "Vec<Point>")]
pub struct Outline {
    points: Vec<Point>,
    bounds: Bounds,
}

/// Why a ring is no outline, with the place and a way on.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum OutlineFlaw {
    /// Fewer than three different points.
    #[error("the outline has {found} different points and needs at least 3: draw the whole shape")]
    TooFewPoints {
        /// How many there are.
        found: usize,
    },
    /// A coordinate is no number, or farther away than a kilometer.
    #[error(
        "point {index} of the outline lies at no usable place: coordinates must be numbers within ±1,000,000 mm; check the units of the file"
    )]
    Unplaceable {
        /// Which point, counted from 0.
        index: usize,
    },
    /// It encloses nothing.
    #[error("the outline encloses no area: its points lie on one line; draw the whole shape")]
    NoArea,
    /// Two of its edges cross or touch.
    #[error("the outline crosses or touches itself near x {:.2} mm, y {:.2} mm: move the points there apart, or cut the shape in two", .at.x, .at.y)]
    SelfCrossing {
        /// Where, mm.
        at: Point,
    },
    /// Start and end are apart.
    #[error("the outline is open: its ends at x {:.2}, y {:.2} mm and x {:.2}, y {:.2} mm are {:.2} mm apart; join them and close the path", .start.x, .start.y, .end.x, .end.y, .start.distance(*.end).as_mm())]
    Open {
        /// Where it starts, mm.
        start: Point,
        /// Where it ends, mm.
        end: Point,
    },
}

impl Outline {
    /// From points in order, either way around; a last point equal to the first, and points that repeat
    /// the one before, are dropped.
    ///
    /// # Errors
    /// When the ring is no simple outline. Crossing and touching are decided by exact predicates.
    pub fn new(points: Vec<Point>) -> Result<Self, OutlineFlaw> {
        let mut points = points;
        if let Some(index) = points.iter().position(|p| !(p.x.abs() <= FARTHEST && p.y.abs() <= FARTHEST)) {
            return Err(OutlineFlaw::Unplaceable { index });
        }
        points.dedup();
        while points.len() > 1 && points.first() == points.last() {
            points.pop();
        }
        if points.len() < 3 {
            return Err(OutlineFlaw::TooFewPoints { found: points.len() });
        }
        match simple::first_crossing(&points) {
            Some(Crossing::Flat) => return Err(OutlineFlaw::NoArea),
            Some(Crossing::At(at)) => return Err(OutlineFlaw::SelfCrossing { at }),
            None => {}
        }
        let area = shoelace(&points);
        if area.abs() < LEAST_AREA {
            return Err(OutlineFlaw::NoArea);
        }
        if area < 0.0 {
            points.reverse();
        }
        Ok(Self::trusted(points))
    }

    /// From points known to form an outline already.
    fn trusted(points: Vec<Point>) -> Self {
        let bounds =
            Bounds::around(&points).unwrap_or(Bounds { low: Point::default(), high: Point::default() });
        Self { points, bounds }
    }

    /// An upright rectangle with a corner at the origin.
    ///
    /// # Errors
    /// When a side is not positive.
    pub fn rectangle(width: Length, height: Length) -> Result<Self, OutlineFlaw> {
        let (w, h) = (width.as_mm(), height.as_mm());
        Self::new(vec![Point::mm(0.0, 0.0), Point::mm(w, 0.0), Point::mm(w, h), Point::mm(0.0, h)])
    }

    /// The points in order; the last joins the first.
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// The edges in order.
    pub fn edges(&self) -> impl Iterator<Item = (Point, Point)> + '_ {
        let next = self.points.iter().skip(1).chain(self.points.first());
        self.points.iter().copied().zip(next.copied())
    }

    /// Enclosed area.
    pub fn area(&self) -> Area {
        Area::mm2(shoelace(&self.points))
    }

    /// Length of the ring.
    pub fn perimeter(&self) -> Length {
        self.edges().map(|(a, b)| a.distance(b)).sum()
    }

    /// Least upright box around it.
    pub fn bounds(&self) -> Bounds {
        self.bounds
    }

    /// Center of area.
    pub fn centroid(&self) -> Point {
        let origin = self.points.first().copied().unwrap_or_default();
        let (mut sum, mut twice) = (Point::default(), 0.0);
        for (a, b) in self.edges() {
            let (a, b) = (a - origin, b - origin);
            let c = a.cross(b);
            twice += c;
            sum = sum + (a + b) * c;
        }
        origin + sum * (1.0 / (3.0 * twice))
    }

    /// Whether a point lies inside or on the ring (exact).
    pub fn contains(&self, p: Point) -> bool {
        simple::inside(&self.points, p) != simple::Side::Outside
    }

    /// Whether the two share a point, if only on their rings (exact).
    pub fn meets(&self, other: &Self) -> bool {
        self.bounds.distance(&other.bounds) == Length::ZERO && simple::meet(&self.points, &other.points)
    }

    /// Shortest way between two outlines; zero where they touch, overlap, or one holds the other.
    pub fn distance(&self, other: &Self) -> Length {
        let holds = |a: &Self, b: &Self| b.points.first().is_some_and(|p| a.contains(*p));
        if holds(self, other) || holds(other, self) {
            return Length::ZERO;
        }
        self.ring_distance(other)
    }

    /// How deep two outlines lie in each other; zero where they are apart or touch.
    pub fn penetration(&self, other: &Self) -> Length {
        if self.meets(other) {
            Length::mm(simple::penetration(&self.points, &other.points))
        } else {
            Length::ZERO
        }
    }

    /// How far another outline sticks out of this one; zero where it lies inside or touches.
    pub fn protrusion(&self, other: &Self) -> Length {
        Length::mm(simple::protrusion(&self.points, &other.points))
    }

    /// Shortest way between the two rings, whichever holds the other.
    pub fn ring_distance(&self, other: &Self) -> Length {
        Length::mm(simple::ring_distance(&self.points, &other.points))
    }

    /// Placed by a pose.
    pub fn placed(&self, pose: &Pose) -> Self {
        let mut points: Vec<_> = self.points.iter().map(|p| pose.apply(*p)).collect();
        if pose.mirrored {
            points.reverse();
        }
        Self::trusted(points)
    }

    /// Its convex hull (monotone chain, Andrew 1979; exact turns).
    pub fn hull(&self) -> Self {
        let mut sorted = self.points.clone();
        sorted.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
        let half = |points: &mut dyn Iterator<Item = Point>| {
            let mut chain: Vec<Point> = Vec::new();
            for p in points {
                while chain.len() > 1
                    && simple::turn(chain[chain.len() - 2], chain[chain.len() - 1], p) <= 0.0
                {
                    chain.pop();
                }
                chain.push(p);
            }
            chain.pop();
            chain
        };
        let mut ring = half(&mut sorted.iter().copied());
        ring.extend(half(&mut sorted.iter().rev().copied()));
        Self::trusted(ring)
    }

    /// The mirror image: x goes to −x.
    pub fn mirrored(&self) -> Self {
        self.placed(&Pose { mirrored: true, ..Pose::default() })
    }
}

impl TryFrom<Vec<Point>> for Outline {
    type Error = OutlineFlaw;
    fn try_from(points: Vec<Point>) -> Result<Self, OutlineFlaw> {
        Self::new(points)
    }
}

impl From<Outline> for Vec<Point> {
    fn from(outline: Outline) -> Self {
        outline.points
    }
}

/// Signed area, mm², taken about the first point so that far-away shapes lose no digits.
fn shoelace(points: &[Point]) -> f64 {
    let Some(&origin) = points.first() else { return 0.0 };
    points.windows(2).map(|w| (w[0] - origin).cross(w[1] - origin)).sum::<f64>() / 2.0
}
