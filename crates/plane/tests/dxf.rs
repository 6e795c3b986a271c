//! Facts about reading DXF. Group codes: DXF reference. Bulge and units, checked with ezdxf 1.4.5:
//! bulge = tan(angle/4); (0,0)–(2,0) with bulge 1 has its center at (1,0) and radius 1; (1,0)–(0,1) with bulge
//! tan(π/8) has its center at (0,0) and radius 1; $INSUNITS 1 inch, 4 mm, 5 cm, 6 m.
#![allow(clippy::unwrap_used)] // in the shared steps of tests

use plane::dxf::{DxfFlaw, read_outlines};
use std::f64::consts::PI;
use units::Length;

/// A file from `code value` words per line of `entities`, lines separated by `;`.
fn file(units: u32, entities: &str) -> String {
    let mut text =
        format!("0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n{units}\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n");
    for pair in entities.split(';').map(str::trim).filter(|p| !p.is_empty()) {
        let (code, value) = pair.split_once(' ').unwrap();
        text += &format!("{code}\n{}\n", value.trim());
    }
    text + "0\nENDSEC\n0\nEOF\n"
}

fn check(entities: &str, area: f64, bounds: [f64; 4]) {
    let found = read_outlines(&file(4, entities), Length::mm(0.0005)).unwrap();
    assert_eq!(found.len(), 1, "{entities}");
    let (o, b) = (&found[0].outline, found[0].outline.bounds());
    assert!(
        (o.area().as_mm2() - area).abs() <= 2e-3 * area.max(1.0),
        "{entities}: {} mm²",
        o.area().as_mm2()
    );
    // y is turned over
    for (got, want) in [b.low.x, -b.high.y, b.high.x, -b.low.y].into_iter().zip(bounds) {
        assert!((got - want).abs() < 0.002, "{entities}: {b:?}");
    }
}

const SQUARE: &str = "0 LWPOLYLINE;8 film;90 4;70 1;10 0;20 0;10 30;20 0;10 30;20 20;10 0;20 20";

#[test]
fn polylines_with_and_without_bulges() {
    check(SQUARE, 600.0, [0.0, 0.0, 30.0, 20.0]);
    // half a disk: the bulge of 1 from (2,0) back to (0,0) bends up
    check("0 LWPOLYLINE;8 a;70 1;10 0;20 0;10 2;20 0;42 1", PI / 2.0, [0.0, 0.0, 2.0, 1.0]);
    check("0 LWPOLYLINE;8 a;70 1;10 0;20 0;42 1;10 2;20 0", PI / 2.0, [0.0, -1.0, 2.0, 0.0]);
    // a quarter of the unit disk
    check(
        "0 LWPOLYLINE;8 a;70 1;10 0;20 0;10 1;20 0;42 0.41421356237309503;10 0;20 1",
        PI / 4.0,
        [0.0, 0.0, 1.0, 1.0],
    );
    check(
        "0 POLYLINE;8 a;66 1;70 1;0 VERTEX;10 0;20 0;0 VERTEX;10 2;20 0;42 1;0 SEQEND",
        PI / 2.0,
        [0.0, 0.0, 2.0, 1.0],
    );
}

#[test]
fn circles_arcs_ellipses_and_lines_that_meet() {
    check("0 CIRCLE;8 a;10 5;20 6;40 10", 100.0 * PI, [-5.0, -4.0, 15.0, 16.0]);
    check(
        "0 ELLIPSE;8 a;10 0;20 0;11 20;21 0;40 0.5;41 0;42 6.283185307179586",
        200.0 * PI,
        [-20.0, -10.0, 20.0, 10.0],
    );
    // half a disk from an arc and a line drawn the wrong way round
    check(
        "0 ARC;8 a;10 0;20 0;40 10;50 0;51 180;0 LINE;8 a;10 10;20 0;11 -10;21 0",
        50.0 * PI,
        [-10.0, 0.0, 10.0, 10.0],
    );
    check(
        "0 LINE;8 a;10 0;20 0;11 4;21 0;0 LINE;8 a;10 4;20 3;11 4;21 0;0 LINE;8 a;10 4;20 3;11 0;21 0",
        6.0,
        [0.0, 0.0, 4.0, 3.0],
    );
}

#[test]
fn splines_follow_their_definition() {
    // A cubic Bézier as a spline: the parabola of height 10 over 20, whose area is two thirds of its box.
    check(
        "0 SPLINE;8 a;70 0;71 3;40 0;40 0;40 0;40 0;40 1;40 1;40 1;40 1;10 0;20 0;10 6.6666666667;20 13.3333333333;10 13.3333333333;20 13.3333333333;10 20;20 0;0 LINE;8 a;10 0;20 0;11 20;21 0",
        400.0 / 3.0,
        [0.0, 0.0, 20.0, 10.0],
    );
    // A full circle of radius 1 as a rational quadratic of nine controls (The NURBS Book, example 7.2).
    let w = std::f64::consts::FRAC_1_SQRT_2;
    let controls = [(1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0)];
    let mut spline = String::from("0 SPLINE;8 a;70 1;71 2;");
    for k in [0.0, 0.0, 0.0, 0.25, 0.25, 0.5, 0.5, 0.75, 0.75, 1.0, 1.0, 1.0] {
        spline += &format!("40 {k};");
    }
    for (i, (x, y)) in controls.iter().enumerate() {
        spline += &format!("41 {};10 {x};20 {y};", if i % 2 == 1 { w } else { 1.0 });
    }
    check(&spline, PI, [-1.0, -1.0, 1.0, 1.0]);
}

#[test]
fn units_of_the_header_hold() {
    for (units, mm) in [(0, 1.0), (1, 25.4), (2, 304.8), (4, 1.0), (5, 10.0), (6, 1000.0)] {
        let found = read_outlines(&file(units, SQUARE), Length::mm(0.1)).unwrap();
        assert!((found[0].outline.bounds().width().as_mm() - 30.0 * mm).abs() < 1e-9, "{units}");
    }
    assert!(matches!(read_outlines(&file(13, SQUARE), Length::mm(0.1)), Err(DxfFlaw::NotDxf { .. })));
}

#[test]
fn shapes_inside_others_are_cuts_in_them() {
    let two = format!("{SQUARE};0 CIRCLE;8 film;10 10;20 10;40 2;0 CIRCLE;8 other;10 10;20 10;40 2");
    let found = read_outlines(&file(4, &two), Length::mm(0.1)).unwrap();
    assert_eq!(
        found.iter().map(|f| (f.name.as_str(), f.inner.len())).collect::<Vec<_>>(),
        [("film", 1), ("other", 0)]
    );
}

#[test]
fn what_is_wrong_is_named_with_layer_line_and_remedy() {
    let says = |entities: &str| read_outlines(&file(4, entities), Length::mm(0.1)).unwrap_err().to_string();
    let open = says("0 LINE;8 hood;10 0;20 0;11 50;21 0");
    assert!(open.starts_with("LINE on layer 'hood' (line 15): the outline is open"), "{open}");
    assert!(says("0 INSERT;8 a;2 block;10 0;20 0").contains("explode blocks"));
    assert!(says("0 CIRCLE;8 a;10 0;20 0;40 -4").contains("draw it anew"));
    assert!(says("0 SPLINE;8 a;71 3;40 0;40 1;10 0;20 0").contains("draw it anew"));
    assert!(
        says("0 LWPOLYLINE;8 a;70 1;10 0;20 0;10 5;20 5;10 5;20 0;10 0;20 5")
            .contains("crosses or touches itself")
    );
    assert!(says("0 TEXT;8 a;1 hello").contains("no closed shape"));
    let bad = |text: &str| read_outlines(text, Length::mm(0.1)).unwrap_err();
    assert!(matches!(bad(""), DxfFlaw::NotDxf { .. }));
    assert!(matches!(bad("AutoCAD Binary DXF\r\n\u{1a}\0"), DxfFlaw::NotDxf { line: 1, .. }));
    assert!(matches!(bad("0\nSECTION\n2\nENTITIES\n0"), DxfFlaw::NotDxf { line: 5, .. }));
}
