use super::*;
use crate::Disk;

/// A bulging grid of n × n squares of 10 mm, two triangles each, facing +z.
fn grid(n: u32) -> Mesh {
    let at = |i: u32, j: u32| {
        let (x, y) = (f64::from(i) * 10.0, f64::from(j) * 10.0);
        let m = f64::from(n) * 5.0;
        [x, y, -((x - m).powi(2) + (y - m).powi(2)) / 1000.0]
    };
    let vertices = (0..=n).flat_map(|j| (0..=n).map(move |i| at(i, j))).collect();
    let v = |i: u32, j: u32| j * (n + 1) + i;
    let triangles = (0..n)
        .flat_map(|j| (0..n).map(move |i| (i, j)))
        .flat_map(|(i, j)| [[v(i, j), v(i + 1, j), v(i + 1, j + 1)], [v(i, j), v(i + 1, j + 1), v(i, j + 1)]])
        .collect();
    Mesh { vertices, triangles }
}

/// Each triangle with corners of its own.
fn soup(mesh: &Mesh) -> Mesh {
    let vertices = (0..mesh.triangles.len()).flat_map(|t| mesh.corners(t)).collect();
    Mesh {
        vertices,
        triangles: (0..mesh.triangles.len() as u32).map(|t| [3 * t, 3 * t + 1, 3 * t + 2]).collect(),
    }
}

fn mended(mesh: &Mesh) -> (Mesh, RepairReport) {
    repair(mesh, &RepairConfig::default()).unwrap()
}

fn closed(mesh: &Mesh, limit: f64) -> (Closed, RepairReport) {
    let mut report = RepairReport::default();
    (close_holes(mesh, Length::mm(limit), &mut report).unwrap(), report)
}

#[test]
fn what_is_clean_comes_through_as_it_is() {
    let mesh = grid(6);
    let (back, report) = mended(&mesh);
    assert_eq!(back, mesh);
    assert!(report.is_clean() && report.warnings.is_empty(), "{report:?}");
}

#[test]
fn vertices_at_one_place_are_welded() {
    let (mesh, report) = mended(&soup(&grid(6)));
    assert_eq!((mesh.vertices.len(), report.welded.count), (49, 3 * 72 - 49));
    assert_eq!(report.welded.places.len(), 8);
    assert!(Disk::new(mesh).is_ok());
}

#[test]
fn flipped_triangles_are_turned_back() {
    let mut mesh = grid(6);
    for t in [3, 20, 21, 40] {
        mesh.triangles[t].swap(1, 2);
    }
    let (mesh, report) = mended(&mesh);
    assert_eq!(report.flipped.count, 4);
    assert_eq!(mesh.triangles.len(), 72);
    assert!((0..72).all(|t| mesh.cross(t)[2] > 0.0));
    assert!(Disk::new(mesh).is_ok());
}

#[test]
fn triangles_without_area_leave_no_crack() {
    let mut mesh = grid(4);
    // a needle: a vertex a hair beside another, with the slit between them filled
    let v = mesh.vertices.len() as u32;
    let p = mesh.vertices[12];
    mesh.vertices.push([p[0] + 8e-4, p[1], p[2]]);
    let right: Vec<usize> =
        (0..32).filter(|t| mesh.triangles[*t].contains(&12) && mesh.triangles[*t].contains(&13)).collect();
    for t in right {
        mesh.triangles[t] = mesh.triangles[t].map(|c| if c == 12 { v } else { c });
    }
    mesh.triangles.push([12, v, 18]);
    mesh.triangles.push([12, 7, v]);
    // a triangle with one vertex twice, and one that is there already
    mesh.triangles.push([0, 0, 1]);
    mesh.triangles.push(mesh.triangles[5]);
    let (back, report) = mended(&mesh);
    assert_eq!((report.degenerate.count, report.repeated.count), (3, 1), "{report:?}");
    let disk = Disk::new(back).unwrap();
    assert!((disk.mesh().area().as_mm2() - grid(4).area().as_mm2()).abs() < 0.1);
}

#[test]
fn a_cap_without_area_gives_its_side_to_its_neighbor() {
    // four corners of a square; a vertex in the middle of the lower triangle's side, with a flat cap beside it
    let vertices =
        vec![[0.0, 0.0, 0.0], [10.0, 0.0, 0.0], [10.0, 10.0, 0.0], [0.0, 10.0, 0.0], [5.0, 5.0, 0.0]];
    let triangles = vec![[0, 1, 4], [1, 2, 4], [0, 4, 2], [0, 2, 3]];
    let (mesh, report) = mended(&Mesh { vertices, triangles });
    assert_eq!(report.degenerate.count, 1);
    let disk = Disk::new(mesh).unwrap();
    assert_eq!(disk.rim().len(), 4);
    assert!((disk.mesh().area().as_mm2() - 100.0).abs() < 1e-9);
}

#[test]
fn a_fin_is_parted_and_dropped() {
    let mut mesh = grid(6);
    let v = mesh.vertices.len() as u32;
    mesh.vertices.push([30.0, 35.0, 40.0]);
    mesh.triangles.push([24, 31, v]);
    let (mesh, report) = mended(&mesh);
    assert_eq!(report.parted_edges.count, 1);
    let at = report.parted_edges.places[0];
    assert!((at[0] - 30.0).abs() < 1e-9 && (at[1] - 35.0).abs() < 1e-9, "{at:?}");
    assert_eq!(mesh.triangles.len(), 72);
    assert!(Disk::new(mesh).is_ok());
}

#[test]
fn islands_are_dropped_and_named() {
    let mut mesh = grid(6);
    let v = mesh.vertices.len() as u32;
    mesh.vertices.extend([[200.0, 0.0, 0.0], [210.0, 0.0, 0.0], [200.0, 10.0, 0.0]]);
    mesh.triangles.push([v, v + 1, v + 2]);
    // and one that touches at a corner alone
    mesh.vertices.extend([[-10.0, -5.0, 0.0], [-5.0, -10.0, 0.0]]);
    mesh.triangles.push([0, v + 3, v + 4]);
    let (mesh, report) = mended(&mesh);
    assert_eq!((report.islands.len(), report.parted_vertices.count), (2, 1));
    assert!((report.islands[0].area.as_mm2() - 50.0).abs() < 1e-9);
    assert!(Disk::new(mesh).is_ok());
}

#[test]
fn a_band_with_a_twist_is_parted() {
    // Möbius: no orientation fits all around
    let n = 24u32;
    let vertices = (0..n)
        .flat_map(|k| {
            let (t, h) = (
                f64::from(k) * std::f64::consts::TAU / f64::from(n),
                f64::from(k) * std::f64::consts::PI / f64::from(n),
            );
            [-1.0, 1.0].map(|s| {
                let r = 100.0 + 20.0 * s * h.cos();
                [r * t.cos(), r * t.sin(), 20.0 * s * h.sin()]
            })
        })
        .collect();
    let triangles = (0..n)
        .flat_map(|k| {
            let (a, b) = (2 * k, 2 * k + 1);
            let (c, d) = if k + 1 == n { (1, 0) } else { (2 * k + 2, 2 * k + 3) };
            [[a, c, b], [b, c, d]]
        })
        .collect();
    let (mesh, report) = mended(&Mesh { vertices, triangles });
    assert_eq!(report.parted_edges.count, 1);
    assert!(Disk::new(mesh).is_ok());
}

#[test]
fn small_holes_are_filled_and_large_ones_kept() {
    let mut mesh = grid(12);
    // one square out, and a block of 4 × 4
    mesh.triangles.retain(|t| {
        let m = t.map(|v| [f64::from(v % 13), f64::from(v / 13)]);
        let (x, y) = ((m[0][0] + m[1][0] + m[2][0]) / 3.0, (m[0][1] + m[1][1] + m[2][1]) / 3.0);
        let in_box = |a: f64, b: f64, c: f64, d: f64| x > a && x < b && y > c && y < d;
        !(in_box(1.0, 2.0, 1.0, 2.0) || in_box(5.0, 9.0, 5.0, 9.0))
    });
    let (mesh, _) = mended(&mesh);
    let (closed, report) = closed(&mesh, 60.0);
    assert_eq!(report.holes.iter().map(|h| h.kept).collect::<Vec<_>>(), [false, true]);
    assert!((report.holes[1].rim.as_mm() - 160.0).abs() < 2.0);
    assert_eq!((closed.cut_outs.len(), closed.cut_outs[0].len()), (1, 16));
    let disk = Disk::new(closed.mesh).unwrap();
    assert!((disk.mesh().area() / grid(12).area() - 1.0).abs() < 1e-2);
    assert!((0..disk.mesh().triangles.len()).all(|t| disk.mesh().cross(t)[2] > 0.0));
}

#[test]
fn long_rims_are_clipped_ear_by_ear() {
    // a wide ring: its inner rim has 120 corners
    let n = 120u32;
    let vertices = (0..n)
        .flat_map(|k| {
            let (s, c) = (f64::from(k) * std::f64::consts::TAU / f64::from(n)).sin_cos();
            [[100.0 * c, 100.0 * s, 0.0], [150.0 * c, 150.0 * s, 0.0]]
        })
        .collect();
    let triangles = (0..n)
        .flat_map(|k| {
            let (a, b, c, d) = (2 * k, 2 * k + 1, (2 * k + 2) % (2 * n), (2 * k + 3) % (2 * n));
            [[a, b, d], [a, d, c]]
        })
        .collect();
    let (closed, report) = closed(&Mesh { vertices, triangles }, 1e4);
    assert!(!report.holes[0].kept);
    let disk = Disk::new(closed.mesh).unwrap();
    // a polygon of 120 corners on a circle of 150 mm
    let wanted = 0.5 * 120.0 * 150.0 * 150.0 * (std::f64::consts::TAU / 120.0).sin();
    assert!((disk.mesh().area().as_mm2() - wanted).abs() < 1e-6 * wanted);
}

#[test]
fn a_panel_inside_out_is_warned_about() {
    let (_, report) = mended(&turned_over(&grid(6)));
    assert!(report.warnings[0].contains("inside out"), "{:?}", report.warnings);
    assert!(mended(&turned_over(&turned_over(&grid(6)))).1.warnings.is_empty());
}

#[test]
fn nothing_but_damage_is_an_error() {
    let flat =
        Mesh { vertices: vec![[0.0; 3], [1.0, 0.0, 0.0], [2.0, 0.0, 0.0]], triangles: vec![[0, 1, 2]] };
    assert_eq!(repair(&flat, &RepairConfig::default()), Err(MeshFlaw::Empty));
}
