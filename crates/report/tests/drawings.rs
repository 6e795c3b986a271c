//! Drawings: well-formed, nothing outside the frame, no label on another, the same text again.
#![allow(clippy::unwrap_used, reason = "a test may stop")]

use body::{Body, Style};
use report::drawing::*;
use units::Length;

/// What a drawing shows, read back.
struct Seen {
    view: [f64; 4],
    /// Every drawn thing with its box.
    boxes: Vec<(String, [f64; 4])>,
    /// Every number in a disc: center and radius.
    discs: Vec<(f64, f64, f64)>,
    /// Every line of text with its box.
    texts: Vec<(String, [f64; 4])>,
}

fn look(svg: &str) -> Seen {
    let doc = roxmltree::Document::parse(svg).unwrap_or_else(|e| panic!("{e}\n{svg}"));
    let root = doc.root_element();
    assert_eq!(root.attribute("role"), Some("img"));
    let labels = root.attribute("aria-labelledby").unwrap();
    for id in labels.split(' ') {
        let node = doc.descendants().find(|n| n.attribute("id") == Some(id)).unwrap();
        assert!(!node.text().unwrap_or_default().trim().is_empty(), "empty {id}");
    }
    let view: Vec<f64> = root.attribute("viewBox").unwrap().split(' ').map(|v| v.parse().unwrap()).collect();
    let mut seen =
        Seen { view: view.try_into().unwrap(), boxes: Vec::new(), discs: Vec::new(), texts: Vec::new() };
    for node in doc.descendants().filter(|n| n.is_element()) {
        if node.ancestors().any(|a| ["defs", "clipPath", "pattern"].contains(&a.tag_name().name())) {
            continue;
        }
        let clipped = node.ancestors().any(|a| a.attribute("clip-path").is_some());
        let at = |key: &str| node.attribute(key).and_then(|v| v.parse::<f64>().ok()).unwrap_or(0.0);
        let mut shift = (0.0, 0.0);
        for t in node.ancestors().filter_map(|a| a.attribute("transform")) {
            let inner = t.strip_prefix("translate(").unwrap().trim_end_matches(')');
            let (x, y) = inner.split_once(' ').unwrap();
            shift = (shift.0 + x.parse::<f64>().unwrap(), shift.1 + y.parse::<f64>().unwrap());
        }
        let bounds = match node.tag_name().name() {
            "rect" => [at("x"), at("y"), at("x") + at("width"), at("y") + at("height")],
            "circle" => [at("cx") - at("r"), at("cy") - at("r"), at("cx") + at("r"), at("cy") + at("r")],
            "ellipse" => [at("cx") - at("rx"), at("cy") - at("ry"), at("cx") + at("rx"), at("cy") + at("ry")],
            "path" => path_box(node.attribute("d").unwrap()),
            "text" => {
                let (size, text) = (at("font-size"), node.text().unwrap());
                let bold = node.attribute("class").unwrap_or("").split(' ').any(|c| c == "b");
                let w = size * width_em(text, bold);
                let x = match node.attribute("text-anchor") {
                    Some("middle") => at("x") - w / 2.0,
                    Some("end") => at("x") - w,
                    _ => at("x"),
                };
                [x, at("y") - 0.75 * size, x + w, at("y") + 0.2 * size]
            }
            _ => continue,
        };
        let bounds = [bounds[0] + shift.0, bounds[1] + shift.1, bounds[2] + shift.0, bounds[3] + shift.1];
        let name =
            format!("{} {}", node.tag_name().name(), node.text().or(node.attribute("class")).unwrap_or(""));
        if node.tag_name().name() == "text" {
            seen.texts.push((node.text().unwrap().to_owned(), bounds));
        }
        if node.tag_name().name() == "circle" && node.attribute("class") == Some("ln fill") {
            seen.discs.push((at("cx"), at("cy"), at("r")));
        }
        if !clipped {
            seen.boxes.push((name, bounds));
        }
    }
    seen
}

/// Widths of DejaVu Sans measured by `ttf-parser` apart from the drawing's own way.
fn width_em(text: &str, bold: bool) -> f64 {
    let file = if bold { dejavu::sans::bold() } else { dejavu::sans::regular() };
    let face = ttf_parser::Face::parse(file, 0).unwrap();
    let advance = |c: char| {
        let glyph = face.glyph_index(c).unwrap_or(ttf_parser::GlyphId(0));
        f64::from(face.glyph_hor_advance(glyph).unwrap())
    };
    text.chars().map(advance).sum::<f64>() / f64::from(face.units_per_em())
}

/// Box of the ends and handles of a path; never smaller than the path itself, apart from arcs.
fn path_box(d: &str) -> [f64; 4] {
    use svgtypes::{SimplePathSegment as S, SimplifyingPathParser};
    let mut b = [f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY];
    let mut put = |x: f64, y: f64| b = [b[0].min(x), b[1].min(y), b[2].max(x), b[3].max(y)];
    for s in SimplifyingPathParser::from(d) {
        match s.unwrap() {
            S::MoveTo { x, y } | S::LineTo { x, y } => put(x, y),
            S::CurveTo { x1, y1, x2, y2, x, y } => {
                put(x1, y1);
                put(x2, y2);
                put(x, y);
            }
            S::Quadratic { x1, y1, x, y } => {
                put(x1, y1);
                put(x, y);
            }
            S::ClosePath => {}
        }
    }
    b
}

fn inside_frame(seen: &Seen) {
    let [x, y, w, h] = seen.view;
    let slack = w / 2000.0;
    for (name, b) in &seen.boxes {
        let ok = b[0] >= x - slack && b[1] >= y - slack && b[2] <= x + w + slack && b[3] <= y + h + slack;
        assert!(ok, "{name} at {b:?} leaves the frame {:?}", seen.view);
    }
}

fn meet(a: &[f64; 4], b: &[f64; 4]) -> bool {
    a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
}

fn labels_apart(seen: &Seen) {
    for (i, (one, a)) in seen.texts.iter().enumerate() {
        for (other, b) in &seen.texts[i + 1..] {
            assert!(!meet(a, b), "'{one}' lies on '{other}'");
        }
    }
    for (i, a) in seen.discs.iter().enumerate() {
        for b in &seen.discs[i + 1..] {
            assert!((a.0 - b.0).hypot(a.1 - b.1) >= a.2 + b.2, "two numbers touch at {a:?}, {b:?}");
        }
    }
}

fn check(svg: &str) -> Seen {
    let seen = look(svg);
    inside_frame(&seen);
    labels_apart(&seen);
    seen
}

/// Keeps the drawing where people can look at it.
fn keep(name: &str, svg: &str) {
    std::fs::write(std::path::Path::new(env!("CARGO_TARGET_TMPDIR")).join(name), svg).unwrap();
}

/// Twelve findings spread over the panels of a body, three of them close together.
fn twelve(body: &Body) -> Vec<Mark> {
    let panels: Vec<&str> = body.panels().iter().map(|p| p.id).collect();
    let mut seed = units::Seed(7).sequence();
    (0..12)
        .map(|i| {
            let panel = if i < 3 { "hood" } else { panels[seed.below(panels.len())] };
            Mark {
                number: i as u32 + 1,
                panel: panel.to_owned(),
                u: if i < 3 { 0.5 + 0.04 * f64::from(i) } else { seed.between(0.1, 0.9) },
                v: seed.between(0.2, 0.8),
                size: (i % 2 == 0).then(|| Length::mm(seed.between(20.0, 900.0))),
                whole_panel: i == 11,
                severity: [Severity::Light, Severity::Marked, Severity::Deep][i as usize % 3],
                hatch: None,
                words: "Scratch & scuff <deep>, 40 mm".to_owned(),
                href: None,
            }
        })
        .collect()
}

#[test]
fn twelve_findings_on_every_body_keep_apart_and_in_the_frame() {
    for style in Style::ALL {
        let body = Body::of(style);
        let svg = car_sheet(body, "Findings", &twelve(body), Medium::Alone);
        keep(&format!("car-{}.svg", style.name()), &svg);
        let seen = check(&svg);
        assert_eq!(seen.discs.len(), 12, "{}", style.name());
    }
}

#[test]
fn one_view_shows_only_its_own_findings() {
    let body = Body::of(Style::Estate);
    let marks = twelve(body);
    let svg = car_view(body, body::View::Top, "From above", &marks, Medium::Page { id: "v" });
    let seen = check(&svg);
    let own = marks.iter().filter(|m| body.panel(&m.panel).unwrap().main_view == body::View::Top).count();
    assert_eq!(seen.discs.len(), own);
}

#[test]
fn a_finding_on_no_drawn_panel_is_named_below() {
    let body = Body::of(Style::Coupe);
    let mut marks = twelve(body);
    marks[4].panel = "driver_seat".into();
    let svg = car_sheet(body, "Findings", &marks, Medium::Alone);
    keep("car-lost.svg", &svg);
    let seen = check(&svg);
    assert!(seen.texts.iter().any(|(t, _)| t.starts_with("driver seat: Scratch")));
    assert_eq!(seen.discs.len(), 12);
}

#[test]
fn fifty_findings_still_keep_apart() {
    let body = Body::of(Style::Van);
    let marks: Vec<Mark> = twelve(body)
        .into_iter()
        .cycle()
        .take(50)
        .enumerate()
        .map(|(i, m)| Mark { number: i as u32 + 1, u: 0.02 * i as f64, whole_panel: false, ..m })
        .collect();
    check(&car_sheet(body, "Findings", &marks, Medium::Alone));
}

#[test]
fn small_cars_share_one_scale_and_hatch_their_panels() {
    for style in Style::ALL {
        let body = Body::of(style);
        let hatched = [("hood".to_owned(), Hatch::Film), ("left_front_door".to_owned(), Hatch::Film)].into();
        let svg = car_mini(body, "This step", &hatched, false, Medium::Page { id: "m" });
        let seen = check(&svg);
        assert_eq!(seen.view[2], 5560.0);
        assert!(svg.contains("url(#m-film)"), "{}", style.name());
        let svg = car_mini(body, "Covered", &hatched, true, Medium::Alone);
        keep(&format!("mini-{}.svg", style.name()), &svg);
        check(&svg);
    }
}

#[test]
fn a_page_drawing_has_no_color_and_no_style_of_its_own() {
    let body = Body::of(Style::Saloon);
    let svg = car_sheet(body, "Findings", &twelve(body), Medium::Page { id: "car" });
    assert!(!svg.contains("style="), "inline styles would break a strict policy");
    assert!(!svg.contains("<style"));
    assert!(!svg.contains("#fff") && !svg.contains("rgb("), "colors come from the page");
}

fn ring(points: &[(f64, f64)]) -> plane::Outline {
    plane::Outline::new(points.iter().map(|p| plane::Point::mm(p.0, p.1)).collect()).unwrap()
}

fn bounds(x: f64, y: f64, w: f64, h: f64) -> plane::Bounds {
    plane::Bounds { low: plane::Point::mm(x, y), high: plane::Point::mm(x + w, y + h) }
}

/// Rectangles, slivers and a triangle along a roll of 1520 mm, each `step` mm further on.
fn roll(pieces: usize, step: f64) -> NestSheet {
    let shapes: Vec<NestPiece> = (0..pieces)
        .map(|i| {
            let x = 5.0 + step * i as f64;
            let outline = match i % 4 {
                0 => ring(&[(x, 10.0), (x + 1.4 * step, 40.0), (x + 1.4 * step, 700.0), (x, 760.0)]),
                1 => ring(&[(x, 800.0), (x + 1.9 * step, 800.0), (x + 1.9 * step, 870.0), (x, 870.0)]),
                2 => ring(&[(x, 900.0), (x + 0.9 * step, 1500.0), (x, 1500.0)]),
                _ => ring(&[(x, 905.0), (x + 0.6 * step, 905.0), (x + 0.6 * step, 925.0), (x, 925.0)]),
            };
            NestPiece { number: i as u32 + 1, name: format!("Piece {}", i + 1), outline }
        })
        .collect();
    let used = 5.0 + step * (pieces as f64 + 1.0);
    NestSheet {
        title: "Roll A-118 (invented), 1520 mm wide".into(),
        width: Length::mm(1520.0),
        length: Some(Length::mm(used + 9760.0)),
        used: Length::mm(used),
        used_words: format!("used {:.2} m", used / 1000.0),
        rest_words: "stays on the roll: 9.76 m".into(),
        scale: (Length::mm(1000.0), "1 m".into()),
        span: Length::ZERO,
        remainders: vec![Remainder {
            outline: ring(&[
                (used - 1100.0, 1000.0),
                (used - 20.0, 1000.0),
                (used - 20.0, 1400.0),
                (used - 900.0, 1400.0),
            ]),
            rectangle: bounds(used - 900.0, 1000.0, 880.0, 400.0),
            words: "offcut 880 × 400 mm".into(),
        }],
        pieces: shapes,
        edge: None,
        bad: Vec::new(),
    }
}

#[test]
fn a_nest_shows_every_piece_once_in_the_frame() {
    let short = nest(&roll(8, 500.0), Medium::Alone);
    keep("nest-short.svg", &short);
    assert_eq!(check(&short).discs.len(), 8);
    let long = nest(&roll(40, 520.0), Medium::Page { id: "n" });
    keep("nest-long.svg", &nest(&roll(40, 520.0), Medium::Alone));
    let seen = check(&long);
    let numbers = seen.texts.iter().filter(|(t, _)| t.parse::<u32>().is_ok()).count();
    assert_eq!(numbers, 40, "each number once, also where a row is broken");
}

#[test]
fn an_offcut_used_whole_is_drawn_without_a_rest() {
    let mut sheet = roll(1, 600.0);
    sheet.width = Length::mm(800.0);
    sheet.used = Length::mm(1250.0);
    sheet.length = Some(sheet.used);
    sheet.rest_words.clear();
    sheet.remainders.clear();
    let svg = nest(&sheet, Medium::Alone);
    keep("nest-offcut.svg", &svg);
    check(&svg);
}

fn hood(spots: usize) -> PanelMap {
    let mut seed = units::Seed(3).sequence();
    PanelMap {
        title: "Hood, total thickness".into(),
        panel: "hood".into(),
        unit: "µm".into(),
        spots: (0..spots)
            .map(|i| Spot {
                u: seed.between(0.1, 0.9),
                v: seed.between(0.1, 0.9),
                words: format!("{:.0}", seed.between(88.0, 132.0)),
                flagged: i == 3,
            })
            .collect(),
        contours: vec![
            Contour {
                rings: vec![vec![(0.1, 0.1), (0.6, 0.1), (0.6, 0.5), (0.1, 0.5)]],
                hatch: Some(Hatch::Light),
                words: "under 40 µm".into(),
                number: "40".into(),
            },
            Contour {
                rings: vec![vec![(0.2, 0.2), (0.4, 0.2), (0.4, 0.4)]],
                hatch: Some(Hatch::Marked),
                words: "under 35 µm".into(),
                number: "35".into(),
            },
        ],
        next: Some((0.8, 0.3)),
        scale: (Length::mm(500.0), "500 mm".into()),
    }
}

#[test]
fn a_front_shows_what_is_allowed() {
    let dot = |x, y, allowed| FrontDot {
        x,
        y,
        allowed,
        advised: x == 1.5,
        beaten: false,
        words: format!("{x} for {y}"),
    };
    let mut choices = Front {
        title: "Hood".into(),
        across: "taken, µm".into(),
        up: "mark that stays, µm".into(),
        dots: vec![dot(0.0, 4.0, true), dot(1.5, 2.1, true), dot(3.2, 0.4, false)],
        wanted: Some((0.5, "wanted".into())),
        most: Some((2.0, "may be taken".into())),
    };
    for name in ["front.svg", "front-spent.svg"] {
        let svg = front(&choices, Medium::Alone);
        keep(name, &svg);
        check(&svg);
        choices.most = Some((0.0, "may be taken".into()));
    }
    choices.dots.clear();
    check(&front(&choices, Medium::Alone));
}

#[test]
fn readings_on_a_panel_keep_apart() {
    for style in Style::ALL {
        for spots in [0, 6, 30, 90] {
            let svg = panel_map(Body::of(style), &hood(spots), Medium::Alone).unwrap();
            keep(&format!("panel-{}-{spots}.svg", style.name()), &svg);
            check(&svg);
        }
    }
    let mut map = hood(6);
    map.panel = "spare_wheel".into();
    assert_eq!(panel_map(Body::of(Style::Coupe), &map, Medium::Alone), None);
}

#[test]
fn every_panel_of_every_body_can_be_mapped() {
    for style in Style::ALL {
        let body = Body::of(style);
        for panel in body.panels() {
            let map = PanelMap { panel: panel.id.into(), contours: Vec::new(), ..hood(5) };
            let svg = panel_map(body, &map, Medium::Page { id: "p" });
            check(&svg.unwrap_or_else(|| panic!("{} {} has no outline", style.name(), panel.id)));
        }
    }
}

fn hours(h: f64) -> units::Duration {
    units::Duration::minutes(60.0 * h)
}

fn week(width: f64) -> Calendar {
    let open = Some((hours(8.0), hours(17.5)));
    let day = |label: &str, open| Day { label: label.into(), open };
    let row = |name: &str, note: &str, group| Row { name: name.into(), note: note.into(), group, bay: None };
    let bar = |row, day: f64, from: f64, to: f64, kind, title: &str, detail: &str| Bar {
        row,
        start: hours(24.0 * day + from),
        end: hours(24.0 * day + to),
        kind,
        title: title.into(),
        detail: detail.into(),
        late: false,
        href: Some("/job/0412".into()),
        entry: None,
    };
    Calendar {
        hours: Vec::new(),
        title: "Week of May 12".into(),
        days: vec![
            day("Mon 12", open),
            day("Tue 13", open),
            day("Wed 14", open),
            day("Thu 15", open),
            day("Fri 16", open),
            day("Sat 17", None),
            day("Sun 18", None),
        ],
        rows: vec![
            row("Bay 1", "wash, wet", false),
            row("Bay 2", "correction", false),
            row("Bay 3", "film room", false),
            row("Air, bay 3", "by count", false),
            row("Tomas with a very long name", "wash, clay, everything else", true),
            row("Ines", "", false),
        ],
        bars: vec![
            bar(0, 0.0, 8.0, 13.0, BarKind::Work, "Pickup", "wash"),
            Bar { late: true, ..bar(0, 2.0, 8.0, 13.0, BarKind::Work, "Van", "clay, wash") },
            bar(0, 2.0, 11.0, 15.0, BarKind::Work, "Estate", "overlaps the van"),
            bar(1, 0.0, 15.0, 40.0, BarKind::Work, "Pickup", "correction, 2 stages"),
            bar(1, 2.0, 8.0, 9.0, BarKind::Work, "Pickup", "refine"),
            bar(1, 2.0, 9.0, 10.0, BarKind::Work, "Coupe", "refine"),
            bar(2, 0.0, 8.0, 15.0, BarKind::Work, "Coupe", "coating"),
            bar(2, 0.0, 15.0, 33.0, BarKind::Cure, "Coupe", "cure, no water"),
            bar(2, 4.0, 15.0, 90.0, BarKind::Cure, "Estate", "cure over the weekend"),
            bar(3, 3.0, 8.0, 13.0, BarKind::Clean, "clean", ""),
            bar(3, 3.0, 13.0, 48.0, BarKind::Dusty, "dusty", "doors open"),
            bar(4, 1.0, 8.0, 17.0, BarKind::Away, "away", ""),
            bar(5, 4.0, 16.5, 17.0, BarKind::Work, "Van", "a late hour"),
            bar(99, 4.0, 16.5, 17.0, BarKind::Work, "Nowhere", "no such row"),
        ],
        now: Some((hours(58.7), "10:42".into())),
        width,
    }
}

#[test]
fn a_week_keeps_its_words_apart_at_any_width() {
    for width in [600.0, 1000.0, 1400.0] {
        let svg = calendar(&week(width), Medium::Alone);
        keep(&format!("week-{width}.svg"), &svg);
        let seen = check(&svg);
        assert!(seen.texts.iter().any(|(t, _)| t == "10:42"));
    }
    let svg = calendar(&week(1000.0), Medium::Page { id: "w" });
    assert!(svg.contains("<a href=\"/job/0412\">"));
    assert!(svg.contains("Van, clay, wash, late"), "late is said, not only drawn");
}

#[test]
fn an_empty_calendar_is_still_a_drawing() {
    let empty = Calendar {
        hours: Vec::new(),
        title: "Nothing".into(),
        days: vec![],
        rows: vec![],
        bars: vec![],
        now: None,
        width: 500.0,
    };
    look(&calendar(&empty, Medium::Alone));
}

#[test]
fn a_strip_shows_before_and_after_with_its_floor() {
    use units::Thickness;
    let line = |name: &str, low: f64, point: f64, high: f64, words: &str| StripLine {
        name: name.into(),
        low: Thickness::um(low),
        point: Thickness::um(point),
        high: Thickness::um(high),
        words: words.into(),
    };
    let data = Strip {
        title: "Hood, clear coat".into(),
        lines: vec![
            line("before", 37.0, 41.0, 45.0, "41 ± 4 µm"),
            line("after", 34.5, 39.0, 43.5, "39 ± 4.5 µm"),
        ],
        floor: Some((Thickness::um(30.0), "floor 30 µm".into())),
        range: None,
    };
    let svg = strip(&data, Medium::Alone);
    keep("strip.svg", &svg);
    check(&svg);
    let wild = Strip { lines: vec![line("before", f64::NAN, 1e9, -5.0, "not known")], ..data };
    check(&strip(&wild, Medium::Alone));
}

#[test]
fn drawings_do_not_change_unseen() {
    let body = Body::of(Style::Estate);
    let golden: Vec<(&str, String)> = vec![
        ("car_estate", car_sheet(body, "Findings", &twelve(body), Medium::Page { id: "g" })),
        (
            "mini_estate",
            car_mini(body, "Covered", &[("hood".to_owned(), Hatch::Film)].into(), true, Medium::Alone),
        ),
        ("panel_hood", panel_map(body, &hood(12), Medium::Page { id: "g" }).unwrap()),
        ("nest", nest(&roll(8, 500.0), Medium::Page { id: "g" })),
        ("week", calendar(&week(1000.0), Medium::Page { id: "g" })),
    ];
    for (name, svg) in golden {
        insta::assert_snapshot!(name, svg.replace("><", ">\n<"));
    }
}
