//! Facts about cut sheets.
#![allow(clippy::unwrap_used)] // in the shared steps of tests

use effort::Effort;
use nest::*;
use plane::drawing::{Drawing, Layer};
use plane::{Outline, Point};
use std::collections::BTreeMap;
use units::Length;

fn sheet(settings: &CutSettings) -> (Instance, Layout, Drawing) {
    let ring = [(0.0, 0.0), (300.0, 0.0), (260.0, 180.0), (40.0, 220.0)];
    let outline = Outline::new(ring.map(|(x, y)| Point::mm(x, y)).to_vec()).unwrap();
    let hole = [(100.0, 80.0), (130.0, 80.0), (130.0, 110.0), (100.0, 110.0)];
    let hole = Outline::new(hole.map(|(x, y)| Point::mm(x, y)).to_vec()).unwrap();
    let piece = Piece {
        id: "bumper".into(),
        outline,
        count: 9,
        rotations: Rotations::Free,
        mirrorable: true,
        together: None,
        priority: 0,
    };
    let kind = ContainerKind::Roll {
        width: Length::mm(910.0),
        length_left: Length::m(15.0),
        margin: Length::mm(5.0),
        bad_spots: Vec::new(),
    };
    let containers = vec![Container { id: "R".into(), kind }];
    let instance = Instance { pieces: vec![piece], containers, gap: Length::mm(4.0), locked: Vec::new() };
    let outcome = nest(&instance, &Config::default(), &Effort::steps(20_000));
    let marks = vec![(Point::mm(150.0, 60.0), Point::mm(150.0, 70.0))];
    let detail = PieceDetail { inner: vec![hole], marks, label: None };
    let details = BTreeMap::from([("bumper".to_owned(), detail)]);
    let drawing = cut_sheet(&instance, &outcome.layout, "R", &details, settings).unwrap();
    (instance, outcome.layout, drawing)
}

#[test]
fn the_cut_file_reads_back_as_the_layout_to_a_hundredth() {
    let (instance, layout, drawing) = sheet(&CutSettings::default());
    let near = |outline: &Outline| {
        let placed = layout.placements.iter().map(|p| instance.pieces[0].outline.placed(&p.pose));
        placed.into_iter().any(|p| {
            let close = |q: &Point| outline.points().iter().any(|r| q.distance(*r).as_mm() <= 0.01);
            p.points().iter().all(close) && p.points().len() == outline.points().len()
        })
    };
    let svg = plane::svg::read_outlines(&drawing.to_svg(), Length::mm(0.01)).unwrap();
    // the reader sees each closed path by itself: nine outlines and nine holes
    assert_eq!(svg.len(), 18);
    assert_eq!(svg.iter().filter(|s| near(&s.outline)).count(), 9);
    let dxf = plane::dxf::read_outlines(&drawing.to_dxf(), Length::mm(0.01)).unwrap();
    assert_eq!(dxf.len(), 9);
    let turned_over = |o: &Outline| {
        let flipped = o.points().iter().map(|p| Point::mm(p.x, p.y + 910.0)).collect();
        Outline::new(flipped).unwrap()
    };
    assert!(dxf.iter().all(|s| s.inner.len() == 1 && near(&turned_over(&s.outline))));
}

#[test]
fn inner_cuts_come_before_their_outline() {
    let (_, _, drawing) = sheet(&CutSettings::default());
    let cuts: Vec<_> = drawing.strokes.iter().filter(|s| s.layer == Layer::Cut).collect();
    assert_eq!(cuts.len(), 18);
    for pair in cuts.chunks(2) {
        assert_eq!(pair[0].name, pair[1].name);
        let size = |i: usize| Outline::new(pair[i].points.clone()).unwrap().area().as_mm2();
        assert!(size(0) < size(1));
    }
    assert_eq!(drawing.strokes.iter().filter(|s| s.layer == Layer::Marks).count(), 9);
    assert_eq!(drawing.labels.len(), 9);
}

#[test]
fn the_order_of_pieces_travels_less_than_that_of_the_list() {
    let (instance, layout, drawing) = sheet(&CutSettings { labels: None, ..CutSettings::default() });
    let travel = |stops: &[Point]| stops.windows(2).map(|w| w[0].distance(w[1]).as_mm()).sum::<f64>();
    let center = |points: &[Point]| plane::Bounds::around(points).unwrap().center();
    let outer = drawing.strokes.iter().filter(|s| s.layer == Layer::Cut).skip(1).step_by(2);
    let way: Vec<Point> = outer.map(|s| center(&s.points)).collect();
    let list: Vec<Point> = layout
        .placements
        .iter()
        .map(|p| instance.pieces[0].outline.placed(&p.pose).bounds().center())
        .collect();
    assert!(travel(&way) < travel(&list), "{} {}", travel(&way), travel(&list));
}

#[test]
fn overcut_goes_on_over_the_start_and_lead_in_comes_from_the_waste() {
    let settings = CutSettings { overcut: Length::mm(3.0), lead_in: Length::mm(9.0), labels: None };
    let (instance, layout, drawing) = sheet(&settings);
    assert!(drawing.labels.is_empty());
    let placed: Vec<Outline> =
        layout.placements.iter().map(|p| instance.pieces[0].outline.placed(&p.pose)).collect();
    for (i, stroke) in drawing.strokes.iter().filter(|s| s.layer == Layer::Cut).enumerate() {
        let (inner, n) = (i % 2 == 0, stroke.points.len());
        assert!(!stroke.closed);
        // lead-in point, corners, first corner again, overcut
        assert_eq!(n, 7);
        assert_eq!(stroke.points[1], stroke.points[5]);
        assert!((stroke.points[5].distance(stroke.points[6]).as_mm() - 3.0).abs() < 1e-9);
        // no more than half the gap of 4 mm
        assert!((stroke.points[0].distance(stroke.points[1]).as_mm() - 2.0).abs() < 1e-9);
        let ring = Outline::new(stroke.points[1..5].to_vec()).unwrap();
        assert_eq!(ring.contains(stroke.points[0]), inner, "in the waste");
        if !inner {
            assert!(placed.iter().all(|p| !p.contains(stroke.points[0])), "not in a neighbor");
        }
    }
}

#[test]
fn unknown_containers_are_refused() {
    let (instance, layout, _) = sheet(&CutSettings::default());
    let flaw = cut_sheet(&instance, &layout, "X", &BTreeMap::new(), &CutSettings::default()).unwrap_err();
    assert_eq!(flaw, Flaw::Unknown { id: "X".into() });
}
