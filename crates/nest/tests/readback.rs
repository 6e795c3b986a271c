//! A real layout goes to the cutter's files and is read back by readers that know nothing of ours: SVG by `usvg`, the
//! library that Typst draws with; DXF and HPGL by small readers written here from the formats' references (DXF
//! reference, group codes 0, 8, 10, 20, 66, 70; printer language technical reference manual, table 17-7: 0.025 mm).
//! DXF is also read by ezdxf in `bench/cutfiles.py`, outside cargo.
#![allow(clippy::unwrap_used)] // in the shared steps of tests

use effort::Effort;
use nest::*;
use plane::drawing::Drawing;
use plane::{Outline, Point};
use std::collections::BTreeMap;
use units::Length;

const WIDTH: f64 = 1520.0;
/// What a file may be off by, mm.
const NEAR: f64 = 0.01;
/// Half a plotter unit more: HPGL is no finer than 0.025 mm, the bar of 0.01 mm is beyond the format.
const HPGL_NEAR: f64 = 0.0125 + 1e-9;

/// Thirty pieces on a roll, one with a hole, and their sheet.
fn sheet() -> (Vec<Vec<Point>>, Drawing) {
    let path = format!("{}/tests/data/film_job.json", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(path).unwrap();
    let instance = read_strip_json(&text, Length::mm(4.0), Length::mm(5.0)).unwrap();
    let outcome = nest(&instance, &Config::default(), &Effort::steps(5_000));
    assert!(outcome.is_complete());
    let largest =
        instance.pieces.iter().max_by(|a, b| a.outline.area().total_cmp(&b.outline.area())).unwrap();
    let c = largest.outline.centroid();
    let hole =
        [(-20.0, -10.0), (20.0, -10.0), (25.0, 15.0)].map(|(x, y)| Point::mm(c.x + x, c.y + y)).to_vec();
    let hole = Outline::new(hole).unwrap();
    assert!(hole.points().iter().all(|p| largest.outline.contains(*p)));
    let detail =
        PieceDetail { inner: vec![hole.clone()], marks: vec![(c, Point::mm(c.x + 9.0, c.y))], label: None };
    let details = BTreeMap::from([(largest.id.clone(), detail)]);
    let sheet = cut_sheet(&instance, &outcome.layout, STRIP, &details, &CutSettings::default()).unwrap();
    let mut wanted: Vec<Vec<Point>> = Vec::new();
    for p in &outcome.layout.placements {
        let piece = instance.pieces.iter().find(|q| q.id == p.piece).unwrap();
        wanted.push(piece.outline.placed(&p.pose).points().to_vec());
        if piece.id == largest.id {
            wanted.push(hole.placed(&p.pose).points().to_vec());
        }
    }
    (wanted, sheet)
}

/// Whether two rings have the same corners in the same order, from any corner and either way around.
fn same_ring(a: &[Point], b: &[Point], near: f64) -> bool {
    let n = a.len();
    let close = |p: Point, q: Point| (p.x - q.x).abs() <= near && (p.y - q.y).abs() <= near;
    n == b.len()
        && (0..n).any(|s| {
            (0..n).all(|i| close(a[i], b[(s + i) % n])) || (0..n).all(|i| close(a[i], b[(s + n - i) % n]))
        })
}

/// Every wanted ring once among the found ones, and nothing else.
fn check(wanted: &[Vec<Point>], mut found: Vec<Vec<Point>>, near: f64) {
    assert_eq!(found.len(), wanted.len());
    for ring in wanted {
        let at = found.iter().position(|f| same_ring(ring, f, near));
        found.remove(at.unwrap_or_else(|| panic!("a ring near {:?} is not in the file", ring[0])));
    }
}

#[test]
fn the_svg_holds_the_layout_for_another_reader() {
    let (wanted, sheet) = sheet();
    let text = sheet.to_svg();
    let tree = usvg::Tree::from_str(&text, &usvg::Options::default()).unwrap();
    // usvg works in pixels of 1/96 inch (CSS Values and Units 3); the view box is in mm
    let scale = f64::from(tree.size().height()) / 96.0 * 25.4 / WIDTH;
    assert!((scale - 1.0).abs() < 1e-5, "the sheet is {scale} times its size");
    let mm = 25.4 / 96.0;
    let mut layers: BTreeMap<String, Vec<Vec<Point>>> = BTreeMap::new();
    for node in tree.root().children() {
        collect(node, "", mm, &mut layers);
    }
    assert_eq!(layers["marks"].len(), wanted.len() - 30);
    // usvg keeps f32: a thousandth of a millimeter at ten meters
    check(&wanted, layers.remove("cut").unwrap(), NEAR);
}

fn collect(node: &usvg::Node, layer: &str, mm: f64, layers: &mut BTreeMap<String, Vec<Vec<Point>>>) {
    match node {
        usvg::Node::Group(group) => {
            let layer = if group.id().is_empty() { layer } else { group.id() };
            group.children().iter().for_each(|n| collect(n, layer, mm, layers));
        }
        usvg::Node::Path(path) => {
            let t = path.abs_transform();
            let points = path.data().points().iter().map(|p| {
                let (x, y) = (f64::from(p.x), f64::from(p.y));
                let at = |a: f32, b: f32, c: f32| (f64::from(a) * x + f64::from(b) * y + f64::from(c)) * mm;
                Point::mm(at(t.sx, t.kx, t.tx), at(t.ky, t.sy, t.ty))
            });
            layers.entry(layer.to_owned()).or_default().push(points.collect());
        }
        _ => {}
    }
}

#[test]
fn the_dxf_holds_the_layout_for_another_reader() {
    let (wanted, sheet) = sheet();
    let text = sheet.to_dxf();
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    assert!(lines.len().is_multiple_of(2));
    let (mut found, mut ring, mut layer, mut kind): (Vec<Vec<Point>>, Vec<Point>, &str, &str) =
        (Vec::new(), Vec::new(), "", "");
    let mut x = 0.0;
    for pair in lines.chunks_exact(2) {
        match (pair[0].parse::<i32>().unwrap(), pair[1]) {
            (0, entity) => {
                if entity == "SEQEND" && layer == "cut" {
                    found.push(std::mem::take(&mut ring));
                } else if entity == "POLYLINE" {
                    ring.clear();
                }
                kind = entity;
            }
            (8, name) => layer = name,
            (10, v) if kind == "VERTEX" => x = v.parse().unwrap(),
            // y runs up from the sheet's lower edge
            (20, v) if kind == "VERTEX" => ring.push(Point::mm(x, WIDTH - v.parse::<f64>().unwrap())),
            _ => {}
        }
    }
    check(&wanted, found, NEAR);
}

#[test]
fn the_hpgl_holds_the_layout_for_another_reader() {
    let (wanted, sheet) = sheet();
    let text = sheet.to_hpgl();
    let (mut pen, mut down, mut at) = ("", false, Point::default());
    let mut found: Vec<Vec<Point>> = Vec::new();
    for command in text.split(';').map(str::trim).filter(|c| c.len() >= 2) {
        let (name, rest) = command.split_at(2);
        if name == "LB" {
            continue;
        }
        match name {
            "SP" => pen = rest,
            "PU" => down = false,
            "PD" => {
                down = true;
                if pen == "1" {
                    found.push(vec![at]);
                }
            }
            _ => continue,
        }
        let numbers: Vec<f64> = rest.split(',').filter_map(|n| n.trim().parse().ok()).collect();
        for xy in numbers.chunks_exact(2) {
            at = Point::mm(xy[0] / 40.0, WIDTH - xy[1] / 40.0);
            if down && pen == "1" {
                found.last_mut().unwrap().push(at);
            }
        }
    }
    for run in &mut found {
        assert_eq!(run.first(), run.last(), "every cut is closed");
        run.pop();
    }
    check(&wanted, found, HPGL_NEAR);
}

#[test]
fn the_reader_of_this_test_sees_a_displaced_ring() {
    let (wanted, sheet) = sheet();
    let mut moved = sheet.clone();
    moved.strokes.iter_mut().for_each(|s| s.points[0].x += 0.02);
    assert!(!moved.strokes.iter().any(|s| wanted.iter().any(|w| same_ring(w, &s.points, NEAR))));
    assert!(
        sheet.strokes.iter().filter(|s| wanted.iter().any(|w| same_ring(w, &s.points, NEAR))).count() >= 30
    );
}
