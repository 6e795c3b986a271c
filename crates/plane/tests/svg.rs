//! Facts about reading SVG. Expected sizes are those of the shapes themselves; units: CSS Values and Units 3
//! (96 px are one inch); transforms: SVG 2, chapter 8; path commands: SVG 2, chapter 9.
#![allow(clippy::unwrap_used)] // in the shared steps of tests

use plane::svg::{ElementProblem, SvgFlaw, read_outlines, write_outlines};
use plane::{Outline, OutlineFlaw, Point, Repair};
use units::Length;

fn read(body: &str) -> Vec<plane::svg::NamedOutline> {
    let text = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='200mm' viewBox='0 0 100 200'>\n{body}\n</svg>"
    );
    read_outlines(&text, Length::mm(0.0002)).unwrap()
}

fn flaw(body: &str) -> String {
    let text = format!(
        "<svg xmlns='http://www.w3.org/2000/svg' width='100mm' height='200mm' viewBox='0 0 100 200'>\n{body}\n</svg>"
    );
    read_outlines(&text, Length::mm(0.01)).unwrap_err().to_string()
}

/// Reads one shape and compares its area (mm²) and box (mm).
fn check(body: &str, area: f64, bounds: [f64; 4]) {
    let found = read(body);
    assert_eq!(found.len(), 1, "{body}");
    let o = &found[0].outline;
    let b = o.bounds();
    let close = |a: f64, b: f64, within: f64| (a - b).abs() <= within;
    assert!(close(o.area().as_mm2(), area, 1e-4 * area), "{body}: {} mm²", o.area().as_mm2());
    for (got, want) in [b.low.x, b.low.y, b.high.x, b.high.y].into_iter().zip(bounds) {
        assert!(close(got, want, 0.002), "{body}: {b:?}");
    }
}

#[test]
fn basic_shapes_have_their_areas() {
    use std::f64::consts::PI;
    check("<rect x='1' y='2' width='30' height='20'/>", 600.0, [1.0, 2.0, 31.0, 22.0]);
    check("<rect width='30' height='20' rx='5'/>", 600.0 - (4.0 - PI) * 25.0, [0.0, 0.0, 30.0, 20.0]);
    check("<rect width='30' height='20' rx='5' ry='2'/>", 600.0 - (4.0 - PI) * 10.0, [0.0, 0.0, 30.0, 20.0]);
    check("<circle cx='50' cy='60' r='40'/>", PI * 1600.0, [10.0, 20.0, 90.0, 100.0]);
    check("<ellipse cx='50' cy='60' rx='40' ry='10'/>", PI * 400.0, [10.0, 50.0, 90.0, 70.0]);
    check("<polygon points='0,0 30,0 30,40'/>", 600.0, [0.0, 0.0, 30.0, 40.0]);
    check("<polyline points='0,0 30,0 30,40 0,0'/>", 600.0, [0.0, 0.0, 30.0, 40.0]);
}

#[test]
fn every_path_command_is_drawn() {
    use std::f64::consts::PI;
    check("<path d='M10 10h30v20h-30z'/>", 600.0, [10.0, 10.0, 40.0, 30.0]);
    check("<path d='M10 10H40V30H10Z'/>", 600.0, [10.0, 10.0, 40.0, 30.0]);
    check("<path d='m10 10 30 0 0 20-30 0z'/>", 600.0, [10.0, 10.0, 40.0, 30.0]);
    // A half disk by an arc, either way around, and by one that is scaled up to reach (SVG 2, B.2.5).
    check("<path d='M10 50A20 20 0 0 1 50 50Z'/>", PI * 200.0, [10.0, 30.0, 50.0, 50.0]);
    check("<path d='M10 50a20 20 0 0 0 40 0z'/>", PI * 200.0, [10.0, 50.0, 50.0, 70.0]);
    check("<path d='M10 50A1 1 0 0 1 50 50Z'/>", PI * 200.0, [10.0, 30.0, 50.0, 50.0]);
    // Three quarters of a disk.
    check("<path d='M50 30A20 20 0 1 1 30 50L50 50Z'/>", PI * 300.0, [30.0, 30.0, 70.0, 70.0]);
    // Area under a parabola is two thirds of its box: quadratic from (0,0) over (10,20) to (20,0) peaks at 10.
    check("<path d='M0 0Q10 20 20 0Z'/>", 2.0 / 3.0 * 200.0, [0.0, 0.0, 20.0, 10.0]);
    // Smooth quadratic: the second arch is the mirror image of the first, on the other side.
    check("<path d='M0 50Q10 70 20 50T40 50L40 100L0 100Z'/>", 2000.0, [0.0, 40.0, 40.0, 100.0]);
    // The cubic of the same parabola: controls two thirds of the way.
    check(
        "<path d='M0 0C6.666666667 13.333333333 13.333333333 13.333333333 20 0Z'/>",
        2.0 / 3.0 * 200.0,
        [0.0, 0.0, 20.0, 10.0],
    );
    // Smooth cubic: point symmetric about (20, 50), so both halves cancel.
    check("<path d='M0 50C5 60 15 60 20 50S35 40 40 50L40 100L0 100Z'/>", 2000.0, [0.0, 42.5, 40.0, 100.0]);
}

#[test]
fn units_are_those_of_css() {
    let size = |head: &str| {
        let text =
            format!("<svg xmlns='http://www.w3.org/2000/svg' {head}><rect width='96' height='48'/></svg>");
        let found = read_outlines(&text, Length::mm(0.01)).unwrap();
        let b = found[0].outline.bounds();
        (b.width().as_mm(), b.height().as_mm())
    };
    let close = |(w, h): (f64, f64), (a, b): (f64, f64)| {
        assert!((w - a).abs() < 1e-9 && (h - b).abs() < 1e-9, "{w} {h}")
    };
    close(size(""), (25.4, 12.7));
    close(size("width='960' height='480'"), (25.4, 12.7));
    close(size("width='96mm' height='48mm' viewBox='0 0 96 48'"), (96.0, 48.0));
    close(size("width='1in' height='0.5in' viewBox='0 0 96 48'"), (25.4, 12.7));
    close(size("width='9.6cm' viewBox='0 0 96 48'"), (96.0, 48.0));
    close(size("width='72pt' height='36pt' viewBox='0 0 96 48'"), (25.4, 12.7));
    close(size("width='96mm' height='200mm' viewBox='0 0 96 48'"), (96.0, 48.0));
    close(size("width='192mm' height='48mm' viewBox='0 0 96 48' preserveAspectRatio='none'"), (192.0, 48.0));
    close(size("viewBox='0 0 96 48'"), (25.4, 12.7));
}

#[test]
fn transforms_apply_from_right_to_left_through_groups() {
    check(
        "<g transform='translate(10,20)'><g transform='scale(2)'><rect width='10' height='5'/></g></g>",
        200.0,
        [10.0, 20.0, 30.0, 30.0],
    );
    check(
        "<rect transform='translate(10,20) scale(2)' width='10' height='5'/>",
        200.0,
        [10.0, 20.0, 30.0, 30.0],
    );
    check(
        "<rect transform='scale(2) translate(10,20)' width='10' height='5'/>",
        200.0,
        [20.0, 40.0, 40.0, 50.0],
    );
    check(
        "<rect transform='rotate(90 50 50)' x='50' y='50' width='10' height='5'/>",
        50.0,
        [45.0, 50.0, 50.0, 60.0],
    );
    check("<rect transform='matrix(0 1 -1 0 20 0)' width='10' height='5'/>", 50.0, [15.0, 0.0, 20.0, 10.0]);
    check("<rect transform='skewX(45)' width='10' height='5'/>", 50.0, [0.0, 0.0, 15.0, 5.0]);
    // A circle under a shear keeps its area.
    check(
        "<circle transform='skewX(45)' r='10' cx='50' cy='50'/>",
        std::f64::consts::PI * 100.0,
        [100.0 - 14.1421, 40.0, 100.0 + 14.1421, 60.0],
    );
    check(
        "<defs><path id='p' d='M0 0h10v10z'/></defs><use href='#p' x='5' y='6'/>",
        50.0,
        [5.0, 6.0, 15.0, 16.0],
    );
}

#[test]
fn inner_rings_belong_to_their_path_and_other_parts_stand_alone() {
    let found = read("<path id='door' d='M0 0h50v50h-50z M10 10h5v5h-5z M60 0h20v20h-20z'/>");
    assert_eq!(
        found.iter().map(|f| (f.name.as_str(), f.inner.len())).collect::<Vec<_>>(),
        [("door.1", 1), ("door.2", 0)]
    );
    assert_eq!(found[0].inner[0].area().as_mm2().round(), 25.0);
}

#[test]
fn hidden_things_definitions_marks_and_texts_are_passed_over() {
    let body = "<defs><rect width='9' height='9'/></defs><rect display='none' width='9' height='9'/>
        <g style='display: none'><rect width='9' height='9'/></g><g id='marks'><line x1='0' x2='9'/></g>
        <text>x</text><rect width='3' height='3'/>";
    assert_eq!(read(body).len(), 1);
}

#[test]
fn what_is_written_reads_back_the_same() {
    let ring = vec![Point::mm(-3.25, 7.5), Point::mm(120.125, 0.0), Point::mm(60.0, 90.0625)];
    let outline = Outline::new(ring).unwrap();
    let text = write_outlines([("a <b> & \"c\"", &outline)]);
    let back = read_outlines(&text, Length::mm(0.01)).unwrap();
    assert_eq!(back[0].name, "a <b> & \"c\"");
    assert_eq!(back[0].outline, outline);
    assert!(back[0].repairs.is_empty());
}

#[test]
fn an_open_path_is_named_with_its_line_and_a_remedy() {
    let text = flaw("<path id='fender' d='M0 0L50 0L50 50'/>");
    assert_eq!(
        text,
        "'fender' (line 2): the outline is open: its ends at x 0.00, y 0.00 mm and x 50.00, y 50.00 mm are 70.71 mm apart; join them and close the path"
    );
}

#[test]
fn a_self_crossing_path_is_named_with_the_place() {
    let text = flaw("\n<path id='bow' d='M0 0L50 50L50 0L0 50Z'/>");
    assert_eq!(
        text,
        "'bow' (line 3): the outline crosses or touches itself near x 25.00 mm, y 25.00 mm: move the points there apart, or cut the shape in two"
    );
}

#[test]
fn all_bad_elements_are_named_at_once() {
    let text = flaw("<path id='a' d='M0 0L5 0'/>\n<path d='M0 0L5'/>\n<rect id='c' width='2q' height='3'/>");
    assert_eq!(text.lines().count(), 3, "{text}");
    assert!(text.contains("'line 3' (line 3): attribute d="), "{text}");
    assert!(text.contains("attribute width=\"2q\""), "{text}");
}

#[test]
fn small_faults_are_mended_and_told() {
    let found = read("<path d='M0 0L50 0L50 0L50 50L0 50L0 0.1'/>");
    assert!(
        matches!(found[0].repairs[..], [Repair::Duplicates { count: 1 }, Repair::Gap { .. }]),
        "{:?}",
        found[0].repairs
    );
    // A loop of 0.02 mm² on a shape of 2500 mm²
    let found = read("<path d='M0 0L50 0L50 50L0.2 50L0 49.8L0.2 49.8L0 50Z'/>");
    assert!(matches!(found[0].repairs[..], [Repair::Loops { .. }]), "{:?}", found[0].repairs);
    assert!((found[0].outline.area().as_mm2() - 2500.0).abs() < 0.1);
}

#[test]
fn what_is_no_svg_is_said_with_its_line() {
    let says = |text: &str| read_outlines(text, Length::mm(0.1)).unwrap_err();
    assert!(matches!(says(""), SvgFlaw::NotSvg { .. }));
    assert!(matches!(says("%PDF-1.7"), SvgFlaw::NotSvg { .. }));
    assert!(matches!(says("<svg>\n<path></svg>"), SvgFlaw::NotSvg { line: 2, .. }));
    assert!(matches!(says("<html/>"), SvgFlaw::NotSvg { line: 1, .. }));
    assert!(matches!(says("<svg xmlns='http://www.w3.org/2000/svg'/>"), SvgFlaw::Empty));
}

#[test]
fn hostile_numbers_and_self_uses_end_in_an_answer() {
    for body in [
        "<path d='M0 0L1e300 0L0 1e300Z'/>",
        "<path d='M0 0L1e999 0L0 1Z'/>",
        "<circle r='1e308' cx='0' cy='0'/>",
        "<rect width='-5' height='5'/>",
        "<circle r='0'/>",
        "<path d='M0 0A1e-200 1e200 0 0 1 5 5Z'/>",
        "<g id='g'><use href='#g'/></g>",
        "<polygon points='1 1 1 1 1 1 1 1'/>",
        "<polygon points='1,1 a,b'/>",
        "<path d='M0 0C1e308 1e308 -1e308 1e308 5 5Z'/>",
        "<rect transform='scale(1e200) scale(1e200)' width='5' height='5'/>",
    ] {
        let text = format!("<svg xmlns='http://www.w3.org/2000/svg'>{body}</svg>");
        assert!(read_outlines(&text, Length::mm(0.1)).is_err(), "{body}");
    }
}

#[test]
fn the_flaw_can_be_told_apart() {
    let text = "<svg xmlns='http://www.w3.org/2000/svg'><path d='M0 0L5 0L9 0Z'/></svg>";
    let Err(SvgFlaw::Elements(flaws)) = read_outlines(text, Length::mm(0.1)) else { panic!("accepted") };
    assert_eq!(flaws[0].flaw, ElementProblem::Outline(OutlineFlaw::NoArea));
}
