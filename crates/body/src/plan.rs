//! The plan, (x, y): drawn for the left half and mirrored.

use crate::anchors::{Anchors, bow};
use crate::body::ShapeKind::{self, *};
use crate::canvas::{Canvas, Pen};
use crate::parameters::{Parameters, Tail};
use crate::side::Side;
use crate::view::View;
use plane::curve::{Axis, CurveError, Edge, Point, closed_loop, pt};

/// The drawn plan, with the outline of its left half from nose to tail.
#[derive(Clone, Debug)]
pub(crate) struct Plan {
    pub canvas: Canvas,
    pub outline: Edge,
}

impl Plan {
    pub fn draw(p: &Parameters, a: &Anchors, side: &Side) -> Result<Plan, CurveError> {
        let lines = Lines::draw(p, a, side)?;
        let mut drawer = Drawer { p, a, side, l: &lines, canvas: Canvas::new(View::Top) };
        drawer.nose_and_roof()?;
        drawer.cantrail()?;
        let door_end = match p.tail {
            Tail::Cargo => drawer.cargo_side()?,
            _ => drawer.cabin()?,
        };
        match p.tail {
            Tail::Bed { gap_r, .. } => drawer.bed(gap_r, &door_end)?,
            _ => drawer.tail(&door_end)?,
        }
        drawer.mirrors()?;
        let mut canvas = drawer.canvas;
        canvas.outline = Some(closed_loop(&[&lines.out, &canvas.mirrored(&lines.out)])?);
        canvas.mark(Pen::Axis, Edge::line(&[pt(-140.0, 0.0), pt(a.length + 140.0, 0.0)]));
        Ok(Plan { canvas, outline: lines.out })
    }
}

/// The curves of the left half.
struct Lines {
    out: Edge,
    hood_front: Edge,
    hood_front_inner: Edge,
    hood_front_lamp: Edge,
    /// Side of the hood, over the lamp and behind it.
    hood_side: Edge,
    lamp_bumper: Edge,
    lamp_fender: Edge,
    bumper_seam: Edge,
    cowl: Edge,
    header: Edge,
    roof_end: Edge,
    glass_foot: Edge,
    /// The line at the side of windshield, roof and rear glass.
    windshield: Edge,
    roof: Edge,
    back: Edge,
    window_top: Edge,
    belt: Edge,
    /// Rear end of the belt, kept inside the outline.
    bn: Point,
    /// Front edge of the front door.
    door: Edge,
    cowl_side: Edge,
}

/// A corner as a superellipse, from the tip on the center line to the flank.
fn corner(depth: f64, half: f64, exponent: f64) -> Vec<Point> {
    [0.0, 18.0, 36.0, 52.0, 66.0, 77.0, 84.0_f64]
        .map(|q| {
            let (sin, cos) = (q.to_radians().sin(), q.to_radians().cos());
            pt(depth * (1.0 - cos.powf(2.0 / exponent)), half * sin.powf(2.0 / exponent))
        })
        .into()
}

/// The outline of the left half, from nose to tail.
fn outline(p: &Parameters, a: &Anchors) -> Edge {
    let (hw, xf, xr, l) = (a.half_width, a.front_axle, a.rear_axle, a.length);
    let (n, r) = (p.nose_square, p.tail_square);
    let mut knots = corner(500.0 - 300.0 * n, 0.955 * hw, 2.55 + 0.5 * n);
    let tail: Vec<Point> = corner(430.0 - 300.0 * r, (0.955 + 0.02 * r) * hw, 2.7 + 0.5 * r)
        .into_iter()
        .map(|q| pt(l - q.x, q.y))
        .collect();
    let xm = xf + 0.5 * p.wheelbase;
    let x2 = tail[tail.len() - 1].x;
    knots.extend([
        pt(xf - 40.0, 0.972 * hw),
        pt(0.5 * (xf + xm), 0.992 * hw),
        pt(xm, hw),
        pt(0.5 * (xm + xr), 0.998 * hw),
        pt(xr + 40.0, 0.988 * hw),
    ]);
    if x2 - xr > 330.0 {
        knots.push(pt(x2 - 210.0, (0.966 + 0.014 * r) * hw));
    }
    knots.extend(tail.into_iter().rev());
    Edge::spline_along(&knots, Some(pt(0.0, 1.0)), Some(pt(0.0, -1.0)))
}

/// The line at the side of windshield, roof and rear glass, in three parts.
fn cabin_line(p: &Parameters, a: &Anchors) -> [Edge; 3] {
    let (c1, r0s, r1s, d0s) = (a.c1.plan(), a.r0s.plan(), a.r1s.plan(), a.d0s.plan());
    let along = |k: f64| pt(r0s.x + k * (r1s.x - r0s.x), r0s.y + k * (r1s.y - r0s.y) + 34.0 * k * (1.0 - k));
    let middle = pt(0.5 * (c1.x + r0s.x), 0.5 * (c1.y + r0s.y) - 0.09 * (c1.y - r0s.y));
    let mut knots = vec![c1, middle, r0s];
    let shares: &[f64] =
        if r1s.x - r0s.x > 1500.0 { &[0.12, 0.3, 0.5, 0.7, 0.88] } else { &[0.25, 0.5, 0.75] };
    knots.extend(shares.iter().map(|k| along(*k)));
    knots.push(r1s);
    if !p.roof_break {
        knots.push(d0s);
    }
    let all = Edge::spline(&knots);
    let (over, back) = all.split(all.segments().len() - usize::from(!p.roof_break));
    let back = if back.is_empty() { Edge::spline(&[r1s, d0s]) } else { back };
    let (windshield, roof) = over.split(2);
    [windshield, roof, back]
}

impl Lines {
    fn draw(p: &Parameters, a: &Anchors, side: &Side) -> Result<Lines, CurveError> {
        let hw = a.half_width;
        let out = outline(p, a);
        let on_out = |x: f64| out.at(Axis::X, x);
        let (la, c1, r0s) = (a.la.plan(), a.c1.plan(), a.r0s.plan());
        let (b0, bn) = (a.b0.plan(), a.bn.plan());
        let b0 = pt(b0.x, b0.y.min(on_out(b0.x)?.y - 36.0));
        let bn = pt(bn.x, bn.y.min(on_out(bn.x)?.y - 30.0));

        let hood_front = bow(a.h0.plan(), la, Axis::X);
        let lamp_end = pt(a.lb.x, la.y + 0.42 * (c1.y - la.y));
        let hood_side = Edge::spline(&[la, lamp_end, c1]);
        let low_x = side.lines.nose.lamp_low.x;
        let low = pt(low_x, on_out(low_x)?.y - 34.0);
        let (hood_front_inner, hood_front_lamp) = hood_front.cut(Axis::Y, 0.50 * hw)?;
        let (lamp_bumper, lamp_fender) = Edge::spline_along(
            &[hood_front_inner.end(), pt(la.x - 14.0, 0.5 * (la.y + on_out(la.x - 14.0)?.y)), low, lamp_end],
            None,
            Some(pt(0.95, -0.30)),
        )
        .split(2);
        let bumper_seam = Edge::line(&[low, on_out(low.x + 46.0)?]);

        let [windshield, roof, back] = cabin_line(p, a);
        let cargo = p.tail == Tail::Cargo;
        let gap = 0.052 * hw;
        let x0 = ((c1.x + r0s.x) / 2.0 + 60.0).max(b0.x + 150.0);
        let x1 = if cargo { bn.x } else { bn.x - 150.0 };
        let mut cabin = windshield.then(&roof);
        if !p.has_bed() {
            cabin = cabin.then(&back);
        }
        let mut knots = vec![b0];
        for i in 0..6 {
            let x = x0 + (x1 - x0) * f64::from(i) / 5.0;
            let away = gap * if i == 0 { 1.25 } else { 1.0 };
            knots.push(pt(x, cabin.at(Axis::X, x)?.y + away));
        }
        if !cargo {
            knots.push(bn);
        }
        let belt = Edge::spline(&[b0, pt((b0.x + bn.x) / 2.0, (b0.y + bn.y) / 2.0 + 22.0), bn]);
        Ok(Lines {
            hood_front,
            hood_front_inner,
            hood_front_lamp,
            hood_side,
            lamp_bumper,
            lamp_fender,
            bumper_seam,
            cowl: bow(a.c0.plan(), c1, Axis::X),
            header: bow(a.r0.plan(), r0s, Axis::X),
            roof_end: bow(a.r1.plan(), a.r1s.plan(), Axis::X),
            glass_foot: bow(a.d0.plan(), a.d0s.plan(), Axis::X),
            windshield,
            roof,
            back,
            window_top: Edge::spline(&knots),
            belt,
            bn,
            door: Edge::line(&[b0, on_out(b0.x - 60.0)?]),
            cowl_side: Edge::line(&[c1, b0]),
            out,
        })
    }
}

struct Drawer<'a> {
    p: &'a Parameters,
    a: &'a Anchors,
    side: &'a Side,
    l: &'a Lines,
    canvas: Canvas,
}

impl Drawer<'_> {
    fn pair(&mut self, left: &'static str, kind: ShapeKind, edges: &[&Edge]) -> Result<(), CurveError> {
        self.canvas.pair(left, kind, edges)
    }

    fn whole(&mut self, panel: &'static str, kind: ShapeKind, edges: &[&Edge]) -> Result<(), CurveError> {
        self.canvas.whole(panel, kind, edges)
    }

    fn nose_and_roof(&mut self) -> Result<(), CurveError> {
        let l = self.l;
        let (tip, _) = l.out.cut_at(l.bumper_seam.end())?;
        self.whole(
            "front_bumper",
            Paint,
            &[&tip, &l.bumper_seam.reversed(), &l.lamp_bumper.reversed(), &l.hood_front_inner.reversed()],
        )?;
        self.whole("hood", Paint, &[&l.hood_front, &l.hood_side, &l.cowl.reversed()])?;
        let (lamp_top, hood_side) = l.hood_side.split(1);
        self.pair("left_headlamp", Lamp, &[&l.hood_front_lamp, &lamp_top, &l.lamp_fender, &l.lamp_bumper])?;
        self.whole("windshield", Glass, &[&l.cowl, &l.windshield, &l.header.reversed()])?;
        let roof = if self.p.soft { Fabric } else { Paint };
        self.whole("roof", roof, &[&l.header, &l.roof, &l.roof_end.reversed()])?;
        let flank = l.out.between(l.door.end(), l.bumper_seam.end())?;
        self.pair(
            "left_front_fender",
            Paint,
            &[&l.lamp_fender, &hood_side, &l.cowl_side, &l.door, &flank, &l.bumper_seam],
        )
    }

    /// Where cantrail and quarter panel meet on the upper edge of the windows.
    fn rail_end(&self) -> Result<Point, CurveError> {
        let x = (self.a.rear_axle + self.p.cantrail_cut_r).min(self.l.bn.x - 40.0);
        self.l.window_top.at(Axis::X, x)
    }

    fn cantrail(&mut self) -> Result<(), CurveError> {
        let (l, a) = (self.l, self.a);
        if self.p.soft {
            let joint = l.window_top.at(Axis::X, a.r0s.x + 40.0)?;
            let (before, _) = l.window_top.cut_at(joint)?;
            let edge = Edge::line(&[joint, a.r0s.plan()]);
            self.pair("left_cantrail", Paint, &[&l.cowl_side, &before, &edge, &l.windshield])?;
            let foot = Edge::line(&[a.d0s.plan(), l.bn]);
            let low = l.window_top.between(l.bn, joint)?;
            self.pair("left_soft_top_side", Fabric, &[&edge, &l.roof, &l.back, &foot, &low])
        } else {
            let joint = self.rail_end()?;
            let (before, _) = l.window_top.cut_at(joint)?;
            let edge = Edge::line(&[joint, a.r1s.plan()]);
            self.pair("left_cantrail", Paint, &[&l.cowl_side, &before, &edge, &l.roof, &l.windshield])
        }
    }

    /// A pillar's edge from the belt up to the edge of the roof, leaning forward.
    fn pillar(&self, x: f64) -> Result<Edge, CurveError> {
        Ok(Edge::line(&[self.l.belt.at(Axis::X, x)?, self.l.window_top.at(Axis::X, x - 14.0)?]))
    }

    fn front_glass(&mut self, pillar: &Edge) -> Result<Edge, CurveError> {
        let (low, _) = self.l.belt.cut_at(pillar.start())?;
        let (high, _) = self.l.window_top.cut_at(pillar.end())?;
        self.pair("left_front_glass", Glass, &[&low, pillar, &high])?;
        Ok(low)
    }

    /// Windows and doors; returns the rear edge of the last door.
    fn cabin(&mut self) -> Result<Edge, CurveError> {
        let (l, p) = (self.l, self.p);
        let doors = &self.side.lines.doors;
        let rear_x = doors.rear.start().x;
        let shut =
            |x: f64| Ok::<Edge, CurveError>(Edge::line(&[l.belt.at(Axis::X, x)?, l.out.at(Axis::X, x)?]));
        let between_doors = shut(doors.pillar_x)?;
        let (b0, b1) = (self.pillar(doors.pillar_x - 44.0)?, self.pillar(doors.pillar_x + 44.0)?);
        self.front_glass(&b0)?;
        let on_top = |from: Point, to: Point| l.window_top.between(from, to);
        let on_belt = |from: Point, to: Point| l.belt.between(from, to);
        self.pair(
            "left_b_pillar",
            Trim,
            &[&b0, &on_top(b0.end(), b1.end())?, &b1, &on_belt(b0.start(), b1.start())?],
        )?;
        if p.doors == 4 && p.quarter_glass {
            let (q0, q1) = (self.pillar(rear_x - 22.0)?, self.pillar(rear_x + 22.0)?);
            self.pair(
                "left_rear_glass",
                Glass,
                &[&on_belt(b1.start(), q0.start())?, &q0, &on_top(q0.end(), b1.end())?, &b1],
            )?;
            self.pair(
                "left_c_pillar",
                Trim,
                &[&q0, &on_top(q0.end(), q1.end())?, &q1, &on_belt(q1.start(), q0.start())?],
            )?;
            self.pair(
                "left_quarter_glass",
                Glass,
                &[&q1, &on_top(q1.end(), l.bn)?, &on_belt(l.bn, q1.start())?],
            )?;
        } else {
            let last = if p.doors == 4 { "left_rear_glass" } else { "left_quarter_glass" };
            self.pair(last, Glass, &[&on_belt(b1.start(), l.bn)?, &on_top(l.bn, b1.end())?, &b1])?;
        }
        let door_end = shut(rear_x)?;
        let front_end = if p.doors == 4 { &between_doors } else { &door_end };
        let (belt, _) = l.belt.cut_at(front_end.start())?;
        let flank = l.out.between(front_end.end(), l.door.end())?;
        self.pair("left_front_door", Paint, &[&belt, front_end, &flank, &l.door])?;
        if p.doors == 4 {
            let belt = on_belt(between_doors.start(), door_end.start())?;
            let flank = l.out.between(door_end.end(), between_doors.end())?;
            self.pair("left_rear_door", Paint, &[&belt, &door_end, &flank, &between_doors])?;
        }
        Ok(door_end)
    }

    /// A van's window and doors, up to the edge of the roof; returns the rear edge of the sliding door.
    fn cargo_side(&mut self) -> Result<Edge, CurveError> {
        let l = self.l;
        let doors = &self.side.lines.doors;
        let e0 = self.pillar(doors.pillar_x - 30.0 - 34.0)?;
        let belt = self.front_glass(&e0)?;
        let shut = |x: f64| {
            Ok::<Edge, CurveError>(Edge::line(&[l.window_top.at(Axis::X, x)?, l.out.at(Axis::X, x)?]))
        };
        let (joint, end) = (shut(doors.pillar_x)?, shut(doors.rear_x)?);
        let over = l.window_top.between(e0.end(), joint.start())?;
        let flank = l.out.between(joint.end(), l.door.end())?;
        self.pair("left_front_door", Paint, &[&belt, &e0, &over, &joint, &flank, &l.door])?;
        let over = l.window_top.between(joint.start(), end.start())?;
        let flank = l.out.between(end.end(), joint.end())?;
        self.pair("left_rear_door", Paint, &[&over, &end, &flank, &joint])?;
        Ok(end)
    }

    fn bed(&mut self, gap_r: f64, door_end: &Edge) -> Result<(), CurveError> {
        let (l, a) = (self.l, self.a);
        let hw = a.half_width;
        let on_out = |x: f64| l.out.at(Axis::X, x);
        let gap = a.rear_axle + gap_r;
        let cab_end =
            Edge::line(&[a.d0s.plan(), pt(gap - 32.0, on_out(gap - 40.0)?.y - 22.0), on_out(gap - 32.0)?]);
        self.whole("rear_window", Glass, &[&l.roof_end, &l.back, &l.glass_foot.reversed()])?;
        let joint = self.rail_end()?;
        self.pair(
            "left_quarter_panel",
            Paint,
            &[
                &l.window_top.between(l.bn, joint)?,
                &Edge::line(&[joint, a.r1s.plan()]),
                &l.back,
                &cab_end,
                &l.out.between(cab_end.end(), door_end.end())?,
                door_end,
                &l.belt.between(door_end.start(), l.bn)?,
            ],
        )?;

        let (front, rear, inside) = (gap + 12.0, a.length - 96.0, 0.80 * hw);
        let (outer_front, outer_rear) = (on_out(front)?, on_out(rear)?);
        let (i0, i1, i2) = (pt(front, inside), pt(front + 62.0, inside), pt(rear, inside));
        self.pair(
            "left_bed_side",
            Paint,
            &[
                &Edge::line(&[outer_front, i0]),
                &Edge::line(&[i0, i1, i2]),
                &Edge::line(&[i2, outer_rear]),
                &l.out.between(outer_rear, outer_front)?,
            ],
        )?;
        let (m0, m1, m2) = (pt(front, -inside), pt(front + 62.0, -inside), pt(rear, -inside));
        self.canvas.add("bed_floor", Trim, &[&Edge::line(&[m0, i0, i1, i2, m2, m1, m0])])?;
        for k in -6..=6 {
            let y = f64::from(k) * 0.118 * hw;
            self.canvas.mark(Pen::Thin, Edge::line(&[pt(front + 110.0, y), pt(rear - 40.0, y)]));
        }
        let gate = on_out(a.length - 40.0)?;
        let edge = Edge::line(&[gate, pt(a.length - 40.0, 0.0)]);
        self.whole(
            "tailgate",
            Paint,
            &[&Edge::line(&[pt(rear, 0.0), i2, outer_rear]), &l.out.between(outer_rear, gate)?, &edge],
        )?;
        let (_, end) = l.out.cut_at(gate)?;
        self.whole("rear_bumper", Trim, &[&edge.reversed(), &end])
    }

    fn tail(&mut self, door_end: &Edge) -> Result<(), CurveError> {
        let (l, a, p) = (self.l, self.a, self.p);
        let on_out = |x: f64| l.out.at(Axis::X, x);
        let tip = pt(a.tt.x, on_out(a.tt.x)?.y - 16.0);
        let low = pt(a.tb.x, a.tb.y.min(on_out(a.tb.x)?.y - 40.0));
        let top = pt(a.ta.x, a.ta.y.min(on_out(a.ta.x)?.y - 60.0));
        let lamp_lid = Edge::line(&[top, low]);
        let mut flank = Vec::new();
        for k in 0..4 {
            let x = tip.x + (low.x - tip.x) * f64::from(k) / 3.0;
            flank.push(pt(x, on_out(x)?.y - 16.0));
        }
        let lamp = Edge::spline_along(&[top, tip], None, Some(pt(-1.0, 0.02)))
            .then(&Edge::spline(&flank))
            .then(&Edge::line(&[pt(low.x, on_out(low.x)?.y - 16.0), low]));
        let seam = Edge::line(&[low, on_out(low.x + 10.0)?]);
        let deck_side = Edge::spline(&[a.d0s.plan(), top]);
        let lid_low = Edge::spline_along(&[a.d2.plan(), low], Some(pt(0.0, 1.0)), None);

        self.whole("rear_window", Glass, &[&l.roof_end, &l.back, &l.glass_foot.reversed()])?;
        let round = [&l.glass_foot, &deck_side, &lamp_lid, &lid_low.reversed()];
        match p.tail {
            Tail::Cargo => {
                let middle = Edge::line(&[a.d2.plan(), a.d0.plan()]);
                let [foot, deck, lamp, low] = round;
                self.pair("left_cargo_door", Paint, &[foot, deck, lamp, low, &middle])?;
            }
            Tail::Gate => self.whole("tailgate", Paint, &round)?,
            Tail::Trunk | Tail::Bed { .. } => self.whole("trunk_lid", Paint, &round)?,
        }
        self.pair("left_taillamp", Lamp, &[&lamp_lid, &lamp])?;
        let (_, end) = l.out.cut_at(seam.end())?;
        self.whole("rear_bumper", Paint, &[&lid_low, &seam, &end])?;

        let flank = l.out.between(seam.end(), door_end.end())?;
        let joint = || self.rail_end();
        let over = match (p.tail, p.soft) {
            (Tail::Cargo, _) => {
                let joint = joint()?;
                l.window_top
                    .between(door_end.start(), joint)?
                    .then(&Edge::line(&[joint, a.r1s.plan()]))
                    .then(&l.back)
            }
            (_, true) => {
                let belt = l.belt.between(door_end.start(), l.bn)?;
                belt.then(&Edge::line(&[l.bn, a.d0s.plan()]))
            }
            (_, false) => {
                let joint = joint()?;
                l.belt
                    .between(door_end.start(), l.bn)?
                    .then(&l.window_top.between(l.bn, joint)?)
                    .then(&Edge::line(&[joint, a.r1s.plan()]))
                    .then(&l.back)
            }
        };
        self.pair("left_quarter_panel", Paint, &[&over, &deck_side, &lamp, &seam, &flank, door_end])
    }

    fn mirrors(&mut self) -> Result<(), CurveError> {
        let x = self.a.front_axle + self.p.mirror_f - 6.0;
        let y = self.l.out.at(Axis::X, x + 60.0)?.y;
        let knots = [
            pt(x + 26.0, y - 6.0),
            pt(x, y + 60.0),
            pt(x + 16.0, y + 165.0),
            pt(x + 80.0, y + 200.0),
            pt(x + 128.0, y + 170.0),
            pt(x + 118.0, y + 40.0),
            pt(x + 110.0, y - 6.0),
        ];
        let foot = Edge::line(&[knots[6], knots[0]]);
        self.pair("left_mirror", Over, &[&Edge::spline(&knots), &foot])
    }
}
