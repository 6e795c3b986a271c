//! Developed areas from the projections.
//!
//! A panel of the plan is cut into strips across the car, each stretched by the slope of the center-line
//! profile; a panel of the side into strips along the car, each stretched by the slope of the
//! cross-section. A bumper is its face from the end view and its flanks from the side view, joined where
//! the outline of the plan turns 45°. Crowned panels get 1.5 % more. For planning film and product, never
//! for cutting; not yet compared with measured panels.

use crate::anchors::Anchors;
use crate::body::Shape;
use plane::curve::{Axis, Edge, Point, polygon_area};
use crate::ends::Section;
use crate::panel::{self, PanelKind};
use crate::parameters::{Parameters, Tail};
use crate::plan::Plan;
use crate::side::Side;
use crate::view::View;
use std::f64::consts::PI;
use units::Area;

/// Share by which a panel crowned both ways exceeds its strips.
const CROWN: f64 = 1.015;
/// Steps of a bent segment in outlines, and in profiles and sections.
const OUTLINE_STEPS: usize = 24;
const SECTION_STEPS: usize = 40;
const PROFILE_STEPS: usize = 60;
const STRIPS: usize = 160;

/// What areas are read from.
pub(crate) struct Drawn<'a> {
    pub parameters: &'a Parameters,
    pub anchors: &'a Anchors,
    pub shapes: &'a [Shape],
    pub side: &'a Side,
    pub plan: &'a Plan,
    pub section: &'a Section,
}

impl Drawn<'_> {
    /// The area of a panel that has an outline in its main view; a right panel is its left one.
    pub fn area(&self, id: &'static str, kind: PanelKind) -> Area {
        let id = if id.starts_with("right_") { panel::mirror(id) } else { id };
        Area::mm2(self.square_millimeters(id, kind))
    }

    fn square_millimeters(&self, id: &'static str, kind: PanelKind) -> f64 {
        let profile = &self.side.lines.profile;
        let trunk = self.parameters.tail == Tail::Trunk;
        match id {
            "hood" => self.from_plan(id, &profile.hood),
            "windshield" => self.from_plan(id, &profile.windshield),
            "roof" => self.from_plan(id, &profile.roof),
            "rear_window" if trunk => self.from_plan(id, &profile.back),
            "rear_window" => self.from_behind(id, Some(&profile.back)),
            "trunk_lid" => self.trunk_lid(id),
            "tailgate" | "left_cargo_door" => {
                self.from_behind(id, (!self.parameters.has_bed()).then_some(&profile.deck))
            }
            "bed_floor" => self.strips(View::Top, id, Axis::X, |_| 1.0),
            "front_bumper" => self.bumper(View::Front, id),
            "rear_bumper" if self.parameters.has_bed() => self.strips(View::Rear, id, Axis::Y, |_| 1.0),
            "rear_bumper" => self.bumper(View::Rear, id),
            "left_mirror" => 2.6 * polygon_area(&self.outline(View::Front, id)) * 0.8,
            // Half of the fender's and the quarter panel's plan faces up and is not seen from the side.
            "left_front_fender" => {
                self.from_the_side(id) + 0.5 * self.strips(View::Top, id, Axis::X, |_| 1.0)
            }
            "left_quarter_panel" if trunk => {
                self.from_the_side(id) + 0.5 * self.strips(View::Top, id, Axis::X, |_| 1.0)
            }
            // The face of the rim.
            _ if kind == PanelKind::Wheel => PI * self.parameters.rim * self.parameters.rim,
            _ => self.from_the_side(id),
        }
    }

    fn outline(&self, view: View, id: &str) -> Vec<Point> {
        let shape = self.shapes.iter().find(|s| s.view == view && s.panel == id);
        shape.map(|s| s.path.sampled(OUTLINE_STEPS)).unwrap_or_default()
    }

    fn strips(&self, view: View, id: &str, across: Axis, stretch: impl Fn(f64) -> f64) -> f64 {
        strips(&self.outline(view, id), across, stretch)
    }

    fn from_plan(&self, id: &str, profile: &Edge) -> f64 {
        let profile = profile.sampled(PROFILE_STEPS);
        self.strips(View::Top, id, Axis::X, |x| slope(&profile, Axis::X, x)) * CROWN
    }

    fn from_behind(&self, id: &str, profile: Option<&Edge>) -> f64 {
        let profile = profile.map(|e| e.sampled(PROFILE_STEPS)).unwrap_or_default();
        self.strips(View::Rear, id, Axis::Y, |z| steepness(&profile, z)) * CROWN
    }

    fn from_the_side(&self, id: &str) -> f64 {
        let section = self.section.lower.then(&self.section.upper).sampled(SECTION_STEPS);
        self.strips(View::Left, id, Axis::Y, |z| slope(&section, Axis::Y, z).min(2.0))
    }

    /// Down to the lip from the plan, below it from behind.
    fn trunk_lid(&self, id: &str) -> f64 {
        let Some((x, lip_z)) = self.parameters.deck.last() else { return 0.0 };
        let lip_x = self.anchors.length + x;
        let deck = self.side.lines.profile.deck.sampled(PROFILE_STEPS);
        let top = |x: f64| if x < lip_x { slope(&deck, Axis::X, x) } else { 0.0 };
        let face = |z: f64| if z < *lip_z { 1.0 } else { 0.0 };
        (self.strips(View::Top, id, Axis::X, top) + self.strips(View::Rear, id, Axis::Y, face)) * CROWN
    }

    fn bumper(&self, view: View, id: &str) -> f64 {
        let front = view == View::Front;
        let mut round = self.plan.outline.sampled(PROFILE_STEPS);
        if !front {
            round.reverse();
        }
        let turned = round.windows(2).find(|w| (w[1].x - w[0].x).abs() > (w[1].y - w[0].y).abs());
        let Some(corner) = turned.map(|w| w[0]) else { return 0.0 };
        let face = |y: f64| {
            let y = y.abs();
            if y > corner.y {
                return 0.0;
            }
            let at = round.windows(2).find(|w| w[0].y <= y && y <= w[1].y);
            at.map_or(1.0, |w| (w[1].x - w[0].x).hypot(w[1].y - w[0].y) / (w[1].y - w[0].y))
        };
        // Flanks lean in a little and curl under: 6 % over their projection.
        let flank = |x: f64| if (x > corner.x) == front { 1.06 } else { 0.0 };
        self.strips(view, id, Axis::X, face) + 2.0 * self.strips(View::Left, id, Axis::X, flank)
    }
}

/// Area of a polygon in mm² when its strips across `axis` are stretched by a factor each.
fn strips(polygon: &[Point], axis: Axis, stretch: impl Fn(f64) -> f64) -> f64 {
    let along = |p: &Point| p.along(axis);
    let low = polygon.iter().map(along).fold(f64::INFINITY, f64::min);
    let high = polygon.iter().map(along).fold(f64::NEG_INFINITY, f64::max);
    if !(low < high) {
        return 0.0;
    }
    let width = (high - low) / STRIPS as f64;
    let middle = |i: usize| low + (i as f64 + 0.5) * width;
    (0..STRIPS).map(middle).map(|at| width * stretch(at) * chord(polygon, axis, at)).sum()
}

/// How much of the line at a coordinate lies inside a polygon, mm.
fn chord(polygon: &[Point], axis: Axis, at: f64) -> f64 {
    crossings(polygon, axis, at).chunks_exact(2).map(|c| c[1] - c[0]).sum()
}

/// Where the line at a coordinate crosses a polygon, along the other one, in order.
pub(crate) fn crossings(polygon: &[Point], axis: Axis, at: f64) -> Vec<f64> {
    let other = axis.other();
    let next = polygon.iter().cycle().skip(1);
    let mut out: Vec<f64> = polygon
        .iter()
        .zip(next)
        .filter(|(a, c)| (a.along(axis) - at) * (c.along(axis) - at) < 0.0)
        .map(|(a, c)| {
            let t = (at - a.along(axis)) / (c.along(axis) - a.along(axis));
            a.along(other) + t * (c.along(other) - a.along(other))
        })
        .collect();
    out.sort_by(f64::total_cmp);
    out
}

/// Length of a curve per length along an axis where it runs along it; 1 beyond its ends.
fn slope(curve: &[Point], axis: Axis, at: f64) -> f64 {
    let here = curve.windows(2).find(|w| {
        let (a, c) = (w[0].along(axis), w[1].along(axis));
        a <= at && at <= c && c > a
    });
    here.map_or(1.0, |w| (w[1].x - w[0].x).hypot(w[1].y - w[0].y) / (w[1].along(axis) - w[0].along(axis)))
}

/// Length of a curve per height where it first passes `z`, up or down; 1 beyond its ends.
fn steepness(curve: &[Point], z: f64) -> f64 {
    let here =
        curve.windows(2).find(|w| w[0].y.min(w[1].y) <= z && z <= w[0].y.max(w[1].y) && w[0].y != w[1].y);
    here.map_or(1.0, |w| (w[1].x - w[0].x).hypot(w[1].y - w[0].y) / (w[1].y - w[0].y).abs())
}
