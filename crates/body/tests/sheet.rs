//! The full sheets, character for character.

use body::{Body, SheetOptions, Style, View};

/// `tests/golden` holds the sheets of the first implementation of these drawings, written in another
/// language: two programs that draw the same eight bodies from the same numbers.
#[test]
fn sheets_are_those_of_the_first_implementation() {
    for style in Style::ALL {
        let path = format!("{}/tests/golden/{}.svg", env!("CARGO_MANIFEST_DIR"), style.name());
        let expected = std::fs::read_to_string(&path).unwrap();
        let drawn = Body::of(style).sheet_svg(&SheetOptions::default());
        for (i, (a, b)) in drawn.lines().zip(expected.lines()).enumerate() {
            assert_eq!(a, b, "{} line {}", style.name(), i + 1);
        }
        assert_eq!(drawn, expected, "{}", style.name());
    }
}

fn attributes<'a>(markup: &'a str, name: &str) -> Vec<&'a str> {
    let key = format!(" {name}=\"");
    markup.split(&key[..]).skip(1).map(|rest| rest.split('"').next().unwrap_or_default()).collect()
}

#[test]
fn fragments_bring_no_style_and_name_their_panels() {
    for style in Style::ALL {
        let body = Body::of(style);
        for view in View::ALL {
            let drawing = body.view_svg_fragment(view);
            let markup = &drawing.markup;
            assert!(!markup.contains("style") && !markup.contains("url("), "no style of its own");
            assert!(attributes(markup, "id").is_empty(), "a page may show the same view twice");
            assert_eq!(attributes(markup, "data-view"), [view.name()]);
            let panels = attributes(markup, "data-panel");
            assert!(panels.len() > 8 && panels.iter().all(|p| body.panel(p).is_some()), "{panels:?}");
            assert_eq!(
                drawing.view_box(),
                format!("0 0 {} {}", drawing.width.as_mm(), drawing.height.as_mm())
            );
        }
    }
}

/// Every number of a path is inside the view box: nothing is cut off at its edge.
#[test]
fn fragments_fit_their_view_box() {
    for style in Style::ALL {
        for view in View::ALL {
            let drawing = Body::of(style).view_svg_fragment(view);
            let (w, h) = (drawing.width.as_mm(), drawing.height.as_mm());
            for path in attributes(&drawing.markup, "d") {
                let end = |s: &str| {
                    let mut n = s.split(' ').rev().map(|n| n.parse::<f64>().unwrap());
                    (n.next(), n.next())
                };
                for command in path.trim_end_matches('Z').split(['M', 'L', 'C', 'A']).skip(1) {
                    let (y, x) = end(command);
                    let (x, y) = (x.unwrap(), y.unwrap());
                    // The center line of the plan runs out of the drawing on purpose.
                    let center_line = view == View::Top && path.matches('L').count() == 1;
                    assert!(
                        center_line || (0.0..=w).contains(&x) && (0.0..=h).contains(&y),
                        "{x} {y} {view:?}"
                    );
                }
            }
        }
    }
}

#[test]
fn every_panel_has_one_id_in_its_main_view() {
    for style in Style::ALL {
        let body = Body::of(style);
        let sheet = body.sheet_svg(&SheetOptions::default());
        for panel in body.panels() {
            assert_eq!(sheet.matches(&format!(" id=\"{}\"", panel.id)).count(), 1, "{}", panel.id);
        }
    }
}

#[test]
fn arcs_stay_arcs() {
    let left = Body::of(Style::Saloon).view_svg_fragment(View::Left).markup;
    let fender = left.split("data-panel=\"left_front_fender\"").nth(1).unwrap();
    assert!(fender.split("</path>").next().unwrap().contains("A374 374 "), "the arch about the axle");
}

#[test]
fn classes_are_added_to_a_panel_in_every_view() {
    let mut options = SheetOptions { standalone: false, ids: false, ..SheetOptions::default() };
    options.classes.insert("hood".into(), "film s2\"><script>".into());
    let sheet = Body::of(Style::Saloon).sheet_svg(&options);
    assert_eq!(sheet.matches("class=\"paint film s2script\" data-panel=\"hood\"").count(), 4);
    assert!(!sheet.contains("<script>") && !sheet.contains("<svg"));
}

#[test]
fn detail_can_be_left_out() {
    let plain = SheetOptions { detail: false, ..SheetOptions::default() };
    for view in View::ALL {
        let markup = Body::of(Style::Suv).view_svg_with(view, &plain).markup;
        assert!(!markup.contains("class=\"thin\"") && !markup.contains("class=\"ring\""));
        assert!(markup.contains("class=\"outline\""));
    }
}

#[test]
fn styles_and_views_have_names_that_come_back() {
    for style in Style::ALL {
        assert_eq!(Style::from_name(style.name()), Some(style));
        assert_eq!(serde_json::to_string(&style).unwrap(), format!("\"{}\"", style.name()));
    }
    for view in View::ALL {
        assert_eq!(View::from_name(view.name()), Some(view));
        assert_eq!(serde_json::to_string(&view).unwrap(), format!("\"{}\"", view.name()));
    }
    assert_eq!(Style::from_name("Saloon"), None);
}
