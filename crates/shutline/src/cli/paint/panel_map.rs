//! The panels of a survey drawn on one sheet: readings and contours of the clear coat.

use jiff::tz::TimeZone;
use job::Shop;
use paint::{PanelEstimate, PanelInfo, PanelMap, Settings, Survey};
use report::drawing::{self, Medium, Spot};
use report::sketch;
use report::words::Words;
use studio::Refusal;
use studio::engine::paint::contours;

/// Height of a panel's two lines of title, px.
const TITLE: f64 = 40.0;
/// Space between drawings, px.
const SPACE: f64 = 24.0;
/// Panels side by side.
const COLUMNS: usize = 2;

/// Draws every panel that has readings with places; of a body's panels their outlines, of others a rectangle.
///
/// # Errors
/// When no reading has a place.
pub fn sheet(
    survey: &Survey,
    maps: &[Option<PanelMap>],
    infos: &[PanelInfo],
    settings: &Settings,
    style: Option<body::Style>,
) -> Result<String, Refusal> {
    let words = Words::of(&Shop::default(), &TimeZone::UTC);
    let drawn: Vec<([String; 2], Size, String)> = maps
        .iter()
        .flatten()
        .filter_map(|map| {
            let estimate = survey.panel(&map.panel)?;
            let info = infos.iter().find(|i| i.id == map.panel)?;
            let sketch = sketched(map, estimate, info, settings, &words);
            let svg = match style.map(body::Body::of).filter(|b| b.panel(&map.panel).is_some()) {
                Some(body) => drawing::panel_map(body, &sketch, Medium::Alone)?,
                None => drawing::sheet_map(info.width, info.height, &sketch, Medium::Alone)?,
            };
            let size = Size::of(&svg)?;
            Some((title(estimate, settings), size, svg))
        })
        .collect();
    if drawn.is_empty() {
        return Err(Refusal::invalid(
            "No reading has a place on its panel, so no map can be drawn",
            "Give the columns u and v: 0 to 1 across and down the panel's drawing.",
        ));
    }
    Ok(laid_out(&drawn))
}

fn sketched(
    map: &PanelMap,
    estimate: &PanelEstimate,
    info: &PanelInfo,
    settings: &Settings,
    words: &Words,
) -> drawing::PanelMap {
    let odd = |value: units::Thickness| estimate.outliers.iter().any(|o| o.value == value);
    let spot = |((u, v), value): &((f64, f64), units::Thickness)| Spot {
        u: *u,
        v: *v,
        words: words.thickness(*value),
        flagged: odd(*value),
    };
    drawing::PanelMap {
        title: format!("{}, total thickness and contours of the clear coat", map.panel),
        panel: map.panel.clone(),
        unit: words.thickness_unit().to_owned(),
        spots: map.spots.iter().map(spot).collect(),
        contours: contours(map, settings.floor).iter().map(|c| sketch::contour(c, words)).collect(),
        next: estimate.more.next_at.filter(|_| estimate.more.readings > 0),
        scale: sketch::scale_bar(info.width, words),
    }
}

/// The panel in a line, and what to mind in another.
fn title(estimate: &PanelEstimate, settings: &Settings) -> [String; 2] {
    let (least, floor) = (estimate.least_clear.lower, settings.floor);
    let under = format!("UNDER THE FLOOR OF {:.0} µm", floor.as_um());
    [
        format!(
            "{}, {} readings: at least {:.0} µm of clear coat",
            estimate.panel.replace('_', " "),
            estimate.n,
            least.as_um()
        ),
        if least < floor { under } else { String::new() },
    ]
}

/// Width and height of a drawing, px.
#[derive(Clone, Copy)]
struct Size {
    width: f64,
    height: f64,
}

impl Size {
    /// As the drawing itself says.
    fn of(svg: &str) -> Option<Self> {
        let number = |name: &str| {
            let rest = &svg[svg.find(&format!(" {name}=\""))? + name.len() + 3..];
            rest[..rest.find('"')?].parse::<f64>().ok()
        };
        Some(Self { width: number("width")?, height: number("height")? })
    }
}

/// Drawings in rows of two, each under its title.
fn laid_out(drawn: &[([String; 2], Size, String)]) -> String {
    let column = drawn.iter().map(|d| d.1.width).fold(0.0, f64::max) + SPACE;
    let mut body = String::new();
    let mut top = SPACE;
    for row in drawn.chunks(COLUMNS) {
        let height = row.iter().map(|d| d.1.height).fold(0.0, f64::max);
        for (i, (title, _, svg)) in row.iter().enumerate() {
            let x = SPACE + i as f64 * column;
            // Ids are told apart, since every drawing names its hatches alike.
            let svg = svg
                .replace("\"d-", &format!("\"d{top:.0}-{i}-"))
                .replace("#d-", &format!("#d{top:.0}-{i}-"))
                .replace(" d-d\"", &format!(" d{top:.0}-{i}-d\""))
                .replacen("<svg ", &format!("<svg x=\"{x}\" y=\"{}\" ", top + TITLE), 1);
            for (line, words) in title.iter().enumerate() {
                let (y, weight) = (top + 13.0 + 17.0 * line as f64, if line == 0 { 400 } else { 700 });
                body.push_str(&format!(
                    "<text x=\"{x}\" y=\"{y}\" font-size=\"13\" font-weight=\"{weight}\" font-family=\"sans-serif\">{}</text>",
                    escaped(words)
                ));
            }
            body.push_str(&svg);
        }
        top += height + TITLE + SPACE;
    }
    let width = SPACE + column * drawn.len().min(COLUMNS) as f64;
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}\" height=\"{top}\" viewBox=\"0 0 {width} {top}\">\
         <rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>{body}</svg>\n"
    )
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}
