//! The side view, (x, z): its panels. The right side is the same drawing seen from the other side.

use crate::anchors::Anchors;
use crate::body::{Shape, ShapeKind::*};
use crate::canvas::{Canvas, Pen};
use crate::parameters::{Parameters, Tail};
use crate::side_lines::{SideLines, bed_corner, bed_rail_end, bed_rail_start};
use crate::view::View;
use plane::curve::{Axis, CurveError, Edge, Point, pt};
use std::f64::consts::{PI, TAU};

/// Half the width of the B-pillar's cover.
const PILLAR: f64 = 44.0;

/// The drawn side, with the curves that the other views and the areas need.
#[derive(Clone, Debug)]
pub(crate) struct Side {
    pub canvas: Canvas,
    pub lines: SideLines,
}

impl Side {
    pub fn draw(p: &Parameters, a: &Anchors) -> Result<Side, CurveError> {
        let lines = SideLines::draw(p, a)?;
        let mut drawer = Drawer { p, a, lines: &lines, canvas: Canvas::new(View::Left) };
        drawer.nose_and_roof()?;
        drawer.cabin()?;
        match p.tail {
            Tail::Bed { gap_r, rail_z } => drawer.bed(gap_r, rail_z)?,
            _ => drawer.tail()?,
        }
        drawer.rocker_and_mirror()?;
        drawer.handles()?;
        let wheels = [("left_front_wheel", a.front_axle), ("left_rear_wheel", a.rear_axle)];
        wheels.into_iter().for_each(|(panel, x)| drawer.wheel(panel, x));
        Ok(Side { canvas: drawer.canvas, lines })
    }

    /// Lowest and highest z of a pickup's rear bumper.
    pub fn step_bumper_z(a: &Anchors) -> (f64, f64) {
        let z = a.clearance + 190.0;
        (z - 44.0, z + 116.0)
    }
}

struct Drawer<'a> {
    p: &'a Parameters,
    a: &'a Anchors,
    lines: &'a SideLines,
    canvas: Canvas,
}

impl Drawer<'_> {
    fn nose_and_roof(&mut self) -> Result<(), CurveError> {
        let (a, c) = (self.a, &mut self.canvas);
        let SideLines { profile, side_line, nose, underside, doors, .. } = self.lines;
        let roof_front = Edge::line(&[a.r0.side(), a.r0s.side()]);
        let roof_rear = Edge::line(&[a.r1.side(), a.r1s.side()]);
        let cowl = Edge::line(&[a.c0.side(), a.c1.side()]);
        let cowl_side = Edge::spline(&[a.c1.side(), a.b0.side()]);
        c.add(
            "front_bumper",
            Paint,
            &[
                &profile.front,
                &nose.hood_front_inner,
                &nose.lamp_bumper,
                &nose.bumper_seam,
                &underside.front_arch[0],
                &underside.front,
            ],
        )?;
        c.add("hood", Paint, &[&nose.hood_front, &nose.lamp_top, &nose.hood_side, &cowl, &profile.hood])?;
        c.add(
            "left_headlamp",
            Lamp,
            &[&nose.hood_front_lamp, &nose.lamp_top, &nose.lamp_fender, &nose.lamp_bumper],
        )?;
        let under_fender = underside.rocker_top.between(doors.front.end(), underside.front_arch[1].end())?;
        c.add(
            "left_front_fender",
            Paint,
            &[
                &nose.lamp_fender,
                &nose.hood_side,
                &cowl_side,
                &doors.front,
                &under_fender,
                &underside.front_arch[1],
                &nose.bumper_seam,
            ],
        )?;
        c.add("windshield", Glass, &[&profile.windshield, &roof_front, &side_line.windshield, &cowl])?;
        let roof = if self.p.soft { Fabric } else { Paint };
        c.add("roof", roof, &[&profile.roof, &roof_rear, &side_line.roof, &roof_front])?;

        if self.p.soft {
            let (before, behind) = doors.window_top.cut(Axis::X, a.r0s.x + 40.0)?;
            let joint = Edge::line(&[a.r0s.side(), before.end()]);
            c.add("left_cantrail", Paint, &[&cowl_side, &side_line.windshield, &joint, &before])?;
            let foot = Edge::spline(&[a.bn.side(), a.d0s.side()]);
            c.add("left_soft_top_side", Fabric, &[&joint, &behind, &foot, &side_line.back, &side_line.roof])?;
        } else {
            let (rail, _) = self.rail_end()?;
            let end = Edge::line(&[a.r1s.side(), rail.end()]);
            self.canvas.add(
                "left_cantrail",
                Paint,
                &[&cowl_side, &side_line.windshield, &side_line.roof, &end, &rail],
            )?;
        }
        Ok(())
    }

    /// The upper edge of the windows before and behind the joint of cantrail and quarter panel.
    fn rail_end(&self) -> Result<(Edge, Edge), CurveError> {
        self.lines.doors.window_top.cut(Axis::X, self.a.rear_axle + self.p.cantrail_cut_r)
    }

    /// Front and rear edge of a pillar, from the belt to the upper edge of the windows.
    fn pillar(&self, x: f64, half: f64, lean: f64) -> Result<(Edge, Edge), CurveError> {
        let d = &self.lines.doors;
        let edge = |x: f64| Ok(Edge::line(&[d.belt.at(Axis::X, x)?, d.window_top.at(Axis::X, x - lean)?]));
        Ok((edge(x - half)?, edge(x + half)?))
    }

    /// The front window before a pillar, and what it rests on.
    fn front_glass(&mut self, pillar: &Edge) -> Result<(), CurveError> {
        let d = &self.lines.doors;
        let (low, _) = d.belt.cut_at(pillar.start())?;
        let (high, _) = d.window_top.cut_at(pillar.end())?;
        self.canvas.add("left_front_glass", Glass, &[&low, pillar, &high])
    }

    fn cabin(&mut self) -> Result<(), CurveError> {
        if self.p.tail == Tail::Cargo {
            return self.cargo_side();
        }
        let p = self.p;
        let SideLines { underside, doors, .. } = self.lines;
        let (belt, top, rocker) = (&doors.belt, &doors.window_top, &underside.rocker_top);
        let bn = self.a.bn.side();
        let (b0, b1) = self.pillar(doors.pillar_x, PILLAR, 26.0)?;
        self.front_glass(&b0)?;
        let on_top = |from: &Edge, to: &Edge| top.between(from.end(), to.end());
        let on_belt = |from: &Edge, to: &Edge| belt.between(from.start(), to.start());
        self.canvas.add("left_b_pillar", Trim, &[&b0, &on_top(&b0, &b1)?, &b1, &on_belt(&b0, &b1)?])?;
        let to_end = |from: &Edge| -> Result<[Edge; 2], CurveError> {
            Ok([belt.between(from.start(), bn)?, top.between(from.end(), bn)?])
        };

        if p.doors == 4 {
            let shut =
                Edge::line(&[top.at(Axis::X, doors.pillar_x - 26.0)?, belt.at(Axis::X, doors.pillar_x)?]);
            self.canvas.mark(Pen::Shut, shut);
            if p.quarter_glass {
                let (q0, q1) = self.pillar(doors.rear_x, 22.0, 30.0)?;
                let c = &mut self.canvas;
                c.add("left_rear_glass", Glass, &[&on_belt(&b1, &q0)?, &q0, &on_top(&b1, &q0)?, &b1])?;
                c.add("left_c_pillar", Trim, &[&q0, &on_top(&q0, &q1)?, &q1, &on_belt(&q0, &q1)?])?;
                let [low, high] = to_end(&q1)?;
                c.add("left_quarter_glass", Glass, &[&q1, &high, &low])?;
            } else {
                let [low, high] = to_end(&b1)?;
                self.canvas.add("left_rear_glass", Glass, &[&low, &high, &b1])?;
            }
            let c = &mut self.canvas;
            let (belt_front, _) = belt.cut_at(doors.pillar.start())?;
            let foot = rocker.between(doors.pillar.end(), doors.front.end())?;
            c.add("left_front_door", Paint, &[&belt_front, &doors.pillar, &foot, &doors.front])?;
            let belt_rear = belt.between(doors.pillar.start(), doors.rear.start())?;
            let foot = rocker.between(doors.rear.end(), doors.pillar.end())?;
            c.add("left_rear_door", Paint, &[&belt_rear, &doors.rear, &foot, &doors.pillar])
        } else {
            let c = &mut self.canvas;
            let [low, high] = to_end(&b1)?;
            c.add("left_quarter_glass", Glass, &[&low, &high, &b1])?;
            let (belt_front, _) = belt.cut_at(doors.rear.start())?;
            let foot = rocker.between(doors.rear.end(), doors.front.end())?;
            c.add("left_front_door", Paint, &[&belt_front, &doors.rear, &foot, &doors.front])
        }
    }

    /// A van: one window, a sliding door and a panel behind it, up to the cantrail.
    fn cargo_side(&mut self) -> Result<(), CurveError> {
        let a = self.a;
        let SideLines { side_line, underside, doors, tail, .. } = self.lines;
        let (belt, top, rocker) = (&doors.belt, &doors.window_top, &underside.rocker_top);
        let (e0, _) = self.pillar(doors.pillar_x - 30.0, 34.0, -4.0)?;
        self.front_glass(&e0)?;
        let joint_top = top.at(Axis::X, doors.pillar_x)?;
        let joint = Edge::line(&[joint_top, belt.at(Axis::X, doors.pillar_x)?]).then(&doors.pillar);
        let c = &mut self.canvas;
        let (belt_front, _) = belt.cut_at(e0.start())?;
        let over = top.between(e0.end(), joint_top)?;
        let foot = rocker.between(doors.pillar.end(), doors.front.end())?;
        c.add("left_front_door", Paint, &[&belt_front, &e0, &over, &joint, &foot, &doors.front])?;
        let over = top.between(joint_top, doors.rear.start())?;
        let foot = rocker.between(doors.rear.end(), doors.pillar.end())?;
        c.add("left_rear_door", Paint, &[&over, &doors.rear, &foot, &joint])?;
        let (rail, _) = self.rail_end()?;
        let over = top.between(doors.rear.start(), rail.end())?;
        let end = Edge::line(&[rail.end(), a.r1s.side()]);
        let foot = rocker.between(underside.rear_arch[1].start(), doors.rear.end())?;
        let c = &mut self.canvas;
        c.add(
            "left_quarter_panel",
            Paint,
            &[
                &over,
                &end,
                &side_line.back,
                &tail.deck_side,
                &tail.lamp,
                &tail.bumper_seam,
                &underside.rear_arch[1],
                &foot,
                &doors.rear,
            ],
        )?;
        let rail = Edge::line(&[pt(doors.pillar_x + 40.0, 1010.0), pt(a.rear_axle + 700.0, 1010.0)]);
        c.mark(Pen::Thin, rail);
        Ok(())
    }

    /// Quarter panel (but for a van), rear glass, lid, lamp and bumper, and the outline of the whole.
    fn tail(&mut self) -> Result<(), CurveError> {
        let (p, a) = (self.p, self.a);
        let SideLines { profile, side_line, underside, doors, tail, .. } = self.lines;
        if p.tail != Tail::Cargo {
            let belt = doors.belt.between(doors.rear.start(), a.bn.side())?;
            let foot = underside.rocker_top.between(doors.rear.end(), underside.rear_arch[1].start())?;
            let over = if p.soft {
                Edge::spline(&[a.bn.side(), a.d0s.side()])
            } else {
                let (rail, _) = self.rail_end()?;
                doors
                    .window_top
                    .between(a.bn.side(), rail.end())?
                    .then(&Edge::line(&[rail.end(), a.r1s.side()]))
                    .then(&side_line.back)
            };
            self.canvas.add(
                "left_quarter_panel",
                Paint,
                &[
                    &belt,
                    &over,
                    &tail.deck_side,
                    &tail.lamp,
                    &tail.bumper_seam,
                    &underside.rear_arch[1],
                    &foot,
                    &doors.rear,
                ],
            )?;
        }
        self.rear_window()?;
        let c = &mut self.canvas;
        let lid = match p.tail {
            Tail::Cargo => "left_cargo_door",
            Tail::Gate => "tailgate",
            Tail::Trunk | Tail::Bed { .. } => "trunk_lid",
        };
        let glass_foot = Edge::line(&[a.d0.side(), a.d0s.side()]);
        c.add(lid, Paint, &[&profile.deck, &tail.lid_low, &tail.lamp_lid, &tail.deck_side, &glass_foot])?;
        c.add("left_taillamp", Lamp, &[&tail.lamp, &tail.lamp_lid])?;
        c.add(
            "rear_bumper",
            Paint,
            &[&profile.tail, &underside.rear, &underside.rear_arch[2], &tail.bumper_seam, &tail.lid_low],
        )?;
        let over = [
            &profile.front,
            &profile.hood,
            &profile.windshield,
            &profile.roof,
            &profile.back,
            &profile.deck,
            &profile.tail,
            &underside.rear,
        ];
        let [f1, f2, f3] = &underside.front_arch;
        let [r1, r2, r3] = &underside.rear_arch;
        let under = [r3, r2, r1, &underside.rocker, f3, f2, f1, &underside.front];
        let round: Vec<&Edge> = over.into_iter().chain(under).collect();
        c.outline = Some(plane::curve::closed_loop(&round)?);
        Ok(())
    }

    fn rear_window(&mut self) -> Result<(), CurveError> {
        let a = self.a;
        let foot = Edge::line(&[a.d0.side(), a.d0s.side()]);
        let head = Edge::line(&[a.r1.side(), a.r1s.side()]);
        let (center, side) = (&self.lines.profile.back, &self.lines.side_line.back);
        self.canvas.add("rear_window", Glass, &[center, &foot, side, &head])
    }

    /// A pickup behind its doors: the corner of the cab, the bed, its gate and step bumper.
    fn bed(&mut self, gap_r: f64, rail_z: f64) -> Result<(), CurveError> {
        let (p, a) = (self.p, self.a);
        let SideLines { profile, side_line, underside, doors, tail, .. } = self.lines;
        let (rocker, bn, tb) = (&underside.rocker_top, a.bn.side(), a.tb.side());
        let (rail, _) = self.rail_end()?;
        let foot = rocker.at(Axis::X, a.d0s.x + 6.0)?;
        let c = &mut self.canvas;
        c.add(
            "left_quarter_panel",
            Paint,
            &[
                &doors.window_top.between(bn, rail.end())?,
                &Edge::line(&[rail.end(), a.r1s.side()]),
                &side_line.back,
                &Edge::line(&[a.d0s.side(), foot]),
                &rocker.between(foot, doors.rear.end())?,
                &doors.rear,
                &doors.belt.between(doors.rear.start(), bn)?,
            ],
        )?;

        let (start, end) = (bed_rail_start(a, gap_r, rail_z), bed_rail_end(a, rail_z));
        let foot = rocker.at(Axis::X, start.x + 4.0)?;
        let low_z = a.clearance + 190.0;
        let [_, arch, _] = &underside.rear_arch;
        let arch_from = a.on_arch(a.clearance + p.sill + 14.0, false);
        let wheel = |to: f64| Edge::arc(pt(a.rear_axle, a.tire), a.arch, arch_from, to);
        let arch_edge = wheel(a.on_arch(low_z, true));
        let gate_edge = Edge::line(&[end, a.ta.side()]);
        let corner = pt(tb.x, low_z);
        c.add(
            "left_bed_side",
            Paint,
            &[
                &Edge::line(&[start, foot]),
                &Edge::spline(&[start, end]),
                &gate_edge,
                &tail.lamp,
                &Edge::line(&[tb, pt(tb.x, p.lid_z), corner]),
                &Edge::line(&[corner, arch_edge.end()]),
                &arch_edge.reversed(),
                &rocker.between(arch.start(), foot)?,
            ],
        )?;
        c.add("left_taillamp", Lamp, &[&tail.lamp, &tail.lamp_lid])?;
        let gate_back = bed_corner(a, rail_z);
        let gate_foot = Edge::line(&[tb, pt(tb.x, p.lid_z), a.d2.side()]);
        c.add("tailgate", Paint, &[&gate_edge, &tail.lamp_lid, &gate_foot, &gate_back.reversed()])?;

        let (z0, z1) = Side::step_bumper_z(a);
        let l = a.length;
        let knots =
            [pt(l - 20.0, z1), pt(l, low_z + 90.0), pt(l - 6.0, low_z + 6.0), pt(l - 60.0, low_z - 40.0)];
        let back = Edge::spline_along(&knots, Some(pt(1.0, 0.0)), None);
        let rest = Edge::line(&[knots[3], pt(tb.x, z0), pt(tb.x, z1), knots[0]]);
        c.add("rear_bumper", Trim, &[&back, &rest])?;
        self.rear_window()?;

        let c = &mut self.canvas;
        let cab = [&profile.front, &profile.hood, &profile.windshield, &profile.roof, &profile.back];
        c.mark(Pen::Outline, cab.iter().fold(Edge::default(), |all, e| all.then(e)));
        c.mark(Pen::Outline, Edge::spline(&[start, end]).then(&gate_back));
        c.mark(Pen::Outline, underside.front.clone());
        let [f1, f2, f3] = &underside.front_arch;
        c.mark(Pen::Outline, f1.then(f2).then(f3));
        c.mark(Pen::Outline, underside.rear_arch[0].then(&arch_edge));
        c.mark(Pen::Outline, underside.rocker.clone());
        Ok(())
    }

    fn rocker_and_mirror(&mut self) -> Result<(), CurveError> {
        let (p, a) = (self.p, self.a);
        let SideLines { underside, doors, .. } = self.lines;
        let [_, _, front] = &underside.front_arch;
        let [rear, _, _] = &underside.rear_arch;
        let c = &mut self.canvas;
        c.add("left_rocker", Paint, &[&underside.rocker_top, &rear.reversed(), &underside.rocker, front])?;
        let x = a.front_axle + p.mirror_f - 10.0;
        let z = doors.belt.at(Axis::X, (a.b0.x + 1.0).max(a.front_axle + p.mirror_f + 60.0))?.y + 14.0;
        let (w, h) =
            if matches!(p.tail, Tail::Bed { .. } | Tail::Cargo) { (190.0, 210.0) } else { (205.0, 118.0) };
        let knots = [
            pt(x, z + 0.30 * h),
            pt(x + 0.30 * w, z + h),
            pt(x + w - 8.0, z + 0.86 * h),
            pt(x + w, z + 0.25 * h),
            pt(x + 0.55 * w, z),
            pt(x, z + 0.30 * h),
        ];
        let up = Some(pt(0.0, 1.0));
        let path = Edge::spline_along(&knots, up, up);
        c.add("left_mirror", Over, &[&path])
    }

    fn handles(&mut self) -> Result<(), CurveError> {
        let SideLines { doors, .. } = self.lines;
        let xs = match (self.p.tail, self.p.doors) {
            (Tail::Cargo, _) => vec![doors.pillar_x - 260.0, doors.pillar_x + 70.0],
            (_, 4) => {
                vec![doors.pillar_x - 270.0, (doors.rear_x - 235.0).min(doors.rear.start().x - 235.0)]
            }
            _ => vec![doors.rear.start().x - 270.0],
        };
        let below = if self.p.tail == Tail::Cargo { 130.0 } else { 112.0 };
        for x in xs {
            let z = doors.belt.at(Axis::X, x)?.y - below;
            self.canvas.mark(Pen::Thin, Edge::rounded_rectangle(pt(x, z), 178.0, 26.0, 13.0));
        }
        Ok(())
    }

    fn wheel(&mut self, panel: &'static str, x: f64) {
        let (r, rim) = (self.a.tire, self.p.rim);
        let center = pt(x, r);
        let full = |radius: f64| Edge::arc(center, radius, 0.0, TAU);
        let at = |radius: f64, angle: f64| -> Point {
            pt(center.x + radius * angle.cos(), center.y + radius * angle.sin())
        };
        let c = &mut self.canvas;
        c.shapes.push(Shape { view: View::Left, panel, kind: Wheel, path: full(r) });
        c.mark(Pen::Ring, full(rim));
        for radius in [rim - 22.0, 34.0, 62.0] {
            c.mark(Pen::Thin, full(radius));
        }
        for i in 0..10 {
            let a = PI / 2.0 + f64::from(i) * PI / 5.0 + PI / 10.0;
            for o in [-0.035, 0.035] {
                c.mark(Pen::Thin, Edge::line(&[at(62.0, a + 3.4 * o), at(rim - 22.0, a + o)]));
            }
        }
    }
}
