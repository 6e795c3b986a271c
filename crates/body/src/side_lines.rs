//! The curves of the side view, (x, z), before they are joined into panels.

use crate::anchors::{Anchor, Anchors, mid};
use crate::parameters::{Parameters, Tail};
use plane::curve::{Axis, CurveError, Edge, Point, pt};
use std::f64::consts::PI;

/// The center-line profile over the car, from the underside of the nose to that of the tail.
#[derive(Clone, Debug)]
pub(crate) struct Profile {
    pub front: Edge,
    pub hood: Edge,
    pub windshield: Edge,
    pub roof: Edge,
    pub back: Edge,
    pub deck: Edge,
    pub tail: Edge,
}

/// The line over the car at the side of windshield, roof and rear glass.
#[derive(Clone, Debug)]
pub(crate) struct SideLine {
    pub windshield: Edge,
    pub roof: Edge,
    pub back: Edge,
}

/// The edges round the nose.
#[derive(Clone, Debug)]
pub(crate) struct Nose {
    /// Front edge of the hood, whole and in two parts, before and above the lamp.
    pub hood_front: Edge,
    pub hood_front_inner: Edge,
    pub hood_front_lamp: Edge,
    pub lamp_top: Edge,
    pub hood_side: Edge,
    /// Lower edge of the lamp towards the bumper and towards the fender.
    pub lamp_bumper: Edge,
    pub lamp_fender: Edge,
    /// Where bumper, fender and lamp meet.
    pub lamp_low: Anchor,
    /// Between bumper and fender.
    pub bumper_seam: Edge,
}

/// Wheel arches and underside. Each arch is in three parts, from nose to tail.
#[derive(Clone, Debug)]
pub(crate) struct Underside {
    pub front: Edge,
    pub front_arch: [Edge; 3],
    pub rocker: Edge,
    pub rear_arch: [Edge; 3],
    pub rear: Edge,
    /// Upper edge of the rocker panel.
    pub rocker_top: Edge,
}

/// Windows and doors.
#[derive(Clone, Debug)]
pub(crate) struct Doors {
    pub belt: Edge,
    /// Upper edge of the side windows.
    pub window_top: Edge,
    /// Front edge of the front door.
    pub front: Edge,
    /// x of the B-pillar at the belt.
    pub pillar_x: f64,
    /// Between the doors, from belt to rocker.
    pub pillar: Edge,
    /// x at which a rear door ends.
    pub rear_x: f64,
    /// Rear edge of the last door, down to the rocker.
    pub rear: Edge,
}

/// The edges round the tail.
#[derive(Clone, Debug)]
pub(crate) struct TailEdges {
    /// Outer edge of the lamp.
    pub lamp: Edge,
    /// Between lamp and lid.
    pub lamp_lid: Edge,
    /// Between quarter panel and bumper; empty for a bed.
    pub bumper_seam: Edge,
    /// Upper edge of the quarter panel behind the glass; empty for a bed.
    pub deck_side: Edge,
    /// Lower edge of the lid.
    pub lid_low: Edge,
}

/// All curves of the side view.
#[derive(Clone, Debug)]
pub(crate) struct SideLines {
    pub profile: Profile,
    pub side_line: SideLine,
    pub nose: Nose,
    pub underside: Underside,
    pub doors: Doors,
    pub tail: TailEdges,
}

/// Lowest point of the nose.
fn nose_foot(a: &Anchors) -> Point {
    pt(105.0, a.clearance + 14.0)
}

/// Lowest point of the tail.
fn tail_foot(a: &Anchors) -> Point {
    pt(a.length - 120.0, a.clearance + 44.0)
}

impl SideLines {
    pub fn draw(p: &Parameters, a: &Anchors) -> Result<SideLines, CurveError> {
        let profile = Profile::draw(p, a);
        let side_line = SideLine::draw(p, a);
        let (nose, bumper_angle) = Nose::draw(p, a)?;
        let mut underside = Underside::draw(p, a, bumper_angle);
        let doors = Doors::draw(p, a, &side_line, &mut underside)?;
        let tail = TailEdges::draw(p, a, &underside);
        Ok(SideLines { profile, side_line, nose, underside, doors, tail })
    }
}

/// Two half parabolas that meet flat at the peak, sampled evenly: knots over a roof between its ends.
fn roof_knots(from: Point, peak: Point, to: Point) -> Vec<Point> {
    let rise = [0.3, 0.65]
        .map(|t| pt(from.x + t * (peak.x - from.x), peak.y - (peak.y - from.y) * (1.0 - t) * (1.0 - t)));
    let fall =
        [0.25, 0.5, 0.75].map(|t| pt(peak.x + t * (to.x - peak.x), peak.y - (peak.y - to.y) * (t * t)));
    rise.into_iter().chain([peak]).chain(fall).collect()
}

/// Windshield, roof and rear glass in three parts. The glass is a curve of its own behind a roof break, bowed
/// by `bow`; otherwise the line runs on over a knot raised by `bow` and ends along `slope`.
fn over_the_cabin(mut knots: Vec<Point>, foot: Point, roof_break: bool, bow: f64, slope: f64) -> [Edge; 3] {
    let roof_end = knots[knots.len() - 1];
    let glass = [mid(roof_end, foot, 0.5, bow), foot];
    let (over, back) = if roof_break {
        (Edge::spline(&knots), Edge::spline(&[roof_end, glass[0], glass[1]]))
    } else {
        knots.extend(glass);
        Edge::spline_along(&knots, None, Some(pt(1.0, slope))).split(9)
    };
    let (windshield, roof) = over.split(2);
    [windshield, roof, back]
}

/// The bow of a rear glass: with a tailgate, without, without a roof break.
fn glass_bow(p: &Parameters, gate: f64, smooth: f64) -> f64 {
    match (p.roof_break, p.tail) {
        (false, _) => smooth,
        (true, Tail::Gate) => gate,
        (true, _) => 0.0,
    }
}

/// From the rail of a bed over the top of its tailgate.
pub(crate) fn bed_corner(a: &Anchors, rail_z: f64) -> Edge {
    let (rail, edge) = (bed_rail_end(a, rail_z), pt(a.length - 62.0, rail_z - 42.0));
    Edge::spline_along(&[rail, edge], Some(pt(1.0, 0.0)), Some(pt(0.0, -1.0)))
        .then(&Edge::line(&[edge, a.d2.side()]))
}

/// Rear end of a bed's rail.
pub(crate) fn bed_rail_end(a: &Anchors, rail_z: f64) -> Point {
    pt(a.length - 104.0, rail_z - 4.0)
}

/// Front end of a bed's rail.
pub(crate) fn bed_rail_start(a: &Anchors, gap_r: f64, rail_z: f64) -> Point {
    pt(a.rear_axle + gap_r + 6.0, rail_z + 4.0)
}

impl Profile {
    fn draw(p: &Parameters, a: &Anchors) -> Profile {
        let (cl, nz, hz) = (a.clearance, p.nose_z, p.hood_z);
        let (h0, c0, r0, d0, d2) = (a.h0.side(), a.c0.side(), a.r0.side(), a.d0.side(), a.d2.side());
        let rising = Some(pt(0.72, 0.70));
        let nose = [
            nose_foot(a),
            pt(36.0, cl + 62.0),
            pt(4.0, 0.5 * (cl + nz)),
            pt(3.0, nz + 30.0),
            pt(20.0 - 10.0 * p.nose_square, 0.4 * nz + 0.6 * hz),
            h0,
        ];
        let front = Edge::spline_along(&nose, Some(pt(-1.0, 0.14)), rising);
        let up = p.hood_rise;
        let hood_knots = [h0, mid(h0, c0, 0.12, 0.95 * up + 20.0), mid(h0, c0, 0.5, 1.25 * up + 16.0), c0];
        let hood = Edge::spline_along(&hood_knots, rising, None);

        let mut knots = vec![c0, mid(c0, r0, 0.5, 0.055 * (r0.y - c0.y) + 4.0), r0];
        knots.extend(roof_knots(r0, a.pk.side(), a.r1.side()));
        knots.push(a.r1.side());
        let [windshield, roof, back] =
            over_the_cabin(knots, d0, p.roof_break, glass_bow(p, 10.0, 14.0), -0.20);

        let mut deck_knots = vec![d0];
        deck_knots.extend(p.deck.iter().map(|(dx, z)| pt(a.length + dx, *z)));
        deck_knots.push(d2);
        let deck = match p.tail {
            Tail::Trunk => Edge::spline_along(&deck_knots, Some(pt(1.0, -0.12)), None),
            Tail::Gate | Tail::Cargo => Edge::spline(&deck_knots),
            Tail::Bed { gap_r, rail_z } => {
                let rail = [bed_rail_start(a, gap_r, rail_z), bed_rail_end(a, rail_z)];
                Edge::line(&[d0, rail[0], rail[1]]).then(&bed_corner(a, rail_z))
            }
        };
        let foot = tail_foot(a);
        let tz = p.tail_z.min(p.lid_z - 95.0);
        let l = a.length;
        let tail_knots =
            [d2, pt(l - 7.0, tz + 58.0), pt(l, tz), pt(l - 26.0, (tz - 150.0).max(foot.y + 90.0)), foot];
        let tail = Edge::spline_along(&tail_knots, None, Some(pt(-1.0, -0.55)));
        Profile { front, hood, windshield, roof, back, deck, tail }
    }
}

impl SideLine {
    fn draw(p: &Parameters, a: &Anchors) -> SideLine {
        let (c1, r0s, r1s) = (a.c1.side(), a.r0s.side(), a.r1s.side());
        let mut knots = vec![c1, mid(c1, r0s, 0.5, 0.05 * (r0s.y - c1.y) + 3.0), r0s];
        knots.extend(roof_knots(r0s, a.pks.side(), r1s));
        knots.push(r1s);
        let [windshield, roof, back] =
            over_the_cabin(knots, a.d0s.side(), p.roof_break, glass_bow(p, 8.0, 10.0), -0.22);
        SideLine { windshield, roof, back }
    }
}

impl Nose {
    /// The edges, and the angle at which the bumper's seam meets the front arch.
    fn draw(p: &Parameters, a: &Anchors) -> Result<(Nose, f64), CurveError> {
        let (h0, la, lb, c1) = (a.h0.side(), a.la.side(), a.lb.side(), a.c1.side());
        let hood_front = Edge::spline(&[h0, mid(h0, la, 0.55, -2.0), la]);
        let (lamp_top, hood_side) = Edge::spline(&[la, lb, mid(lb, c1, 0.5, 10.0), c1]).split(1);
        let low = pt(la.x + 0.42 * (lb.x - la.x), la.y - p.lamp_drop + 10.0);
        let (hood_front_inner, hood_front_lamp) = hood_front.cut(Axis::X, h0.x + 0.50 * (la.x - h0.x))?;
        let (lamp_bumper, lamp_fender) = Edge::spline_along(
            &[hood_front_inner.end(), pt(la.x + 40.0, la.y - 0.66 * p.lamp_drop), low, lb],
            Some(pt(0.12, -1.0)),
            Some(pt(0.93, 0.36)),
        )
        .split(2);
        let angle = a.on_arch(a.tire + 0.62 * a.arch, false);
        let meet = pt(a.front_axle + a.arch * angle.cos(), a.tire + a.arch * angle.sin());
        let bumper_seam =
            Edge::spline_along(&[low, mid(low, meet, 0.45, -16.0), meet], Some(pt(0.5, -1.0)), None);
        let lamp_low = Anchor { x: low.x, y: 0.875 * a.half_width, z: low.y };
        let nose = Nose {
            hood_front,
            hood_front_inner,
            hood_front_lamp,
            lamp_top,
            hood_side,
            lamp_bumper,
            lamp_fender,
            lamp_low,
            bumper_seam,
        };
        Ok((nose, angle))
    }
}

impl Underside {
    fn draw(p: &Parameters, a: &Anchors, bumper_angle: f64) -> Underside {
        let cl = a.clearance;
        let (z_bumper, z_rocker, z_top) = (cl + 46.0, cl + 22.0, cl + p.sill);
        let arch = |x: f64, stops: [f64; 4]| {
            [0, 1, 2].map(|i| Edge::arc(pt(x, a.tire), a.arch, stops[i], stops[i + 1]))
        };
        let front_arch = arch(
            a.front_axle,
            [a.on_arch(z_bumper, false), bumper_angle, a.on_arch(z_top, true), a.on_arch(z_rocker, true)],
        );
        let rear_arch = arch(
            a.rear_axle,
            [
                a.on_arch(z_rocker, false),
                a.on_arch(z_top + 14.0, false),
                a.on_arch(a.tire + 0.46 * a.arch, true),
                a.on_arch(cl + 62.0, true),
            ],
        );
        Underside {
            front: Edge::line(&[nose_foot(a), front_arch[0].start()]),
            rocker: Edge::line(&[front_arch[2].end(), rear_arch[0].start()]),
            rear: Edge::line(&[rear_arch[2].end(), tail_foot(a)]),
            rocker_top: Edge::line(&[front_arch[1].end(), rear_arch[1].start()]),
            front_arch,
            rear_arch,
        }
    }
}

/// A point beside a curve: at share `t` of its segments, `away` mm to the right of its way.
fn beside(e: &Edge, t: f64, away: f64) -> Point {
    let s = e.segments();
    let i = ((t * s.len() as f64) as usize).min(s.len() - 1);
    let u = t * s.len() as f64 - i as f64;
    let (a, c, m) = (s[i].at((u - 1e-3).max(0.0)), s[i].at((u + 1e-3).min(1.0)), s[i].at(u));
    let l = (c.x - a.x).hypot(c.y - a.y);
    pt(m.x + away * (c.y - a.y) / l, m.y - away * (c.x - a.x) / l)
}

/// Upper edge of the side windows.
fn window_top(p: &Parameters, a: &Anchors, side: &SideLine) -> Result<Edge, CurveError> {
    let (rail, roof, bn) = (p.rail, &side.roof, a.bn.side());
    let mut knots = vec![
        a.b0.side(),
        beside(&side.windshield, 0.62, rail * 0.80),
        beside(&side.windshield, 0.98, rail * 0.94),
        beside(roof, 0.36, rail),
    ];
    let end = match p.tail {
        Tail::Gate => {
            let c = beside(roof, 0.92, rail * 1.05);
            knots.extend([
                beside(roof, 0.56, rail),
                beside(roof, 0.74, rail * 1.03),
                pt(bn.x - 112.0 - 0.25 * (c.y - bn.y), c.y + 2.0),
                pt(bn.x - 40.0, bn.y + 0.62 * (c.y - bn.y)),
                bn,
            ]);
            Some(pt(0.45, -1.0))
        }
        Tail::Bed { .. } => {
            let c = beside(roof, 0.80, rail);
            knots.extend([
                beside(roof, 0.55, rail),
                pt(bn.x - 230.0, c.y + 6.0),
                pt(bn.x - 110.0, c.y - 6.0),
                pt(bn.x - 34.0, c.y - 66.0),
                pt(bn.x - 10.0, c.y - 170.0),
                bn,
            ]);
            Some(pt(0.06, -1.0))
        }
        Tail::Cargo => {
            knots.extend([
                beside(roof, 0.5, rail * 1.1),
                beside(roof, 0.7, rail * 1.15),
                pt(bn.x, roof.at(Axis::X, bn.x)?.y - rail * 1.2),
            ]);
            None
        }
        Tail::Trunk => {
            knots.extend([beside(roof, 0.78, rail * 1.04), beside(&side.back, 0.30, rail * 1.5), bn]);
            Some(pt(0.75, -1.0))
        }
    };
    Ok(Edge::spline_along(&knots, None, end))
}

impl Doors {
    /// May cut the upper edge of the rocker where a rear door meets it.
    fn draw(
        p: &Parameters,
        a: &Anchors,
        side: &SideLine,
        under: &mut Underside,
    ) -> Result<Doors, CurveError> {
        let window_top = window_top(p, a, side)?;
        let (b0, bn) = (a.b0.side(), a.bn.side());
        let belt = Edge::spline(&[b0, mid(b0, bn, 0.5, -p.belt_mid), bn]);
        let rocker_top = under.rocker_top.clone();
        let on_rocker = |x: f64| rocker_top.at(Axis::X, x);
        let on_belt = |x: f64| belt.at(Axis::X, x);

        let sill_z = under.front_arch[1].end().y;
        let x = a.front_axle + p.door_f - 62.0;
        let foot = on_rocker(x)?;
        let drop = b0.y - sill_z;
        let front = if p.door_lean > 0.0 {
            let knots = [
                b0,
                pt(b0.x - 0.64 * p.door_lean, b0.y - 0.30 * drop),
                pt(x - 4.0, sill_z + 0.40 * drop),
                foot,
            ];
            Edge::spline_along(&knots, None, Some(pt(0.16, -1.0)))
        } else {
            let knots = [b0, pt(b0.x + 8.0, b0.y - 0.34 * drop), foot];
            Edge::spline_along(&knots, Some(pt(-0.06, -1.0)), Some(pt(0.12, -1.0)))
        };

        let pillar_x = a.front_axle + p.pillar_b;
        let (top, low) = (on_belt(pillar_x)?, on_rocker(pillar_x - 16.0)?);
        let pillar = Edge::spline(&[top, mid(top, low, 0.5, 0.0), low]);
        let rear_x = a.rear_axle + p.door_end_r;
        let rear = match (p.doors, p.tail) {
            (4, Tail::Trunk) | (_, Tail::Gate) => {
                let rear = round_the_arch(p, a, on_belt(rear_x)?, &rocker_top)?;
                under.rocker_top = Edge::line(&[rocker_top.start(), rear.end(), rocker_top.end()]);
                rear
            }
            (2, _) => {
                let top = on_belt(pillar_x + 40.0)?;
                let low = on_rocker((pillar_x - 26.0).min(a.rear_axle - a.arch - 120.0))?;
                let drop = top.y - low.y;
                let knots =
                    [top, pt(top.x + 6.0, top.y - 0.40 * drop), pt(low.x + 18.0, low.y + 0.16 * drop), low];
                Edge::spline_along(&knots, Some(pt(0.12, -1.0)), Some(pt(-0.55, -1.0)))
            }
            (_, Tail::Bed { .. }) => Edge::line(&[on_belt(rear_x)?, on_rocker(rear_x + 6.0)?]),
            // A sliding door from cantrail to sill.
            (_, Tail::Cargo | Tail::Trunk) => {
                Edge::line(&[window_top.at(Axis::X, rear_x)?, on_rocker(rear_x)?])
            }
        };
        Ok(Doors { belt, window_top, front, pillar_x, pillar, rear_x, rear })
    }
}

/// The rear edge of a rear door: down from the belt, then a true arc about the axle to the rocker.
fn round_the_arch(p: &Parameters, a: &Anchors, top: Point, rocker_top: &Edge) -> Result<Edge, CurveError> {
    let radius = a.arch + 62.0;
    let from = p.door_r_angle.to_radians();
    let meets = |z: f64| PI + ((a.tire - z) / radius).asin();
    let guess = meets(rocker_top.at(Axis::X, a.rear_axle - radius)?.y);
    let to = meets(rocker_top.at(Axis::X, a.rear_axle + radius * guess.cos())?.y);
    let corner = pt(a.rear_axle + radius * from.cos(), a.tire + radius * from.sin());
    let down = Edge::spline_along(&[top, corner], Some(pt(0.06, -1.0)), Some(pt(-from.sin(), from.cos())));
    Ok(down.then(&Edge::arc(pt(a.rear_axle, a.tire), radius, from, to)))
}

impl TailEdges {
    fn draw(p: &Parameters, a: &Anchors, under: &Underside) -> TailEdges {
        let (ta, tb, tt, d0s) = (a.ta.side(), a.tb.side(), a.tt.side(), a.d0s.side());
        let upright = matches!(p.tail, Tail::Bed { .. } | Tail::Cargo);
        let (lamp, lamp_lid) =
            if upright {
                let lamp = Edge::line(&[ta, pt(tt.x, ta.y - 8.0), pt(tt.x, tb.y + 8.0), tb]);
                (lamp, Edge::line(&[ta, tb]))
            } else {
                let lamp = Edge::spline_along(&[ta, tt], Some(pt(-1.0, 0.04)), None)
                    .then(&Edge::spline_along(&[tt, tb], None, Some(pt(0.9, -0.5))));
                (lamp, Edge::spline_along(&[ta, mid(ta, tb, 0.5, 0.0), tb], Some(pt(0.5, -0.9)), None))
            };
        let meet = under.rear_arch[1].end();
        let bumper_seam =
            Edge::spline_along(&[tb, mid(tb, meet, 0.4, -26.0), meet], None, Some(pt(-0.55, -1.0)));
        let deck_side = match p.tail {
            Tail::Trunk => Edge::spline(&[d0s, mid(d0s, ta, 0.55, 14.0), ta]),
            Tail::Gate => Edge::spline(&[d0s, mid(d0s, ta, 0.5, 0.0), ta]),
            Tail::Cargo => Edge::spline(&[d0s, ta]),
            Tail::Bed { .. } => Edge::default(),
        };
        let bumper_seam = if p.has_bed() { Edge::default() } else { bumper_seam };
        TailEdges { lamp, lamp_lid, bumper_seam, deck_side, lid_low: Edge::spline(&[a.d2.side(), tb]) }
    }
}
