//! From a spot on a drawing to a place on a panel and back.

use body::{Body, Panel, Spot, Style, View};
use units::Length;

fn every_panel(check: impl Fn(&Body, &Panel)) {
    for style in Style::ALL {
        let body = Body::of(style);
        assert!(body.panels().len() > 30, "{} has {} panels", style.name(), body.panels().len());
        body.panels().iter().for_each(|panel| check(body, panel));
    }
}

/// Distance of a point to the edge of a polygon, mm.
fn to_edge(outline: &plane::Outline, p: plane::Point) -> f64 {
    let to = |(a, b): (plane::Point, plane::Point)| {
        let t = (p - a).dot(b - a) / (b - a).dot(b - a);
        (a.toward(b, t.clamp(0.0, 1.0)) - p).norm()
    };
    outline.edges().map(to).fold(f64::INFINITY, f64::min)
}

/// A grid over each panel's box: where the panel is drawn on top its fractions come back; elsewhere the spot
/// is beside it or under something drawn on top of it. Outlines are flattened to 0.1 mm, so nothing is said
/// of spots closer to an edge than twice that.
#[test]
fn fractions_come_back() {
    every_panel(|body, panel| {
        let outline = plane::Outline::new(body.outline(panel.id).unwrap()).unwrap();
        let mut back = 0;
        for i in 0..=20 {
            for j in 0..=20 {
                let (u, v) = (f64::from(i) / 20.0, f64::from(j) / 20.0);
                let spot = body.point(panel.id, u, v).unwrap();
                assert_eq!(spot.view, panel.main_view);
                let at = plane::Point::mm(spot.x.as_mm(), spot.y.as_mm());
                if to_edge(&outline, at) < 0.2 {
                    continue;
                }
                let place = body.locate(spot.view, spot.x, spot.y);
                let found = place.filter(|p| p.panel == panel.id);
                if let Some(place) = found {
                    assert!(outline.contains(at) && place.in_main_view);
                    assert!((place.u - u).abs() < 1e-9 && (place.v - v).abs() < 1e-9, "{}", panel.id);
                    back += 1;
                } else if outline.contains(at) {
                    let over = place.unwrap_or_else(|| panic!("{} at {u}, {v} is nowhere", panel.id)).panel;
                    assert!(
                        ["wheel", "mirror", "taillamp"].iter().any(|o| over.ends_with(o)),
                        "{over} over {} of {}",
                        panel.id,
                        body.style().name()
                    );
                }
            }
        }
        // The thinnest panel, a cantrail, fills less than a tenth of its box.
        assert!(back >= 25, "{} of {} is found {back} times", panel.id, body.style().name());
    });
}

#[test]
fn nothing_is_found_beside_the_car() {
    for style in Style::ALL {
        for view in View::ALL {
            assert_eq!(Body::of(style).locate(view, Length::mm(5.0), Length::mm(5.0)), None);
            assert_eq!(Body::of(style).locate(view, Length::mm(f64::NAN), Length::mm(f64::INFINITY)), None);
        }
    }
}

/// The side shows the hood's profile: how far back a chip lies is kept, how far from the center line is not
/// seen, so it is put into the middle of the half on that side.
#[test]
fn a_spot_in_another_view_keeps_what_both_views_share() {
    let body = Body::of(Style::Saloon);
    for (view, half) in [(View::Left, 1.0), (View::Right, -1.0)] {
        let x = match view {
            View::Left => Length::mm(60.0 + 700.0),
            _ => body.length() + Length::mm(60.0 - 700.0),
        };
        let ys = (0..1000).map(|i| Length::mm(f64::from(i)));
        let place = ys.into_iter().find_map(|y| body.locate(view, x, y)).unwrap();
        assert_eq!((place.panel, place.in_main_view), ("hood", false));
        let top = body.point("hood", place.u, place.v).unwrap();
        assert_eq!(top.view, View::Top);
        assert!((top.x.as_mm() - 760.0).abs() < 1e-6, "{:?}", top.x);
        let center = body.width().as_mm() / 2.0 + 230.0;
        let away = (top.y.as_mm() - center) * half;
        assert!((200.0..500.0).contains(&away), "{away} mm off the center line");
    }
}

/// Tapped where the front shows a fender, the fender's own view gets the same height.
#[test]
fn a_fender_seen_from_the_front_keeps_its_height() {
    let body = Body::of(Style::Estate);
    let height = Length::mm(700.0);
    let y = body.height() + Length::mm(40.0) - height;
    let xs = (0..3000).map(|i| Length::mm(f64::from(i)));
    let place =
        xs.filter_map(|x| body.locate(View::Front, x, y)).find(|p| p.panel == "left_front_fender").unwrap();
    let spot = body.point(place.panel, place.u, place.v).unwrap();
    assert_eq!(spot.view, View::Left);
    assert!((spot.y - y).as_mm().abs() < 1e-6);
}

#[test]
fn unknown_panels_are_nowhere() {
    let body = Body::of(Style::Coupe);
    assert!(body.panel("left_rear_door").is_none());
    assert_eq!(body.point("left_rear_door", 0.5, 0.5), None);
    assert_eq!(body.outline("fourth_door"), None);
    assert!(body.main_shape("").is_none());
}

/// Outlines are valid input for planning pieces, and as large as the panel says.
#[test]
fn outlines_are_clean_and_as_large_as_the_panel() {
    every_panel(|body, panel| {
        let outline = plane::Outline::new(body.outline(panel.id).unwrap());
        let bounds = outline.unwrap_or_else(|e| panic!("{}: {e}", panel.id)).bounds();
        assert!((bounds.width() - panel.width).as_mm().abs() < 1e-9, "{}", panel.id);
        assert!((bounds.height() - panel.height).as_mm().abs() < 1e-9, "{}", panel.id);
    });
}

/// On the sheet, the four views round the plan agree with it along their shared edge.
#[test]
fn spots_lie_on_the_sheet_where_the_sheet_draws_them() {
    let body = Body::of(Style::Van);
    let sheet = body.sheet_svg_fragment(&body::SheetOptions::default());
    // The nose tip on the center line, in plan and from the left.
    let center = body.width() / 2.0 + Length::mm(230.0);
    let plan = body.on_sheet(Spot { view: View::Top, x: Length::mm(60.0), y: center });
    let left = body.on_sheet(Spot { view: View::Left, x: Length::mm(60.0), y: Length::mm(500.0) });
    let right =
        body.on_sheet(Spot { view: View::Right, x: body.length() + Length::mm(60.0), y: Length::mm(500.0) });
    assert!((plan.0 - left.0).as_mm().abs() < 1e-9 && (plan.0 - right.0).as_mm().abs() < 1e-9);
    assert!((plan.1 * 2.0 - sheet.height).as_mm().abs() < 1e-9, "the plan lies in the middle");
    assert!(((left.1 + right.1) - sheet.height).as_mm().abs() < 1e-9, "the sides lie symmetrically");
    assert!(left.1 > plan.1 && right.1 < plan.1);
}
