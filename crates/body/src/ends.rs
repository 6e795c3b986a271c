//! Front and rear, (y, z): drawn for the left half and mirrored.

use crate::anchors::{Anchors, bow};
use crate::body::{Shape, ShapeKind::*};
use crate::canvas::{Canvas, Pen};
use crate::panel;
use crate::parameters::{Parameters, Tail};
use crate::plan::Plan;
use crate::side::Side;
use crate::view::View;
use plane::curve::{Axis, CurveError, Edge, Point, chain, closed_loop, pt};

/// The outline of the left half as both ends share it.
#[derive(Clone, Debug)]
pub(crate) struct Section {
    /// From the underside to the belt.
    pub lower: Edge,
    /// From the belt to the corner of the roof.
    pub upper: Edge,
    /// From there to the center line.
    pub roof: Edge,
}

impl Section {
    pub fn draw(p: &Parameters, a: &Anchors) -> Section {
        let hw = a.half_width;
        let (yb, zb) = (p.y_belt.0 * hw - 4.0, p.belt_f);
        let (yr, zr) = (a.pks.y + 0.052 * hw, a.height - p.crown - 0.55 * p.rail);
        let top = a.height - 22.0;
        let share = |t: f64, out: f64| pt(yb + t * (yr - yb) + out, zb + t * (zr - zb));
        let knots = [
            pt(yb, zb + 6.0),
            share(0.36, 12.0),
            share(0.70, 11.0),
            share(0.90, 6.0),
            pt(yr, zr),
            pt(yr - 34.0, zr + 0.60 * (top - zr)),
            pt(yr - 110.0, a.height - 16.0),
            pt(0.5 * yr, a.height - 5.0),
            pt(0.0, a.height),
        ];
        let (upper, roof) = Edge::spline_along(&knots, None, Some(pt(-1.0, 0.0))).split(4);
        Section { lower: flank(p, a, [8.0, 60.0, 190.0], 0.965), upper, roof }
    }
}

/// The flank from the underside to the belt; `rise` are heights over the clearance.
fn flank(p: &Parameters, a: &Anchors, rise: [f64; 3], third: f64) -> Edge {
    let (hw, cl, zb) = (a.half_width, a.clearance, p.belt_f);
    let knots = [
        pt(0.80 * hw, cl + rise[0]),
        pt(0.925 * hw, cl + rise[1]),
        pt(third * hw, cl + rise[2]),
        pt(hw, cl + 0.62 * (zb - cl)),
        pt(0.978 * hw, zb - 0.12 * (zb - cl)),
        pt(p.y_belt.0 * hw - 4.0, zb + 6.0),
    ];
    Edge::spline_along(&knots, Some(pt(1.0, 0.1)), Some(pt(-0.62, 1.0)))
}

fn wheels(c: &mut Canvas, p: &Parameters, a: &Anchors, left: &'static str) {
    let w = p.tire_width;
    let y = 0.965 * a.half_width - w;
    let path = Edge::rounded_rectangle(pt(y, 0.0), w, 2.0 * a.tire * 0.62, 46.0);
    let mirror = c.mirrored(&path);
    for (panel, path) in [(left, path), (panel::mirror(left), mirror)] {
        c.shapes.push(Shape { view: c.view, panel, kind: Wheel, path });
    }
}

fn mirrors(c: &mut Canvas, p: &Parameters, a: &Anchors, plan: &Plan) -> Result<(), CurveError> {
    let z = p.belt_f + 18.0;
    let y = plan.outline.at(Axis::X, a.front_axle + p.mirror_f + 60.0)?.y;
    let h = if matches!(p.tail, Tail::Bed { .. } | Tail::Cargo) { 215.0 } else { 128.0 };
    let knots = [
        pt(y + 34.0, z + 2.0),
        pt(y + 120.0, z - 6.0),
        pt(y + 192.0, z + 8.0),
        pt(y + 206.0, z + 0.5 * h),
        pt(y + 186.0, z + 0.92 * h),
        pt(y + 110.0, z + h),
        pt(y + 36.0, z + 0.88 * h),
        pt(y + 18.0, z + 34.0),
    ];
    let foot = pt(y - 46.0, z + 6.0);
    c.pair(
        "left_mirror",
        Over,
        &[
            &Edge::line(&[foot, knots[0]]),
            &Edge::spline_along(&knots, Some(pt(1.0, -0.1)), Some(pt(-0.1, -1.0))),
            &Edge::line(&[knots[7], pt(y - 52.0, z + 30.0), foot]),
        ],
    )
}

/// The front view.
pub(crate) fn front(
    p: &Parameters,
    a: &Anchors,
    side: &Side,
    plan: &Plan,
    section: &Section,
) -> Result<Canvas, CurveError> {
    let mut canvas = Canvas::new(View::Front);
    let c = &mut canvas;
    let (hw, cl) = (a.half_width, a.clearance);
    wheels(c, p, a, "left_front_wheel");
    let (la, c1, r0s) = (a.la.end(), a.c1.end(), a.r0s.end());
    let low = pt(0.86 * hw, side.lines.nose.lamp_low.z);
    let hood_front = bow(a.h0.end(), la, Axis::Y);
    let (cowl, header) = (bow(a.c0.end(), c1, Axis::Y), bow(a.r0.end(), r0s, Axis::Y));
    let hood_side =
        Edge::spline(&[la, pt(la.x + 0.62 * (c1.x - la.x), la.y + 0.60 * (c1.y - la.y) + 10.0), c1]);
    // The lamp lies below the hood's edge: its top is part of that edge.
    let (lamp_top, hood_rest) = hood_side.cut(Axis::Y, la.y + 0.42 * (c1.y - la.y))?;
    let lamp_end = lamp_top.end();
    let (front_inner, front_lamp) = hood_front.cut(Axis::X, 0.50 * hw)?;
    let inner = front_inner.end();
    let level = Some(pt(1.0, 0.02));
    let lamp_bumper = Edge::spline_along(
        &[inner, pt(0.66 * hw, inner.y - 0.52 * p.lamp_drop), low],
        Some(pt(0.8, -0.6)),
        level,
    );
    let tip = pt(0.945 * hw, low.y + 0.62 * (lamp_end.y - low.y));
    let lamp_fender = Edge::spline_along(&[low, tip], level, None).then(&Edge::spline(&[tip, lamp_end]));
    let seam_z = side.lines.nose.bumper_seam.end().y;
    let seam = Edge::line(&[low, section.lower.at(Axis::Y, seam_z)?]);
    let bottom = Edge::line(&[pt(0.0, cl + 8.0), section.lower.start()]);
    let (below, above) = section.lower.cut_at(seam.end())?;

    c.whole(
        "front_bumper",
        Paint,
        &[&bottom, &below, &seam.reversed(), &lamp_bumper.reversed(), &front_inner.reversed()],
    )?;
    c.whole("hood", Paint, &[&hood_front, &hood_side, &cowl.reversed()])?;
    c.pair("left_headlamp", Lamp, &[&front_lamp, &lamp_top, &lamp_fender, &lamp_bumper])?;
    let belt = Edge::line(&[c1, section.lower.end()]);
    c.pair("left_front_fender", Paint, &[&lamp_fender, &hood_rest, &belt, &above, &seam])?;
    let post = Edge::spline(&[c1, pt(0.5 * (c1.x + r0s.x) + 14.0, 0.5 * (c1.y + r0s.y)), r0s]);
    c.whole("windshield", Glass, &[&cowl, &post, &header.reversed()])?;
    let joint = Edge::line(&[r0s, section.upper.end()]);
    c.pair("left_cantrail", Paint, &[&post, &joint, &section.upper, &belt])?;
    let roof = if p.soft { Fabric } else { Paint };
    c.whole("roof", roof, &[&header, &joint, &section.roof])?;

    let zl = cl + 70.0;
    let intake = 0.34 * (p.lamp_z - cl);
    c.mark(Pen::Deco, Edge::rounded_rectangle(pt(-0.56 * hw, zl), 1.12 * hw, intake, 46.0));
    for k in 1..=3 {
        let z = zl + f64::from(k) * intake / 4.0;
        c.mark(Pen::Thin, Edge::line(&[pt(-0.56 * hw + 14.0, z), pt(0.56 * hw - 14.0, z)]));
    }
    let plate = zl + intake + 0.42 * (p.hood_z - zl - intake) - 50.0;
    c.mark(Pen::Thin, Edge::rounded_rectangle(pt(-260.0, plate), 520.0, 112.0, 8.0));
    mirrors(c, p, a, plan)?;
    let half = bottom.then(&section.lower).then(&section.upper).then(&section.roof);
    c.outline = Some(closed_loop(&[&half, &c.mirrored(&half)])?);
    Ok(canvas)
}

/// The rear view.
pub(crate) fn rear(
    p: &Parameters,
    a: &Anchors,
    side: &Side,
    plan: &Plan,
    section: &Section,
) -> Result<Canvas, CurveError> {
    let mut canvas = Canvas::new(View::Rear);
    let c = &mut canvas;
    wheels(c, p, a, "left_rear_wheel");
    let (r1s, d0s) = (a.r1s.end(), a.d0s.end());
    let (head, foot) = (bow(a.r1.end(), r1s, Axis::Y), bow(a.d0.end(), d0s, Axis::Y));
    let post = Edge::spline(&[r1s, pt(0.5 * (r1s.x + d0s.x) + 10.0, 0.5 * (r1s.y + d0s.y)), d0s]);
    let joint = Edge::line(&[r1s, section.upper.end()]);
    let roof = if p.soft { Fabric } else { Paint };
    c.whole("roof", roof, &[&head, &joint, &section.roof])?;
    c.whole("rear_window", Glass, &[&head, &post, &foot.reversed()])?;
    match p.tail {
        Tail::Bed { rail_z, .. } => bed(c, p, a, section, rail_z, &post, &joint)?,
        _ => tail(c, p, a, side, section, &Back { foot, post, joint })?,
    }
    mirrors(c, p, a, plan)?;
    Ok(canvas)
}

/// The edges round the rear window.
struct Back {
    foot: Edge,
    post: Edge,
    joint: Edge,
}

/// A bed with its gate and step bumper, and the cab behind it.
fn bed(
    c: &mut Canvas,
    p: &Parameters,
    a: &Anchors,
    section: &Section,
    rail_z: f64,
    post: &Edge,
    joint: &Edge,
) -> Result<(), CurveError> {
    let hw = a.half_width;
    let (z0, z1) = Side::step_bumper_z(a);
    let (y, low) = (p.y_tail * hw, p.lid_z);
    let (corner, foot) = (pt(y, rail_z - 4.0), pt(y, low));
    let level = Some(pt(1.0, 0.0));
    let seat = Edge::spline_along(&[pt(0.0, rail_z), corner], level, None);
    c.whole("tailgate", Paint, &[&seat, &Edge::line(&[corner, foot, pt(0.0, low)])])?;
    let (tb, ta) = (a.tb.end(), a.ta.end());
    let lamp = Edge::rounded_rectangle(pt(y + 14.0, tb.y), 0.975 * hw - y - 26.0, ta.y - tb.y, 12.0);
    let shoulder = pt(0.945 * hw, rail_z - 10.0);
    let flank_end = pt(0.965 * hw, z1 + 8.0);
    let knots = [shoulder, pt(0.975 * hw, rail_z - 60.0), pt(0.99 * hw, low + 100.0), flank_end];
    let flank = Edge::line(&[corner, shoulder]).then(&Edge::spline_along(&knots, Some(pt(1.0, -0.2)), None));
    let inner_foot = pt(y, z1 + 8.0);
    c.pair(
        "left_bed_side",
        Paint,
        &[
            &Edge::line(&[corner, foot]),
            &flank,
            &Edge::line(&[flank_end, inner_foot]),
            &Edge::line(&[inner_foot, foot]),
        ],
    )?;
    c.pair("left_taillamp", Over, &[&lamp])?;
    let knots = [pt(0.86 * hw, z0), pt(0.965 * hw, z0 + 40.0), pt(0.965 * hw, z1)];
    c.whole(
        "rear_bumper",
        Trim,
        &[
            &Edge::line(&[pt(0.0, z0), knots[0]]),
            &Edge::spline_along(&knots, level, None),
            &Edge::line(&[knots[2], pt(0.0, z1)]),
        ],
    )?;
    c.mark(Pen::Thin, Edge::line(&[pt(-y, z1 + 8.0), inner_foot]));
    let (_, cab) = section.upper.cut(Axis::Y, rail_z + 2.0)?;
    let d0s = a.d0s.end();
    let inside = pt(d0s.x, rail_z + 2.0);
    c.pair(
        "left_quarter_panel",
        Paint,
        &[post, joint, &cab, &Edge::line(&[cab.start(), inside]), &Edge::line(&[inside, d0s])],
    )?;
    c.mark(Pen::Thin, Edge::rounded_rectangle(pt(-130.0, rail_z - 150.0), 260.0, 50.0, 20.0));
    let over = chain(&[&cab, &section.roof])?;
    c.mark(Pen::Outline, over.then(&c.mirrored(&over.reversed())));
    c.mark(Pen::Outline, flank.clone());
    c.mark(Pen::Outline, c.mirrored(&flank));
    Ok(())
}

/// Everything below and beside the rear window but for a bed.
fn tail(
    c: &mut Canvas,
    p: &Parameters,
    a: &Anchors,
    side: &Side,
    section: &Section,
    back: &Back,
) -> Result<(), CurveError> {
    let (hw, cl) = (a.half_width, a.clearance);
    let cargo = p.tail == Tail::Cargo;
    let bottom = Edge::line(&[pt(0.0, cl + 40.0), pt(0.80 * hw, cl + 44.0)]);
    let lower = flank(p, a, [44.0, 88.0, 215.0], 0.968);
    let (ta, tb) = (a.ta.end(), a.tb.end());
    let low = pt(tb.x - if cargo { 0.0 } else { 0.02 * hw }, tb.y);
    let lamp_lid = Edge::spline(&[ta, low]);
    let tip_z = if a.tt.z < p.belt_f { a.tt.z.min(p.belt_f - 60.0) } else { p.belt_f - 20.0 };
    let flank_y = lower.at(Axis::Y, tip_z)?.x;
    let lamp = if cargo {
        Edge::line(&[ta, pt(flank_y - 20.0, ta.y), pt(flank_y - 16.0, low.y), low])
    } else {
        let knots =
            [ta, pt(flank_y - 34.0, 0.55 * ta.y + 0.45 * tb.y + 10.0), pt(flank_y - 30.0, tb.y + 42.0), low];
        Edge::spline_along(&knots, Some(pt(1.0, 0.05)), Some(pt(-1.0, -0.12)))
    };
    let lid_foot = a.d2.end();
    let lid_low = if cargo {
        Edge::line(&[lid_foot, pt(low.x, lid_foot.y)])
    } else {
        Edge::spline_along(&[lid_foot, low], Some(pt(1.0, 0.0)), None)
    };
    // Below a van's lamp its door runs on down to the bumper.
    let door_side = if cargo { Edge::line(&[low, lid_low.end()]) } else { Edge::default() };
    let seam_z = side.lines.underside.rear_arch[1].end().y + 40.0;
    let seam = Edge::line(&[lid_low.end(), lower.at(Axis::Y, seam_z)?]);
    let (below, above) = lower.cut_at(seam.end())?;
    let d0s: Point = a.d0s.end();
    let leaving = (p.tail == Tail::Trunk).then_some(pt(0.9, -0.4));
    let deck_side = Edge::spline_along(&[d0s, ta], leaving, None);
    let round = [&back.foot, &deck_side, &lamp_lid, &door_side, &lid_low.reversed()];
    match p.tail {
        Tail::Cargo => {
            let middle = Edge::line(&[lid_foot, a.d0.end()]);
            let [foot, deck, lamp, down, low] = round;
            c.pair("left_cargo_door", Paint, &[foot, deck, lamp, down, low, &middle])?;
            c.mark(Pen::Shut, Edge::line(&[a.d0.end(), a.r1.end()]));
        }
        Tail::Trunk => c.whole("trunk_lid", Paint, &round)?,
        Tail::Gate | Tail::Bed { .. } => c.whole("tailgate", Paint, &round)?,
    }
    c.pair("left_taillamp", Lamp, &[&lamp_lid, &lamp])?;
    c.whole("rear_bumper", Paint, &[&bottom, &below, &seam.reversed(), &lid_low.reversed()])?;
    if p.soft {
        let joint = Edge::line(&[d0s, lower.end()]);
        c.pair("left_soft_top_side", Fabric, &[&back.post, &back.joint, &section.upper, &joint])?;
        c.pair("left_quarter_panel", Paint, &[&deck_side, &lamp, &seam, &above, &joint])?;
    } else {
        c.pair(
            "left_quarter_panel",
            Paint,
            &[&back.post, &deck_side, &lamp, &door_side, &seam, &above, &section.upper, &back.joint],
        )?;
    }
    let plate = if cargo {
        Edge::rounded_rectangle(pt(60.0, lid_foot.y + 190.0), 520.0, 112.0, 8.0)
    } else {
        let upper = match (p.tail, p.deck) {
            (Tail::Trunk, [(_, z), ..]) => *z,
            _ => a.d0.z,
        };
        Edge::rounded_rectangle(pt(-260.0, 0.5 * (lid_foot.y + upper) - 56.0), 520.0, 112.0, 8.0)
    };
    c.mark(Pen::Thin, plate);
    let half = chain(&[&bottom, &lower, &section.upper, &section.roof])?;
    c.outline = Some(closed_loop(&[&half, &c.mirrored(&half)])?);
    c.mark(Pen::Thin, Edge::line(&[pt(-0.62 * hw, cl + 120.0), pt(0.62 * hw, cl + 120.0)]));
    Ok(())
}
