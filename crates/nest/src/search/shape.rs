//! A piece made ready for the search: grown, simplified, with inscribed circles.

use super::circles;
use super::form::{Form, LANES};
use jagua_rs::geometry::primitives::{Point as EnginePoint, SPolygon};
use jagua_rs::geometry::shape_modification::{ShapeModifyMode, close_narrow_concavities, simplify_shape};
use plane::{Outline, Point, Pose};
use units::Length;

/// Share of the area that simplification may add.
const SIMPLIFY: f32 = 0.001;
/// Dents no wider than this share of the diameter and no larger than that share of the area are closed.
const NARROW: (f32, f32) = (0.01, 0.02);
/// Above this number of points an outline is thinned before anything that takes the square of it.
const MANY_POINTS: usize = 150;

/// The turns a shape may take.
#[derive(Clone, Debug)]
pub(crate) enum Turns {
    /// Any; the form is made when it is needed.
    Free,
    /// These, in degrees, with their forms.
    Steps(Vec<(f64, Form)>),
}

/// One piece, or its mirror image, about its own center.
#[derive(Clone, Debug)]
pub(crate) struct Shape {
    /// Unturned.
    pub base: Form,
    pub turns: Turns,
    /// Where the form's origin lies in the piece's own coordinates, after mirroring.
    pub center: Point,
    pub mirrored: bool,
    /// Largest distance between two points, mm.
    pub diameter: f32,
    /// Shorter side of the unturned box, mm.
    pub least_side: f32,
    /// Fourth root of the hull's area squared: the factor of a pair is the product of both.
    pub weight: f32,
    /// Area of the hull, mm².
    pub hull_area: f32,
    /// Area as grown, mm².
    pub area: f64,
}

/// A place for a shape.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Place {
    /// Index into `Turns::Steps`, or 0.
    pub step: usize,
    /// Turn in radians where the shape turns freely.
    pub angle: f64,
    pub x: f64,
    pub y: f64,
}

impl Shape {
    /// Prepares an outline whose surroundings must stay free by `clearance`.
    /// None when the shape defies simplification and is too complex without it.
    pub(crate) fn new(
        outline: &Outline,
        mirrored: bool,
        steps: Option<&[f64]>,
        clearance: Length,
    ) -> Option<Self> {
        Self::prepared(outline, mirrored, steps, clearance, true)
    }

    fn prepared(
        outline: &Outline,
        mirrored: bool,
        steps: Option<&[f64]>,
        clearance: Length,
        simplify: bool,
    ) -> Option<Self> {
        let outline = if mirrored { outline.mirrored() } else { outline.clone() };
        let grown = thinned(outline).grown(clearance);
        let center = grown.centroid();
        // a shape too fine for f32 is taken by its hull
        let mut polygon = engine_polygon(&grown, center).or_else(|| engine_polygon(&grown.hull(), center))?;
        if simplify {
            polygon = simplify_shape(&polygon, ShapeModifyMode::Inflate, SIMPLIFY);
            polygon = close_narrow_concavities(&polygon, ShapeModifyMode::Inflate, NARROW);
            polygon = simplify_shape(&polygon, ShapeModifyMode::Inflate, SIMPLIFY / 10.0);
        }
        let points: Vec<[f32; 2]> = polygon.vertices().iter().map(|p| [p.0, p.1]).collect();
        let circles = circles::inscribed(&points);
        if circles.is_empty() {
            return None;
        }
        let base = Form::new(&points, &circles);
        let hull_area = grown.hull().area().as_mm2() as f32;
        let turns = match steps {
            None => Turns::Free,
            Some(list) => Turns::Steps(list.iter().map(|&d| (d, base.turned(d.to_radians()))).collect()),
        };
        Some(Self {
            least_side: base.width().min(base.height()),
            base,
            turns,
            center,
            mirrored,
            diameter: polygon.diameter(),
            weight: hull_area.sqrt().sqrt(),
            hull_area,
            area: f64::from(polygon.area()),
        })
    }

    /// An obstacle: never turned, nearly never simplified, so that no room is lost.
    pub(crate) fn obstacle(outline: &Outline) -> Option<Self> {
        Self::prepared(outline, false, Some(&[0.0]), Length::ZERO, outline.points().len() > MANY_POINTS)
    }

    /// Places at the origin whose turns decide whether the shape fits: all fixed ones, or
    /// those at which an edge lies along or across, and even steps between.
    pub(crate) fn telling_places(&self) -> Vec<Place> {
        let at = |step, angle| Place { step, angle, x: 0.0, y: 0.0 };
        match &self.turns {
            Turns::Steps(list) => (0..list.len()).map(|k| at(k, 0.0)).collect(),
            Turns::Free => {
                let flush =
                    self.base.edge_angles().into_iter().flat_map(|a| [-a, std::f64::consts::FRAC_PI_2 - a]);
                flush.chain((0..360).map(|k| (k as f64 * 0.5).to_radians())).map(|a| at(0, a)).collect()
            }
        }
    }

    /// Whether the shape's box fits into a rectangle at a telling turn.
    pub(crate) fn fits(&self, width: f64, height: f64) -> bool {
        let mut room = Form::default();
        self.telling_places().iter().any(|place| {
            let form = self.form(place, &mut room);
            f64::from(form.width()) <= width && f64::from(form.height()) <= height
        })
    }

    /// Its least height over the telling turns, mm.
    pub(crate) fn least_height(&self) -> f64 {
        let mut room = Form::default();
        let heights = self.telling_places();
        heights
            .iter()
            .map(|place| f64::from(self.form(place, &mut room).height()))
            .fold(f64::INFINITY, f64::min)
    }

    pub(crate) fn is_free(&self) -> bool {
        matches!(self.turns, Turns::Free)
    }

    /// The form at a place: a stored one, or made in `room`.
    pub(crate) fn form<'a>(&'a self, place: &Place, room: &'a mut Form) -> &'a Form {
        match &self.turns {
            Turns::Steps(list) => &list[place.step.min(list.len() - 1)].1,
            Turns::Free => {
                room.turn_from(&self.base, place.angle);
                room
            }
        }
    }

    /// The pose of the original outline at a place.
    pub(crate) fn pose(&self, place: &Place) -> Pose {
        let degrees = match &self.turns {
            Turns::Steps(list) => list[place.step.min(list.len() - 1)].0,
            Turns::Free => place.angle.to_degrees().rem_euclid(360.0),
        };
        let turned = Pose { mirrored: false, degrees, ..Pose::default() }.apply(self.center);
        Pose {
            mirrored: self.mirrored,
            degrees,
            x: Length::mm(place.x - turned.x),
            y: Length::mm(place.y - turned.y),
        }
    }

    /// The place that gives a pose of the original outline; the nearest allowed turn.
    pub(crate) fn place(&self, pose: &Pose) -> Place {
        let turned = Pose { mirrored: false, degrees: pose.degrees, ..Pose::default() }.apply(self.center);
        let step = match &self.turns {
            Turns::Free => 0,
            Turns::Steps(list) => {
                let off = |d: f64| (d - pose.degrees + 180.0).rem_euclid(360.0) - 180.0;
                (0..list.len())
                    .min_by(|&a, &b| off(list[a].0).abs().total_cmp(&off(list[b].0).abs()))
                    .unwrap_or(0)
            }
        };
        Place {
            step,
            angle: pose.degrees.to_radians(),
            x: turned.x + pose.x.as_mm(),
            y: turned.y + pose.y.as_mm(),
        }
    }
}

/// With no more points than the preparation can bear; the original lies inside.
fn thinned(outline: Outline) -> Outline {
    let size = outline.bounds().width().as_mm().max(outline.bounds().height().as_mm());
    let mut thin = outline;
    for share in [2e-4, 1e-3, 5e-3, 2e-2] {
        if thin.points().len() <= MANY_POINTS {
            return thin;
        }
        thin = thin.simplified(Length::mm(size * share));
    }
    if thin.points().len() <= 4 * MANY_POINTS {
        return thin;
    }
    thin.hull()
}

/// In the coordinates of the engine: about `center`, in f32.
fn engine_polygon(outline: &Outline, center: Point) -> Option<SPolygon> {
    let mut points: Vec<EnginePoint> = Vec::with_capacity(outline.points().len());
    for p in outline.points() {
        let q = EnginePoint((p.x - center.x) as f32, (p.y - center.y) as f32);
        if points.last() != Some(&q) && points.first() != Some(&q) {
            points.push(q);
        }
    }
    SPolygon::new(points).ok()
}

/// Circles are kept in groups of so many.
pub(crate) const fn padded(n: usize) -> usize {
    n.div_ceil(LANES) * LANES
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_prepared_shape_holds_its_piece_with_the_clearance() {
        for (name, gap) in [
            ("shirts", 0.0),
            ("swim", 0.0),
            ("jakobs1", 0.0),
            ("trousers", 0.0),
            ("albano", 0.0),
            ("film_m", 4.0),
        ] {
            let path = format!("{}/tests/data/{name}.json", env!("CARGO_MANIFEST_DIR"));
            let text = std::fs::read_to_string(path).unwrap();
            let instance = crate::read_strip_json(&text, Length::mm(gap), Length::ZERO).unwrap();
            for piece in &instance.pieces {
                let size = piece.outline.bounds().width().as_mm();
                let clearance = Length::mm(gap / 2.0 + size * 2e-6);
                let shape = Shape::new(&piece.outline, false, None, clearance).unwrap();
                let ring: Vec<Point> = shape
                    .base
                    .points()
                    .map(|[x, y]| Point::mm(f64::from(x), f64::from(y)) + shape.center)
                    .collect();
                let held = Outline::new(ring).unwrap();
                let out = held.protrusion(&piece.outline).as_mm();
                assert_eq!(out, 0.0, "{name} {}", piece.id);
                let near = held.ring_distance(&piece.outline).as_mm();
                assert!(near >= gap / 2.0, "{name} {}: {near}", piece.id);
            }
        }
    }
}
