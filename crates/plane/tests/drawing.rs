//! Files of a sheet, read back by small readers of their own and compared to 0.01 mm.
#![allow(clippy::unwrap_used)] // in the shared steps of tests

use plane::drawing::{Drawing, Label, Layer, Stroke};
use plane::{Bounds, Outline, Point};
use units::{Length, Seed};

/// 3 m of a 1520 mm roll with odd coordinates.
fn sheet() -> Drawing {
    let mut chance = Seed(5).sequence();
    let mut stroke = |layer, name: &str, closed| {
        let points =
            (0..40).map(|_| Point::mm(chance.between(0.0, 3000.0), chance.between(0.0, 1520.0))).collect();
        Stroke { layer, name: name.into(), points, closed }
    };
    let strokes =
        vec![stroke(Layer::Cut, "a", true), stroke(Layer::Cut, "b", false), stroke(Layer::Marks, "m", false)];
    let window = Bounds { low: Point::mm(0.0, 0.0), high: Point::mm(3000.0, 1520.0) };
    let labels =
        vec![Label { at: Point::mm(100.0, 200.0), height: Length::mm(8.0), text: "hood <1> é".into() }];
    Drawing { window, strokes, labels }
}

/// What a reader found: layer or pen, points with y up, closed.
type Found = (String, Vec<(f64, f64)>, bool);

fn compare(found: &[Found], drawing: &Drawing, name: impl Fn(Layer) -> String, tolerance: f64) {
    let mut wanted: Vec<&Stroke> = drawing.strokes.iter().collect();
    wanted.sort_by_key(|s| Layer::ALL.iter().position(|l| *l == s.layer));
    assert_eq!(found.len(), wanted.len());
    for (f, w) in found.iter().zip(wanted) {
        assert_eq!(f.0, name(w.layer));
        assert_eq!((f.1.len(), f.2), (w.points.len(), w.closed));
        for (a, b) in f.1.iter().zip(&w.points) {
            let (x, y) = (b.x, drawing.window.high.y - b.y);
            assert!((a.0 - x).abs() <= tolerance && (a.1 - y).abs() <= tolerance, "{a:?} for {b:?}");
        }
    }
}

#[test]
fn dxf_reads_back() {
    let drawing = sheet();
    let text = drawing.to_dxf();
    let lines: Vec<&str> = text.lines().map(str::trim).collect();
    let pairs: Vec<(i32, &str)> = lines.chunks_exact(2).map(|p| (p[0].parse().unwrap(), p[1])).collect();
    assert_eq!(pairs.last(), Some(&(0, "EOF")));
    let mut found: Vec<Found> = Vec::new();
    let mut vertex = false;
    for (code, value) in pairs.iter().skip_while(|p| **p != (2, "ENTITIES")) {
        match (code, *value) {
            (0, "POLYLINE") => found.push((String::new(), Vec::new(), false)),
            (0, kind) => vertex = kind == "VERTEX",
            (8, layer) if !vertex && !found.is_empty() => {
                let last = found.last_mut().unwrap();
                if last.0.is_empty() {
                    last.0 = layer.into();
                }
            }
            (70, flag) if !vertex => found.last_mut().unwrap().2 = flag == "1",
            (10, x) if vertex => found.last_mut().unwrap().1.push((x.parse().unwrap(), 0.0)),
            (20, y) if vertex => found.last_mut().unwrap().1.last_mut().unwrap().1 = y.parse().unwrap(),
            _ => {}
        }
    }
    compare(&found, &drawing, |l| l.name().into(), 0.000_001);
}

#[test]
fn hpgl_reads_back_at_forty_units_a_millimeter() {
    // printer language technical reference manual, table 17-7: one plotter unit is 0.025 mm
    let drawing = sheet();
    let text = drawing.to_hpgl();
    let (mut pen, mut at, mut found) = (String::new(), (0.0, 0.0), Vec::<Found>::new());
    for command in text.split(';').map(str::trim) {
        let Some(name) = command.get(..2) else { continue };
        let numbers: Vec<f64> = command[2..].split(',').filter_map(|n| n.parse().ok()).collect();
        let points: Vec<(f64, f64)> = numbers.chunks_exact(2).map(|p| (p[0] / 40.0, p[1] / 40.0)).collect();
        match name {
            "SP" => pen = command[2..].into(),
            "PU" if !points.is_empty() => at = points[0],
            "PD" => {
                let mut run = vec![at];
                run.extend(points);
                let closed = run.first() == run.last();
                if closed {
                    run.pop();
                }
                found.push((pen.clone(), run, closed));
            }
            _ => {}
        }
    }
    // half a unit is 0.0125 mm: the format itself is no finer
    compare(&found, &drawing, |l| l.pen().to_string(), 0.0126);
    assert!(text.contains("LBhood <1> ?\u{3};"), "{text}");
}

#[test]
fn svg_reads_back_with_its_layers() {
    let drawing = sheet();
    let text = drawing.to_svg();
    let document = roxmltree::Document::parse(&text).unwrap();
    assert_eq!(document.root_element().attribute("width"), Some("3000mm"));
    assert_eq!(document.root_element().attribute("viewBox"), Some("0 0 3000 1520"));
    let mut found: Vec<Found> = Vec::new();
    for path in document.descendants().filter(|n| n.has_tag_name("path")) {
        let d = path.attribute("d").unwrap();
        let points = d.trim_end_matches('Z').split(['M', 'L']).filter(|s| !s.is_empty());
        let point = |s: &str| {
            let (x, y) = s.trim().split_once(' ').unwrap();
            (x.parse().unwrap(), 1520.0 - y.parse::<f64>().unwrap())
        };
        let layer = path.parent().unwrap().attribute("id").unwrap();
        found.push((layer.into(), points.map(point).collect(), d.ends_with('Z')));
    }
    compare(&found, &drawing, |l| l.name().into(), 0.0001);
}

#[test]
fn what_was_cut_reads_back_as_outlines_and_is_not_mirrored() {
    // a shape that is not its own mirror image
    let ring =
        vec![Point::mm(10.0, 10.0), Point::mm(200.0, 10.0), Point::mm(200.0, 40.0), Point::mm(10.0, 300.0)];
    let outline = Outline::new(ring).unwrap();
    let window = Bounds { low: Point::mm(0.0, 0.0), high: Point::mm(400.0, 610.0) };
    let stroke =
        Stroke { layer: Layer::Cut, name: "a".into(), points: outline.points().to_vec(), closed: true };
    let mark = Stroke {
        layer: Layer::Marks,
        name: "m".into(),
        points: vec![window.low, window.high],
        closed: false,
    };
    let drawing = Drawing { window, strokes: vec![stroke, mark], labels: Vec::new() };
    let svg = plane::svg::read_outlines(&drawing.to_svg(), Length::mm(0.01)).unwrap();
    let dxf = plane::dxf::read_outlines(&drawing.to_dxf(), Length::mm(0.01)).unwrap();
    assert_eq!(svg[0].outline, outline);
    // DXF puts the sheet's lower edge at y = 0, so it comes back shifted by the width, not mirrored
    let back = dxf[0].outline.placed(&plane::Pose::shift(Length::ZERO, Length::mm(610.0)));
    assert!(
        back.points().iter().all(|p| outline.points().iter().any(|q| p.distance(*q).as_mm() < 0.01)),
        "{back:?}"
    );
    assert!((back.area().as_mm2() - outline.area().as_mm2()).abs() < 0.01);
}
