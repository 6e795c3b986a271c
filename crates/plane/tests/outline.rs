//! Facts about outlines.
#![allow(clippy::unwrap_used)] // in the shared steps of tests

use plane::{Outline, OutlineFlaw, Point, Pose};
use units::{Length, Seed};

fn ring(points: &[(f64, f64)]) -> Vec<Point> {
    points.iter().map(|&(x, y)| Point::mm(x, y)).collect()
}

fn outline(points: &[(f64, f64)]) -> Outline {
    Outline::new(ring(points)).unwrap()
}

fn square(x: f64, y: f64, side: f64) -> Outline {
    outline(&[(x, y), (x + side, y), (x + side, y + side), (x, y + side)])
}

/// Every pair of edges that are no neighbors tried by itself: slow and plain, to check the sweep.
fn simple_by_brute_force(points: &[Point]) -> bool {
    let n = points.len();
    let turn = |a: Point, b: Point, c: Point| (b - a).cross(c - a);
    (0..n).all(|i| {
        (i + 1..n).all(|j| {
            let (a, b, c, d) = (points[i], points[(i + 1) % n], points[j], points[(j + 1) % n]);
            if j == i + 1 || (i == 0 && j == n - 1) {
                let (p, q, r) = if j == i + 1 { (a, b, d) } else { (b, a, c) };
                return turn(p, q, r) != 0.0 || (r - q).dot(p - q) < 0.0;
            }
            let boxes = a.x.max(b.x) < c.x.min(d.x)
                || c.x.max(d.x) < a.x.min(b.x)
                || a.y.max(b.y) < c.y.min(d.y)
                || c.y.max(d.y) < a.y.min(b.y);
            boxes || turn(a, b, c) * turn(a, b, d) > 0.0 || turn(c, d, a) * turn(c, d, b) > 0.0
        })
    })
}

#[test]
fn the_sweep_finds_the_same_crossings_as_brute_force() {
    // small whole numbers make touching, overlapping and repeated points common, and plain arithmetic exact
    let mut chance = Seed(11).sequence();
    let (mut simple, mut crossing) = (0, 0);
    for _ in 0..20_000 {
        let n = 3 + chance.below(6);
        let points: Vec<_> =
            (0..n).map(|_| Point::mm(chance.below(7) as f64, chance.below(7) as f64)).collect();
        let mut clean = points.clone();
        clean.dedup();
        while clean.len() > 1 && clean.first() == clean.last() {
            clean.pop();
        }
        if clean.len() < 3 {
            continue;
        }
        let expected = simple_by_brute_force(&clean);
        let found = Outline::new(points);
        assert_eq!(found.is_ok(), expected, "{clean:?} {found:?}");
        if expected { simple += 1 } else { crossing += 1 }
    }
    assert!(simple > 1000 && crossing > 1000, "{simple} {crossing}");
}

#[test]
fn a_ring_turns_the_same_way_however_it_is_given() {
    let there = outline(&[(0.0, 0.0), (4.0, 0.0), (4.0, 3.0)]);
    let back = outline(&[(4.0, 3.0), (4.0, 0.0), (0.0, 0.0)]);
    for o in [&there, &back] {
        assert_eq!(o.area().as_mm2(), 6.0);
        assert_eq!(o.perimeter().as_mm(), 12.0);
        let p = o.points();
        assert!((p[1] - p[0]).cross(p[2] - p[1]) > 0.0);
    }
}

#[test]
fn what_is_no_outline_is_refused_with_its_reason() {
    let flaw = |points: &[(f64, f64)]| Outline::new(ring(points)).unwrap_err();
    assert_eq!(flaw(&[]), OutlineFlaw::TooFewPoints { found: 0 });
    assert_eq!(flaw(&[(0.0, 0.0), (1.0, 0.0), (0.0, 0.0)]), OutlineFlaw::TooFewPoints { found: 2 });
    assert_eq!(flaw(&[(0.0, 0.0), (1.0, 1.0), (3.0, 3.0)]), OutlineFlaw::NoArea);
    assert_eq!(flaw(&[(0.0, 0.0), (f64::NAN, 1.0), (3.0, 0.0)]), OutlineFlaw::Unplaceable { index: 1 });
    assert_eq!(flaw(&[(0.0, 0.0), (2e6, 1.0), (3.0, 0.0)]), OutlineFlaw::Unplaceable { index: 1 });
    let at = Point::mm(1.0, 1.0);
    assert_eq!(flaw(&[(0.0, 0.0), (2.0, 2.0), (2.0, 0.0), (0.0, 2.0)]), OutlineFlaw::SelfCrossing { at });
    // a spike: out and back along the same line
    assert!(matches!(
        flaw(&[(0.0, 0.0), (4.0, 0.0), (4.0, 9.0), (4.0, 2.0), (0.0, 2.0)]),
        OutlineFlaw::SelfCrossing { .. }
    ));
}

#[test]
fn a_hundred_thousand_points_are_checked() {
    // a comb whose edges all overlap in x: the hard case for boxes
    let tooth = |i: usize| {
        let y = i as f64 * 0.04;
        [(10.0, y), (100.0, y + 0.003), (100.0, y + 0.02), (10.0, y + 0.02)]
    };
    let mut points: Vec<_> = (0..25_000).flat_map(tooth).map(|(x, y)| Point::mm(x, y)).collect();
    points.extend([Point::mm(0.0, 1000.0), Point::mm(0.0, 0.0)]);
    // what matters is that an answer comes, and the right one
    assert!(Outline::new(points.clone()).is_ok());
    points[70_000].x = -5.0;
    assert!(matches!(Outline::new(points), Err(OutlineFlaw::SelfCrossing { .. })));
}

#[test]
fn inside_on_and_outside() {
    let o = outline(&[(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (5.0, 5.0), (0.0, 10.0)]);
    for (p, held) in [
        ((5.0, 4.0), true),
        ((5.0, 6.0), false),
        ((5.0, 5.0), true),
        ((0.0, 0.0), true),
        ((10.0, 3.0), true),
        ((10.1, 3.0), false),
        ((0.0, 10.0), true),
        ((-1.0, 0.0), false),
        ((5.0, 10.0), false),
        ((3.0, 0.0), true),
    ] {
        assert_eq!(o.contains(Point::mm(p.0, p.1)), held, "{p:?}");
    }
}

#[test]
fn distances() {
    let a = square(0.0, 0.0, 10.0);
    assert_eq!(a.distance(&square(13.0, 14.0, 5.0)).as_mm(), 5.0);
    assert_eq!(a.distance(&square(10.0, 0.0, 5.0)).as_mm(), 0.0);
    assert_eq!(a.distance(&square(2.0, 2.0, 5.0)).as_mm(), 0.0);
    assert_eq!(a.ring_distance(&square(2.0, 2.0, 5.0)).as_mm(), 2.0);
}

#[test]
fn depth_of_overlap() {
    let a = square(0.0, 0.0, 10.0);
    let depth = |b: &Outline| a.penetration(b).as_mm();
    assert_eq!(depth(&square(10.0, 0.0, 10.0)), 0.0, "side by side");
    assert_eq!(depth(&square(10.0, 10.0, 10.0)), 0.0, "corner to corner");
    assert!(depth(&square(9.0, 0.0, 10.0)) >= 1.0 - 1e-12, "slid in flush: no corner lies inside");
    assert!(depth(&square(9.0, 3.0, 10.0)) > 0.9);
    assert_eq!(depth(&a), 5.0, "the same place");
    assert!(depth(&square(4.0, 4.0, 2.0)) >= 4.0, "swallowed");
    assert!(depth(&outline(&[(4.0, -5.0), (6.0, -5.0), (6.0, 15.0), (4.0, 15.0)])) >= 1.0, "crossed bars");
    assert_eq!(a.protrusion(&square(2.0, 2.0, 8.0)).as_mm(), 0.0);
    assert_eq!(a.protrusion(&square(2.0, 2.0, 9.0)).as_mm().round(), 1.0);
    let dented = outline(&[(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (5.0, 5.0), (0.0, 10.0)]);
    assert!(dented.protrusion(&square(4.0, 1.0, 5.0)).as_mm() > 0.5, "a dent reaches in");
}

#[test]
fn poses_keep_shape_and_orientation() {
    let o = outline(&[(0.0, 0.0), (30.0, 0.0), (30.0, 5.0), (10.0, 20.0)]);
    let pose = Pose { mirrored: true, degrees: 37.0, x: Length::mm(100.0), y: Length::mm(-20.0) };
    let placed = o.placed(&pose);
    assert!((placed.area().as_mm2() - o.area().as_mm2()).abs() < 1e-9);
    assert!((placed.perimeter().as_mm() - o.perimeter().as_mm()).abs() < 1e-9);
    assert_eq!(o.mirrored().mirrored(), o.mirrored().mirrored().mirrored().mirrored());
    assert_eq!(o.mirrored().bounds().low.x, -30.0);
}

#[test]
fn growing_and_shrinking() {
    let a = square(0.0, 0.0, 100.0);
    let grown = a.grown(Length::mm(15.0));
    // area of the square, its four borders and a disk, chords outside: at most 0.25 % more
    let exact = 100.0 * 100.0 + 4.0 * 100.0 * 15.0 + std::f64::consts::PI * 225.0;
    assert!(
        grown.area().as_mm2() >= exact && grown.area().as_mm2() < exact * 1.0025,
        "{}",
        grown.area().as_mm2() - exact
    );
    assert!((grown.ring_distance(&a).as_mm() - 15.0).abs() < 0.08);
    assert!(grown.ring_distance(&a).as_mm() >= 15.0 - 1e-6);
    let shrunk = a.shrunk(Length::mm(15.0));
    assert_eq!(shrunk.len(), 1);
    assert!((shrunk[0].area().as_mm2() - 70.0 * 70.0).abs() < 12.0);
    assert!(a.shrunk(Length::mm(51.0)).is_empty());
    // a dumbbell falls apart
    let bell = outline(&[
        (0.0, 0.0),
        (40.0, 0.0),
        (40.0, 18.0),
        (60.0, 18.0),
        (60.0, 0.0),
        (100.0, 0.0),
        (100.0, 40.0),
        (60.0, 40.0),
        (60.0, 22.0),
        (40.0, 22.0),
        (40.0, 40.0),
        (0.0, 40.0),
    ]);
    assert_eq!(bell.shrunk(Length::mm(5.0)).len(), 2);
}

#[test]
fn joining_and_cutting() {
    let joined = Outline::joined(&[square(0.0, 0.0, 10.0), square(5.0, 5.0, 10.0)]);
    assert_eq!(joined.len(), 1);
    assert!((joined[0].area().as_mm2() - 175.0).abs() < 1e-6);
    let rest = square(0.0, 0.0, 10.0).without(&[square(5.0, -1.0, 20.0)]);
    assert!((rest[0].area().as_mm2() - 50.0).abs() < 1e-6);
}
