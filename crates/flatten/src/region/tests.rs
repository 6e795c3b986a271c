use super::*;
use crate::Disk;

/// A grid of n × n squares on a rectangle, bent by a map from the plane.
fn sheet(n: u32, width: f64, height: f64, bend: impl Fn(f64, f64) -> [f64; 3]) -> Mesh {
    let vertices = (0..=n)
        .flat_map(|j| (0..=n).map(move |i| (i, j)))
        .map(|(i, j)| bend(width * f64::from(i) / f64::from(n), height * f64::from(j) / f64::from(n)))
        .collect();
    let v = |i: u32, j: u32| j * (n + 1) + i;
    let triangles = (0..n)
        .flat_map(|j| (0..n).map(move |i| (i, j)))
        .flat_map(|(i, j)| {
            if (i + j) % 2 == 0 {
                [[v(i, j), v(i + 1, j), v(i + 1, j + 1)], [v(i, j), v(i + 1, j + 1), v(i, j + 1)]]
            } else {
                [[v(i, j), v(i + 1, j), v(i, j + 1)], [v(i + 1, j), v(i + 1, j + 1), v(i, j + 1)]]
            }
        })
        .collect();
    Mesh { vertices, triangles }
}

fn length(path: &[[f64; 3]], from: usize, to: usize) -> f64 {
    path[from..=to].windows(2).map(|w| norm(sub(w[1], w[0]))).sum()
}

/// The length of the shortest way between two places as the region code finds it.
fn way(mesh: &Mesh, a: [f64; 3], b: [f64; 3]) -> f64 {
    let mut work = Work::of(mesh);
    let placed = place::nearest(&work.vertices, &work.triangles, a).unwrap();
    let a = work.insert(&placed);
    let placed = place::nearest(&work.vertices, &work.triangles, b).unwrap();
    let b = work.insert(&placed);
    let steps = geodesic::shortest(&work, a, b).unwrap();
    let walls = work.cut(a, &steps).unwrap();
    assert_eq!((walls.first().map(|w| w.0), walls.last().map(|w| w.1)), (Some(a), Some(b)));
    walls.iter().map(|(p, q)| work.length(*p, *q)).sum()
}

#[test]
fn the_way_on_a_plane_is_straight() {
    let mesh = sheet(37, 100.0, 100.0, |x, y| [x, y, 0.0]);
    for (a, b) in [
        ([3.0_f64, 7.0], [91.0, 88.0]),
        ([0.0, 0.0], [100.0, 37.3]),
        ([50.0, 99.0], [51.0, 1.0]),
        ([10.0, 50.0], [90.0, 50.0]),
    ] {
        let wanted = (a[0] - b[0]).hypot(a[1] - b[1]);
        let found = way(&mesh, [a[0], a[1], 0.0], [b[0], b[1], 0.0]);
        // ends and crossings near a vertex are moved onto it, which costs a little
        assert!((found / wanted - 1.0).abs() < 1e-5, "{a:?} {b:?}: {found} for {wanted}");
    }
}

#[test]
fn the_way_on_a_cylinder_unrolls_to_a_straight_line() {
    // developable, so the exact length is known: a helix
    let r = 200.0;
    let mesh = sheet(120, 400.0, 300.0, |x, y| [r * (x / r).sin(), y, r * (x / r).cos()]);
    let at = |x: f64, y: f64| [r * (x / r).sin(), y, r * (x / r).cos()];
    let found = way(&mesh, at(20.0, 30.0), at(380.0, 250.0));
    let wanted = 360f64.hypot(220.0);
    // facets are shorter than the arc by 1 − (h/r)²/24 = 1.2e-5
    assert!((found / wanted - 1.0).abs() < 5e-5, "{found} for {wanted}");
}

#[test]
fn the_way_on_a_ball_is_a_great_circle() {
    let r = 500.0;
    let at = |lon: f64, lat: f64| [r * lat.cos() * lon.sin(), r * lat.sin(), r * lat.cos() * lon.cos()];
    let mesh = sheet(90, 1.6, 1.6, |x, y| at(x - 0.8, y - 0.8));
    let (a, b) = (at(-0.7, -0.5), at(0.6, 0.7));
    let found = way(&mesh, a, b);
    let wanted = r * (crate::mesh::dot(a, b) / r / r).acos();
    assert!((found / wanted - 1.0).abs() < 2e-4, "{found} for {wanted}");
}

#[test]
fn the_way_keeps_around_a_hole_and_a_peak() {
    // around a square hole: two straight legs about its corner
    let mut mesh = sheet(20, 100.0, 100.0, |x, y| [x, y, 0.0]);
    mesh.triangles.retain(|t| {
        let c = t.map(|v| [f64::from(v % 21) * 5.0, f64::from(v / 21) * 5.0]);
        let m = [0, 1].map(|k| (c[0][k] + c[1][k] + c[2][k]) / 3.0);
        !(m[0] > 30.0 && m[0] < 70.0 && m[1] > 20.0 && m[1] < 70.0)
    });
    let found = way(&mesh, [50.0, 10.0, 0.0], [80.0, 90.0, 0.0]);
    let wanted = (20f64.hypot(10.0)) + (10f64.hypot(70.0));
    assert!((found / wanted - 1.0).abs() < 1e-5, "{found} for {wanted}");
    // a steep cone: the short way leads around its top. Unrolled, the cone is a sector of angle θ = 2π sin β, and points
    // half around are θ/2 apart
    let n = 90u32;
    let beta = 0.4f64;
    let ring = |k: u32, j: u32| {
        let (s, c) = (f64::from(k) * std::f64::consts::TAU / f64::from(n)).sin_cos();
        let l = 10.0 * f64::from(j);
        [l * beta.sin() * c, l * beta.sin() * s, -l * beta.cos()]
    };
    let mut vertices = vec![[0.0; 3]];
    let mut triangles = Vec::new();
    let rings = 20;
    for j in 1..=rings {
        vertices.extend((0..n).map(|k| ring(k, j)));
    }
    for k in 0..n {
        triangles.push([0, 1 + k, 1 + (k + 1) % n]);
        for j in 0..rings - 1 {
            let (a, b) = (1 + j * n + k, 1 + j * n + (k + 1) % n);
            triangles.extend([[a, a + n, b + n], [a, b + n, b]]);
        }
    }
    let cone = Mesh { vertices, triangles };
    let found = way(&cone, ring(0, 15), ring(45, 15));
    let half = std::f64::consts::PI * beta.sin();
    let wanted = if half < std::f64::consts::PI { 2.0 * 150.0 * (half / 2.0).sin() } else { 300.0 };
    assert!((found / wanted - 1.0).abs() < 1e-3, "{found} for {wanted}");
}

#[test]
fn a_loop_on_a_sheet_cuts_the_inside_out() {
    let bend = |x: f64, y: f64| [x, y, -((x - 50.0).powi(2) + (y - 50.0).powi(2)) / 400.0];
    let mesh = sheet(40, 100.0, 100.0, bend);
    let corners = [[20.3, 21.1], [80.2, 18.7], [77.0, 83.3], [24.9, 79.9]];
    let points: Vec<[f64; 3]> = corners.iter().map(|[x, y]| bend(*x, *y)).collect();
    let found = region(&mesh, &points, None).unwrap();
    let disk = Disk::new(found.mesh).unwrap();
    // seen from above it is nearly the drawn quadrangle: shortest ways bow out a little
    let seen: f64 = (0..disk.mesh().triangles.len()).map(|t| disk.mesh().cross(t)[2] / 2.0).sum();
    let wanted: f64 = (0..4)
        .map(|k| {
            let (p, q): ([f64; 2], [f64; 2]) = (corners[k], corners[(k + 1) % 4]);
            (p[0] * q[1] - p[1] * q[0]) / 2.0
        })
        .sum();
    assert!((seen / wanted - 1.0).abs() < 0.03, "{seen} for {wanted}");
    assert!(found.farthest.as_mm() < 0.1);
    assert!((length(&found.path, 0, found.path.len() - 1) / 241.0 - 1.0).abs() < 0.1);
    // the other way around, and the outside by a point
    let back: Vec<_> = points.iter().rev().copied().collect();
    let same = region(&mesh, &back, None).unwrap();
    assert!((same.mesh.area() / disk.mesh().area() - 1.0).abs() < 1e-6);
    let outside = region(&mesh, &points, Some(bend(5.0, 5.0))).unwrap();
    let whole = outside.mesh.area() + disk.mesh().area();
    assert!((whole / mesh.area() - 1.0).abs() < 1e-9);
}

#[test]
fn a_loop_near_the_rim_takes_the_large_side() {
    let mesh = sheet(40, 100.0, 100.0, |x, y| [x, y, 0.0]);
    let points = [[0.0, 0.0, 0.0], [100.0, 4.0, 0.0], [96.0, 100.0, 0.0], [2.0, 97.0, 0.0]];
    let found = region(&mesh, &points, None).unwrap();
    assert!(found.mesh.area().as_mm2() > 8_500.0, "{}", found.mesh.area().as_mm2());
    assert!(Disk::new(found.mesh).is_ok());
}

#[test]
fn loops_that_choose_nothing_are_refused() {
    let mesh = sheet(10, 100.0, 100.0, |x, y| [x, y, 0.0]);
    let check = |points: &[[f64; 3]], wanted: &str| {
        let said = region(&mesh, points, None).unwrap_err().to_string();
        assert!(said.contains(wanted), "{said}");
    };
    check(&[[10.0, 10.0, 0.0], [20.0, 10.0, 0.0]], "at least three");
    check(&[[10.0, 10.0, 0.0], [20.0, 10.0, 900.0], [20.0, 30.0, 0.0]], "point 2 of the loop lies 900 mm");
    check(
        &[[10.0, 10.0, 0.0], [60.0, 10.0, 0.0], [10.0, 10.0, 0.0], [60.0, 10.0, 0.0], [30.0, 10.0, 0.0]],
        "does not part the surface",
    );
}

#[test]
fn nearest_places_by_cubes_are_those_of_looking_at_all() {
    let mesh = sheet(25, 300.0, 200.0, |x, y| [x, y, 30.0 * (x / 60.0).sin() * (y / 50.0).cos()]);
    let places = Places::of(&mesh);
    for k in 0..200 {
        let f = f64::from(k);
        let p = [(f * 37.7) % 360.0 - 30.0, (f * 23.1) % 260.0 - 30.0, (f * 11.3) % 120.0 - 60.0];
        let (a, b) =
            (places.nearest(p).unwrap(), place::nearest(&mesh.vertices, &mesh.triangles, p).unwrap());
        assert!((a.off - b.off).as_mm().abs() < 1e-9, "{p:?}: {a:?} {b:?}");
    }
}
