//! A shop in US units: nothing on its pages is told or asked for in metric ones, and what is typed comes back.

use super::House;
use axum::http::StatusCode;
use job::FilmZone;

/// What stays metric: what files hold, and the choice of units itself.
const METRIC_ON_PURPOSE: [&str; 6] = [
    "Metric: mm, m², µm, L, °C",
    "SVG or DXF in mm",
    "SVG or DXF file, in mm",
    "Thicknesses are in µm, times in minutes for one pass over a square meter.",
    // the name that the demo's shop gave its film
    "clear, 190 µm",
    // units that a scan may have
    "<option value=\"mm\">mm</option>",
];

async fn in_us_units(house: &House) {
    house
        .post("/shop/general", &[("name", "x"), ("zone", "UTC"), ("units", "us"), ("paper", "us-letter")])
        .await
        .goes_to("/shop#general-head");
}

/// The words of a page that name a metric unit, each with what stands before it.
fn metric(page: &str) -> Vec<String> {
    let mut page = page.to_owned();
    for text in METRIC_ON_PURPOSE {
        page = page.replace(text, "");
    }
    let text: String = page
        .split('<')
        .map(|part| part.split_once('>').map_or(part, |(_, text)| text))
        .collect::<Vec<_>>()
        .join(" ");
    let words: Vec<&str> = text
        .split(|c: char| c.is_whitespace() || "()[],;:/|".contains(c))
        .filter(|w| !w.is_empty())
        .collect();
    let unit = |w: &str| {
        matches!(
            w.trim_end_matches('.'),
            "mm" | "µm" | "m²" | "m³" | "mL" | "°C" | "km" | "m²·years" | "meter" | "meters"
        )
    };
    words.windows(2).filter(|w| unit(w[1])).map(|w| w.join(" ")).collect()
}

#[tokio::test]
async fn no_page_of_a_us_shop_names_a_metric_unit() {
    let (house, id) = House::with_car();
    let rooms = [
        "/",
        "/calendar",
        "/cars",
        "/stock",
        "/shop",
        "/shop/learned",
        "/shop/methods",
        "/shop/margins",
        "/shop/steps",
    ];
    let sheets =
        ["arrival", "survey", "offer", "sides", "route", "film", "work", "handover", "visits", "step/1"];
    let pages: Vec<String> = rooms
        .iter()
        .map(|r| (*r).to_owned())
        .chain(sheets.iter().map(|s| format!("/cars/{id}/{s}")))
        .collect();
    // the check sees what it is for
    let before = house.get("/shop/learned").await.text();
    assert!(metric(&before).iter().any(|w| w.ends_with("m²")), "{:?}", metric(&before));
    in_us_units(&house).await;
    for path in pages {
        let answer = house.get(&path).await;
        assert_eq!(answer.status, StatusCode::OK, "{path}");
        assert_eq!(metric(&answer.text()), Vec::<String>::new(), "{path}");
    }
}

/// The value of a field as the page shows it.
fn value(page: &str, name: &str) -> String {
    let at = page.split(&format!(" name=\"{name}\"")).nth(1).unwrap_or_else(|| panic!("no field {name}"));
    at.split("value=\"").nth(1).and_then(|v| v.split('"').next()).unwrap_or_default().to_owned()
}

#[tokio::test]
async fn beliefs_come_back_as_typed_and_mean_the_same_in_either_unit() {
    let house = House::new();
    in_us_units(&house).await;
    // 0.3048 m to the foot, 0.09290304 m² to the square foot (NIST SP 811, appendix B.8)
    let seams = [
        ("form", "seam_times"),
        ("piece", "20"),
        ("m2", "6.5"),
        ("seam_m", "2.5"),
        ("removal_m2", "4"),
        ("renewal", "60"),
        ("flaws", "0.002"),
        ("offcut", "30"),
        ("unseen", "12.5"),
    ];
    house.post("/shop/learned", &seams).await.goes_to("/shop/learned");
    let s = house.studio.shop().unwrap().settings.estimates.seams.clone();
    assert!((s.m2.as_minutes() * 0.092_903_04 - 6.5).abs() < 1e-9, "{:?}", s.m2);
    assert!((s.seam_m.as_minutes() * 0.3048 - 2.5).abs() < 1e-9, "{:?}", s.seam_m);
    assert!((s.flaws_m2 * 0.092_903_04 - 0.002).abs() < 1e-12, "{}", s.flaws_m2);
    assert!((s.unseen_m.as_estimate() * 0.3048 - 12.5).abs() < 1e-4, "{:?}", s.unseen_m);
    let page = house.get("/shop/learned").await.text();
    for (name, typed) in &seams[1..] {
        let shown: f64 = value(&page, name).parse().unwrap();
        assert!((shown - typed.parse::<f64>().unwrap()).abs() < 1e-4, "{name}: {shown} for {typed}");
    }
    // Saved again without a change, beliefs about damage stay what they are to the four digits that are shown.
    let before = house.studio.shop().unwrap().settings.estimates.clone();
    let mut zones = vec![("form".to_owned(), "zones".to_owned())];
    for zone in FilmZone::ALL {
        for name in [format!("rate_{}", zone.name()), format!("worth_{}", zone.name())] {
            zones.push((name.clone(), value(&page, &name)));
        }
    }
    let zones: Vec<(&str, &str)> = zones.iter().map(|(n, v)| (n.as_str(), v.as_str())).collect();
    house.post("/shop/learned", &zones).await.goes_to("/shop/learned");
    let after = house.studio.shop().unwrap().settings.estimates.clone();
    for zone in FilmZone::ALL {
        let ratio = after.zone(zone).a_m2_year / before.zone(zone).a_m2_year;
        assert!((ratio - 1.0).abs() < 1e-3, "{}: {ratio}", zone.name());
    }
}
