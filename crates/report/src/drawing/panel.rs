//! One panel with its readings, and the map that is estimated from them.

use super::Medium;
use super::hatch::Hatch;
use super::label::{self, Rect};
use super::pen::{Anchor, Pen, Text, num};
use body::Body;
use plane::{Outline, Point};
use units::Length;

/// One reading spot on a panel.
#[derive(Clone, Debug, PartialEq)]
pub struct Spot {
    /// Across the panel in its main view, 0 to 1.
    pub u: f64,
    /// Down the panel in its main view, 0 to 1.
    pub v: f64,
    /// What was read, in the shop's unit and without it, such as `108`.
    pub words: String,
    /// Whether it stands out: drawn with a ring.
    pub flagged: bool,
}

/// A region of the estimated map: where the value passes a level.
#[derive(Clone, Debug, PartialEq)]
pub struct Contour {
    /// Rings in the panel's u, v; more than one where the region falls apart or has holes (even-odd).
    pub rings: Vec<Vec<(f64, f64)>>,
    /// The hatch that fills it; none draws only the line of the level.
    pub hatch: Option<Hatch>,
    /// Words of the level, such as `under 35 µm`.
    pub words: String,
    /// The level's number, which stands on its line.
    pub number: String,
}

/// One panel, its readings and its map.
#[derive(Clone, Debug, PartialEq)]
pub struct PanelMap {
    /// Panel and what is shown, such as `Hood, total thickness`.
    pub title: String,
    /// The panel's id on the body.
    pub panel: String,
    /// The unit of the values, such as `µm`.
    pub unit: String,
    /// Readings.
    pub spots: Vec<Spot>,
    /// Regions, the widest first.
    pub contours: Vec<Contour>,
    /// Where the next reading tells most: u, v.
    pub next: Option<(f64, f64)>,
    /// A length for the scale bar with its words, such as `500 mm`.
    pub scale: (Length, String),
}

/// Width of the drawing, px.
const WIDE: f64 = 400.0;
const SIDE: f64 = 14.0;

/// Draws a panel with its readings and map; `None` if the body has no such panel.
pub fn panel_map(body: &Body, map: &PanelMap, medium: Medium<'_>) -> Option<String> {
    let ring: Vec<(f64, f64)> = body.outline(&map.panel)?.iter().map(|p| (p.x, p.y)).collect();
    mapped(&ring, map, medium)
}

/// The same on a plain rectangle, for a panel of which only the size is known.
pub fn sheet_map(width: Length, height: Length, map: &PanelMap, medium: Medium<'_>) -> Option<String> {
    let (w, h) = (width.as_mm(), height.as_mm());
    mapped(&[(0.0, 0.0), (w, 0.0), (w, h), (0.0, h)], map, medium)
}

fn mapped(ring: &[(f64, f64)], map: &PanelMap, medium: Medium<'_>) -> Option<String> {
    let first = *ring.first()?;
    let [l, t, r, b] = ring.iter().fold([first.0, first.1, first.0, first.1], |[l, t, r, b], p| {
        [l.min(p.0), t.min(p.1), r.max(p.0), b.max(p.1)]
    });
    let (w, h) = ((r - l).max(1.0), (b - t).max(1.0));
    let unit = (w / (WIDE - 2.0 * SIDE)).max(h / 320.0);
    let origin = Point::mm((WIDE * unit - w) / 2.0, SIDE * unit);
    let at = |u: f64, v: f64| (origin.x + u * w, origin.y + v * h);
    let mut pen = Pen::new(medium, unit);
    let outline: Vec<(f64, f64)> = ring.iter().map(|p| at((p.0 - l) / w, (p.1 - t) / h)).collect();
    let clip = format!("{}-panel", pen.id());
    pen.path("ed fill", &ring_path(&outline));
    if !map.contours.is_empty() {
        pen.raw(&format!(
            "<clipPath id=\"{clip}\"><path d=\"{}\"/></clipPath><g clip-path=\"url(#{clip})\">",
            ring_path(&outline)
        ));
        for contour in &map.contours {
            let d: String = contour
                .rings
                .iter()
                .map(|ring| ring_path(&ring.iter().map(|p| at(p.0, p.1)).collect::<Vec<_>>()))
                .collect();
            if let Some(hatch) = contour.hatch {
                let fill = pen.hatch(hatch);
                pen.raw(&format!("<path class=\"hx\" fill=\"{fill}\" fill-rule=\"evenodd\" d=\"{d}\"/>"));
            }
            pen.path("ln hair", &d);
        }
        pen.raw("</g>");
    }
    pen.path("ln fat", &ring_path(&outline));
    let places: Vec<(f64, f64)> =
        map.spots.iter().map(|s| at(s.u.clamp(0.0, 1.0), s.v.clamp(0.0, 1.0))).collect();
    let room = Rect { x: 0.0, y: 0.0, w: WIDE * unit, h: h + 2.0 * SIDE * unit };
    let on_panel = Outline::new(outline.iter().map(|p| Point::mm(p.0, p.1)).collect()).ok();
    let inside = |p: (f64, f64)| {
        let around =
            |d: (f64, f64)| on_panel.as_ref().is_some_and(|o| o.contains(Point::mm(p.0 + d.0, p.1 + d.1)));
        [(0.0, 0.0), (12.0, 0.0), (-12.0, 0.0), (0.0, 8.0), (0.0, -8.0)]
            .iter()
            .all(|d| around((d.0 * unit, d.1 * unit)))
    };
    let mut taken: Vec<Rect> =
        places.iter().map(|p| Rect::around(p.0, p.1, 34.0 * unit, 34.0 * unit)).collect();
    for contour in &map.contours {
        number(&mut pen, contour, &mut taken, |p| Some(at(p.0, p.1)).filter(|p| inside(*p)));
    }
    if let Some((u, v)) = map.next {
        let (x, y) = at(u.clamp(0.0, 1.0), v.clamp(0.0, 1.0));
        let (r, arm) = (7.0 * unit, 11.0 * unit);
        pen.circle("ln fill", x, y, r);
        pen.line("ln", x - arm, y, x + arm, y);
        pen.line("ln", x, y - arm, x, y + arm);
    }
    values(&mut pen, map, &places, &outline, room);
    let bottom = h + 2.0 * SIDE * unit;
    pen.dimension(
        SIDE * unit,
        SIDE * unit + map.scale.0.as_mm().min(w),
        bottom + 8.0 * unit,
        12.0,
        &map.scale.1,
    );
    let words = described(map);
    Some(pen.finish([0.0, 0.0, WIDE * unit, bottom + 22.0 * unit], "panel", &map.title, &words))
}

/// Writes a level's number on its line, where that meets no reading and no other number.
fn number(
    pen: &mut Pen<'_>,
    contour: &Contour,
    taken: &mut Vec<Rect>,
    at: impl Fn((f64, f64)) -> Option<(f64, f64)>,
) {
    let longest = contour.rings.iter().max_by_key(|r| r.len());
    let Some(ring) = longest.filter(|_| !contour.number.is_empty()) else { return };
    let probe = |x, y| Text { x, y, size: 11.0, anchor: Anchor::Middle, class: "t2", text: &contour.number };
    let half = 0.33 * 11.0 * pen.unit();
    let free = ring.iter().filter_map(|p| at(*p)).find_map(|(x, y)| {
        let place = pen.extent(probe(x, y + half)).grown(2.0 * pen.unit());
        (!taken.iter().any(|t| t.meets(&place))).then_some((x, y, place))
    });
    if let Some((x, y, place)) = free {
        pen.patched(probe(x, y + half));
        taken.push(place);
    }
}

fn ring_path(points: &[(f64, f64)]) -> String {
    let mut d = String::new();
    for (i, p) in points.iter().enumerate() {
        d.push(if i == 0 { 'M' } else { 'L' });
        d.push_str(&num(p.0));
        d.push(' ');
        d.push_str(&num(p.1));
    }
    d.push('Z');
    d
}

/// Dots, and beside each its value: on the side where it meets no other value and no other dot.
fn values(pen: &mut Pen<'_>, map: &PanelMap, places: &[(f64, f64)], outline: &[(f64, f64)], room: Rect) {
    let u = pen.unit();
    let dots: Vec<Rect> = places.iter().map(|p| Rect::around(p.0, p.1, 9.0 * u, 9.0 * u)).collect();
    let size = if places.len() > 40 { 10.0 } else { 13.0 };
    let candidates: Vec<Vec<(Rect, f64)>> = map
        .spots
        .iter()
        .zip(places)
        .map(|(s, p)| {
            let probe = Text { x: 0.0, y: 0.0, size, anchor: Anchor::Start, class: "", text: &s.words };
            let extent = pen.extent(probe).grown(1.5 * u);
            around(*p, extent.w, extent.h, 6.0 * u)
                .into_iter()
                .filter(|(r, _)| room.holds(r))
                .map(|(r, bias)| (r, if on_line(outline, &r) { bias + 100.0 } else { bias }))
                .collect()
        })
        .collect();
    let chosen = label::settle(&candidates, |i, (r, bias), others| {
        let on_values = others.iter().filter(|(_, (o, _))| o.meets(&r)).count();
        let on_dots = dots.iter().enumerate().filter(|(j, d)| *j != i && d.meets(&r)).count();
        on_values as f64 * 1e4 + on_dots as f64 * 1e3 + bias
    });
    for (spot, (place, p)) in map.spots.iter().zip(chosen.iter().zip(places)) {
        let Some((r, _)) = place else { continue };
        let clear = !chosen.iter().zip(places).any(|(o, q)| q != p && o.is_some_and(|(o, _)| o.meets(r)));
        // Where spots lie closer than their values are long, the table has the values.
        if clear {
            pen.rect("patch", r.x, r.y, r.w, r.h);
            let (x, y) = (r.x + r.w / 2.0, r.y + r.h / 2.0 + 0.33 * size * u);
            let class = if spot.flagged { "b" } else { "" };
            pen.text(Text { x, y, size, anchor: Anchor::Middle, class, text: &spot.words });
        }
    }
    for (spot, p) in map.spots.iter().zip(places) {
        if spot.flagged {
            pen.circle("ln mean", p.0, p.1, 6.0 * u);
        }
        pen.circle("solid", p.0, p.1, 2.6 * u);
    }
}

/// Whether the panel's own line runs through a box.
fn on_line(outline: &[(f64, f64)], r: &Rect) -> bool {
    let next = outline.iter().skip(1).chain(outline.first());
    let (l, t, right, b) = (r.x, r.y, r.x + r.w, r.y + r.h);
    let diagonals = [[l, t, right, b], [right, t, l, b]];
    outline.iter().zip(next).any(|(a, c)| {
        let held = a.0 > l && a.0 < right && a.1 > t && a.1 < b;
        held || diagonals.iter().any(|d| label::crosses(*d, [a.0, a.1, c.0, c.1]))
    })
}

/// Eight places round a dot, and eight farther ones, the better first; with what each costs.
fn around(p: (f64, f64), w: f64, h: f64, off: f64) -> Vec<(Rect, f64)> {
    let mut places = Vec::new();
    for (ring, k) in [(0.0, 1.0), (6.0, 2.0)] {
        let (dx, dy) = (k * off + w / 2.0, k * off + h / 2.0);
        let spots =
            [(0.0, -dy), (0.0, dy), (dx, 0.0), (-dx, 0.0), (dx, -dy), (-dx, -dy), (dx, dy), (-dx, dy)];
        for (rank, (x, y)) in spots.into_iter().enumerate() {
            places.push((Rect::around(p.0 + x, p.1 + y, w, h), ring + rank as f64 * 0.5));
        }
    }
    places
}

fn described(map: &PanelMap) -> String {
    if map.spots.is_empty() {
        return "No readings.".to_owned();
    }
    let values: Vec<&str> = map.spots.iter().map(|s| s.words.as_str()).collect();
    let levels: Vec<&str> = map.contours.iter().map(|c| c.words.as_str()).collect();
    let levels = if levels.is_empty() { String::new() } else { format!(" Regions: {}.", levels.join(", ")) };
    let next = map.next.map_or(String::new(), |(u, v)| {
        format!(" The next reading tells most at {:.0} % across, {:.0} % down.", 100.0 * u, 100.0 * v)
    });
    format!("{} readings in {}: {}.{levels}{next}", values.len(), map.unit, values.join(", "))
}
