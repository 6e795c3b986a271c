//! Points of a body in space, from which every view is drawn, so that the views agree.
//!
//! Plain names are on the center line; an `s` ends the name of a point at the side.

use crate::parameters::Parameters;
use plane::curve::{Axis, Edge, Point, pt};
use std::f64::consts::PI;

/// A point in space, mm: x from the nose backwards, y from the center line to the car's left, z up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Anchor {
    pub x: f64,
    pub y: f64,
    pub z: f64,
}

impl Anchor {
    const fn new(x: f64, y: f64, z: f64) -> Anchor {
        Anchor { x, y, z }
    }

    /// As seen from the left.
    pub fn side(self) -> Point {
        pt(self.x, self.z)
    }

    /// As seen from above.
    pub fn plan(self) -> Point {
        pt(self.x, self.y)
    }

    /// As seen from an end.
    pub fn end(self) -> Point {
        pt(self.y, self.z)
    }
}

/// All anchors of a body, and the few lengths that every view needs.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Anchors {
    pub length: f64,
    pub half_width: f64,
    pub height: f64,
    /// x of the front axle.
    pub front_axle: f64,
    /// x of the rear axle.
    pub rear_axle: f64,
    /// Radius of the tire, and height of the axles.
    pub tire: f64,
    /// Radius of the wheel arches.
    pub arch: f64,
    pub clearance: f64,
    /// Hood edge.
    pub h0: Anchor,
    /// Head lamp: inner front corner.
    pub la: Anchor,
    /// Head lamp: rear tip.
    pub lb: Anchor,
    /// Foot of the windshield.
    pub c0: Anchor,
    pub c1: Anchor,
    /// Ends of the belt line.
    pub b0: Anchor,
    pub bn: Anchor,
    /// Corners of the roof.
    pub r0: Anchor,
    pub r0s: Anchor,
    pub r1: Anchor,
    pub r1s: Anchor,
    /// Highest point of the roof.
    pub pk: Anchor,
    pub pks: Anchor,
    /// Foot of the rear glass.
    pub d0: Anchor,
    pub d0s: Anchor,
    /// Foot of the lid.
    pub d2: Anchor,
    /// Tail lamp: upper and lower inner corner, tip on the flank.
    pub ta: Anchor,
    pub tb: Anchor,
    pub tt: Anchor,
}

impl Anchors {
    pub fn new(p: &Parameters) -> Anchors {
        let (l, hw, h) = (p.length, p.width / 2.0, p.height);
        let xf = p.front_overhang;
        let xr = xf + p.wheelbase;
        let c0 = Anchor::new(xf + p.cowl_f, 0.0, p.cowl_z);
        let r0 = Anchor::new(xf + p.header_f, 0.0, h - p.header_drop);
        let r1 = Anchor::new(xr + p.roof_end_r, 0.0, h - p.roof_end_drop);
        let pk = Anchor::new(r0.x + p.peak * (r1.x - r0.x), 0.0, h);
        let d0 = Anchor::new(xr + p.glass_end_r, 0.0, p.glass_end_z);
        Anchors {
            length: l,
            half_width: hw,
            height: h,
            front_axle: xf,
            rear_axle: xr,
            tire: p.tire,
            arch: p.tire + p.arch_gap,
            clearance: p.clearance,
            h0: Anchor::new(p.hood_x, 0.0, p.hood_z),
            la: Anchor::new(p.lamp_x, p.y_hood.0 * hw, p.lamp_z - 8.0),
            lb: Anchor::new(p.lamp_end, 0.885 * hw, p.lamp_end_z - 24.0),
            c0,
            c1: Anchor::new(c0.x + p.cowl_sweep, p.y_hood.1 * hw, p.cowl_z - p.cowl_drop),
            b0: Anchor::new(xf + p.door_f - 62.0 + p.door_lean, p.y_belt.0 * hw, p.belt_f),
            bn: Anchor::new(xr + p.belt_end_r, p.y_belt.1 * hw, p.belt_r),
            r0,
            r0s: Anchor::new(r0.x + p.header_sweep, p.y_roof.0 * hw, r0.z - p.crown + 14.0),
            r1,
            r1s: Anchor::new(r1.x + p.roof_end_sweep, p.y_roof.1 * hw, r1.z - p.crown + 4.0),
            pk,
            pks: Anchor::new(pk.x + 30.0, (p.y_roof.0 + p.y_roof.1) / 2.0 * hw + 8.0, h - p.crown),
            d0,
            d0s: Anchor::new(d0.x + p.glass_end_sweep, p.y_deck * hw, p.glass_end_z - p.glass_end_side_drop),
            d2: Anchor::new(l + p.lid_x, 0.0, p.lid_z),
            ta: Anchor::new(l + p.lamp_r_top.0, p.y_tail * hw, p.lamp_r_top.1),
            tb: Anchor::new(l + p.lamp_r_bottom.0, p.y_tail * hw, p.lamp_r_bottom.1),
            tt: Anchor::new(l + p.lamp_r_tip.0, 0.955 * hw, p.lamp_r_tip.1),
        }
    }

    /// The angle at which a wheel arch passes the height `z`, before or behind its axle.
    pub fn on_arch(&self, z: f64, behind: bool) -> f64 {
        let a = ((z - self.tire) / self.arch).clamp(-1.0, 1.0).asin();
        if behind { a } else { PI - a }
    }
}

/// The point at share `t` of the way, raised by `up` mm.
pub(crate) fn mid(a: Point, c: Point, t: f64, up: f64) -> Point {
    pt(a.x + t * (c.x - a.x), a.y + t * (c.y - a.y) + up)
}

/// A smooth curve from `a` to `c` that leaves the center line square.
pub(crate) fn bow(a: Point, c: Point, center_line: Axis) -> Edge {
    let square = match center_line {
        Axis::X => pt(0.0, 1.0),
        Axis::Y => pt(1.0, 0.0),
    };
    Edge::spline_along(&[a, c], Some(square), None)
}
