use super::*;
use std::f64::consts::{PI, TAU};

fn noise(i: usize, amplitude: f64) -> f64 {
    // a fixed sequence without a pattern that a curve could follow
    let x = (i as f64 * 12.9898).sin() * 43_758.547;
    amplitude * (2.0 * (x - x.floor()) - 1.0)
}

fn rectangle(w: f64, h: f64, step: f64, rough: f64) -> Vec<Point> {
    let mut ring = Vec::new();
    let corners: [(f64, f64); 4] = [(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)];
    for k in 0..4 {
        let (a, b) = (corners[k], corners[(k + 1) % 4]);
        let n = ((b.0 - a.0 + b.1 - a.1).abs() / step) as usize;
        for i in 0..n {
            let t = i as f64 / n as f64;
            let e = if i == 0 { 0.0 } else { noise(ring.len(), rough) };
            let (dx, dy) = if k % 2 == 0 { (0.0, e) } else { (e, 0.0) };
            ring.push(Point::mm(a.0 + (b.0 - a.0) * t + dx, a.1 + (b.1 - a.1) * t + dy));
        }
    }
    ring
}

fn circle(r: f64, n: usize, rough: f64) -> Vec<Point> {
    (0..n)
        .map(|i| {
            let (s, c) = (TAU * i as f64 / n as f64).sin_cos();
            let r = r + noise(i, rough);
            Point::mm(r * c, r * s)
        })
        .collect()
}

#[test]
fn corners_stay_and_rough_edges_become_smooth() {
    let ring = rectangle(400.0, 250.0, 5.0, 0.2);
    let traced = trace(&ring, &Tracing::default()).unwrap();
    assert_eq!(traced.edges.len(), 4);
    assert!(traced.off <= Length::mm(0.3), "{:?}", traced.off);
    assert!(traced.curves.len() <= 12, "{} curves for four straight edges", traced.curves.len());
    for corner in [(0.0, 0.0), (400.0, 0.0), (400.0, 250.0), (0.0, 250.0)] {
        assert!(traced.outline.points().contains(&Point::mm(corner.0, corner.1)));
    }
    let lengths: f64 = traced.edges.iter().map(|e| e.length.as_mm()).sum();
    assert!((lengths - traced.outline.perimeter().as_mm()).abs() < 1e-6);
    assert!((lengths - 1300.0).abs() < 1.0);
}

#[test]
fn a_circle_has_no_corner_and_few_curves() {
    let traced = trace(&circle(150.0, 190, 0.0), &Tracing::default()).unwrap();
    assert_eq!(traced.edges.len(), 1);
    assert!(traced.curves.len() <= 12, "{}", traced.curves.len());
    // within the tolerance of the polygon, which loses r(1 − cos(π/n)) = 0.02 mm of the circle
    for p in traced.outline.points() {
        assert!((p.norm() - 150.0).abs() < 0.33, "{}", p.norm());
    }
    assert!((traced.outline.area().as_mm2() / (PI * 150.0 * 150.0) - 1.0).abs() < 3e-3);
    // smooth all around: no bend between neighboring chords above a few degrees
    let points = traced.outline.points();
    let n = points.len();
    for i in 0..n {
        let (u, v) = (points[(i + 1) % n] - points[i], points[(i + 2) % n] - points[(i + 1) % n]);
        assert!(u.cross(v).atan2(u.dot(v)).abs().to_degrees() < 6.0, "at {i}");
    }
}

#[test]
fn the_stated_tolerance_is_kept() {
    for tolerance in [0.05, 0.1, 0.3, 1.0] {
        for rough in [0.0, 0.1, 0.5, 2.0] {
            let ring: Vec<Point> = circle(120.0, 300, rough)
                .into_iter()
                .map(|p| Point::mm(p.x * 2.0 + 0.002 * p.y * p.y, p.y))
                .collect();
            let tracing = Tracing { tolerance: Length::mm(tolerance), ..Tracing::default() };
            let Ok(traced) = trace(&ring, &tracing) else { continue };
            let rim = Outline::new(ring).unwrap();
            // by a slow way that shares nothing with the tracing: every point against every edge
            let slow = |a: &Outline, b: &Outline| {
                a.points()
                    .iter()
                    .map(|p| {
                        b.edges()
                            .map(|(q, r)| {
                                let t = ((*p - q).dot(r - q) / (r - q).dot(r - q)).clamp(0.0, 1.0);
                                (q.toward(r, t) - *p).norm()
                            })
                            .fold(f64::INFINITY, f64::min)
                    })
                    .fold(0.0, f64::max)
            };
            let off = slow(&traced.outline, &rim).max(slow(&rim, &traced.outline));
            assert!(off <= tolerance + 1e-9, "{off} for {tolerance}, rough {rough}");
            assert!((off - traced.off.as_mm()).abs() < 1e-6, "{off} told as {:?}", traced.off);
        }
    }
}

fn square() -> Traced {
    trace(&rectangle(200.0, 200.0, 5.0, 0.0), &Tracing::default()).unwrap()
}

#[test]
fn one_allowance_all_around_grows_the_piece() {
    let finish = Finish { wrap: Length::mm(10.0), name: "left_front_door".into(), ..Finish::default() };
    let done = square().finished(&finish, Vec::new()).unwrap();
    // square, four strips, a circle in the corners
    let wanted = 200.0 * 200.0 + 4.0 * 200.0 * 10.0 + PI * 100.0;
    assert!((done.outline.area().as_mm2() / wanted - 1.0).abs() < 1e-3);
    assert_eq!(done.label.text, "left_front_door");
    assert!(done.outline.contains(done.label.at));
}

#[test]
fn each_edge_can_have_its_own_allowance() {
    let traced = square();
    let allowances = vec![
        Allowance { edge: 0, by: Length::mm(12.0) },
        Allowance { edge: 1, by: Length::ZERO },
        Allowance { edge: 2, by: Length::mm(-2.0) },
    ];
    let finish = Finish { wrap: Length::mm(6.0), allowances, ..Finish::default() };
    let done = traced.finished(&finish, Vec::new()).unwrap();
    let b = done.outline.bounds();
    // edge 0 runs along y = 0 with the piece at larger y, edge 3 along x = 0
    assert!((b.low.y + 12.0).abs() < 0.05 && (b.low.x + 6.0).abs() < 0.05, "{b:?}");
    assert!((b.high.x - 200.0).abs() < 0.05 && b.high.y < 200.05, "{b:?}");
    assert!(
        !done.outline.contains(Point::mm(100.0, 198.2)) && done.outline.contains(Point::mm(100.0, 197.8))
    );
    assert!(done.outline.contains(Point::mm(-3.0, -3.0)), "the corner between two bands is filled");
    assert!(done.outline.contains(Point::mm(199.9, 100.0)));
    assert!(!done.outline.contains(Point::mm(200.2, 100.0)));
    assert!(done.outline.contains(Point::mm(-5.9, 100.0)) && !done.outline.contains(Point::mm(-6.1, 100.0)));
}

#[test]
fn notches_are_cut_in_the_allowance_and_marked_on_the_piece() {
    let notches = vec![Notch { edge: 0, share: 0.25 }, Notch { edge: 2, share: 0.5 }];
    let finish = Finish { wrap: Length::mm(8.0), notches, ..Finish::default() };
    let done = square().finished(&finish, Vec::new()).unwrap();
    assert!(!done.outline.contains(Point::mm(50.0, -7.0)), "a notch of 3 mm at x = 50");
    assert!(done.outline.contains(Point::mm(50.0, -4.0)), "never into the panel");
    assert!(done.outline.contains(Point::mm(60.0, -7.0)));
    assert_eq!(done.marks.len(), 2);
    assert!(done.marks[0].points[0].distance(Point::mm(50.0, 0.0)).as_mm() < 1e-6);
}

#[test]
fn the_partner_is_the_mirror_image() {
    let notches = vec![Notch { edge: 0, share: 0.25 }];
    let finish = Finish { name: "left".into(), notches, ..Finish::default() };
    let hole = Outline::rectangle(Length::mm(20.0), Length::mm(10.0)).unwrap();
    let done = square().finished(&finish, vec![hole]).unwrap();
    let partner = done.mirrored("right");
    assert_eq!((partner.name.as_str(), partner.label.text.as_str()), ("right", "right"));
    assert!((partner.outline.area() / done.outline.area() - 1.0).abs() < 1e-12);
    assert!(!partner.outline.contains(Point::mm(-50.0, -7.0)));
    assert!(partner.marks[0].points[0].x < 0.0);
    let back = partner.mirrored("left");
    assert!((back.outline.distance(&done.outline)).as_mm() == 0.0 && back.label == done.label);
}

#[test]
fn what_cannot_be_finished_is_refused() {
    let said = |finish: Finish| square().finished(&finish, Vec::new()).unwrap_err().to_string();
    let at =
        |edge, by| Finish { allowances: vec![Allowance { edge, by: Length::mm(by) }], ..Finish::default() };
    assert!(said(at(9, 5.0)).contains("no edge 9"));
    assert!(said(at(0, 90.0)).contains("not possible"));
    let far = trace(&rectangle(60.0, 30.0, 5.0, 0.0), &Tracing::default()).unwrap();
    let flaw = far.finished(&Finish { wrap: Length::mm(-19.0), ..Finish::default() }, Vec::new());
    assert_eq!(flaw, Err(FinishFlaw::Nothing));
}
