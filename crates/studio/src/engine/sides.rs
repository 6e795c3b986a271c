//! The film zones of a car, and where seams on its sides could lie.
//!
//! Panels of the sides are parted where a seam could be laid: at the flared parts behind the wheels, which stones hit most,
//! and above them. All of it is planning on a generic drawing: common practice, no source.

use crate::studio::body_of;
use body::Body;
use job::{FilmZone, Job, Order, PanelId};
use plane::{Outline, Point};
use std::collections::BTreeMap;
use units::{Area, Length};

/// A part of a panel that candidate seams set apart.
#[derive(Clone, Debug)]
pub struct Part {
    /// Its panel.
    pub panel: PanelId,
    /// Its name within the panel: `flare`, `front`, `upper`; empty for a whole panel.
    pub part: &'static str,
    /// Where damage is alike.
    pub zone: FilmZone,
    /// Film on it.
    pub area: Area,
    /// As it is drawn, in mm of the upright drawing.
    pub outline: Outline,
}

/// A line on which a seam could lie.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// Its name, the same on both sides: `front_fender/flare`.
    pub name: String,
    /// In words.
    pub title: String,
    /// The parts on its two sides, by number.
    pub between: (usize, usize),
    /// Its length.
    pub length: Length,
    /// The part of it that is seen by who stands beside the car.
    pub seen: Length,
}

/// Panels in parts, with the lines between them.
#[derive(Clone, Debug, Default)]
pub struct Parted {
    /// Parts.
    pub parts: Vec<Part>,
    /// Lines.
    pub lines: Vec<Line>,
}

/// Where a panel of the side is cut: from the front wheel's middle and radius, the rear wheel's, and the panel's height.
struct Cut {
    /// The part that is cut off, and how it is called.
    part: &'static str,
    /// Damage on it.
    zone: FilmZone,
    /// Keeps what lies beyond the line.
    side: Keep,
    /// In words, after the panel's name.
    title: &'static str,
    /// Share of the line that is seen.
    seen: f64,
}

/// Half of the plane, in mm with the nose to the left and up as up.
#[derive(Clone, Copy)]
enum Keep {
    /// Behind x.
    Behind(f64),
    /// Before x.
    Before(f64),
    /// Below y.
    Below(f64),
}

/// The drawing of a side turned so that the nose is left and up is up, and back.
#[derive(Clone, Copy)]
struct Turn {
    along: f64,
    up: f64,
}

impl Turn {
    fn of(self, outline: &Outline) -> Option<Outline> {
        let turned = outline.points().iter().map(|p| Point { x: self.along * p.x, y: self.up * p.y });
        Outline::new(turned.collect()).ok()
    }
}

/// Least share of a panel that is worth a part of its own.
const LEAST: f64 = 0.04;

fn drawn(body: &Body, panel: &str) -> Option<Outline> {
    Outline::new(body.outline(panel)?).ok()
}

/// What the side of a body is measured by.
struct Side {
    turn: Turn,
    /// Middle and radius of the wheels, along.
    front: (f64, f64),
    rear: (f64, f64),
    /// Height of the top of the rear arch.
    arch: f64,
}

impl Side {
    fn of(body: &Body, side: &str) -> Option<Self> {
        let bounds = |panel: &str| Some(drawn(body, &format!("{side}_{panel}"))?.bounds());
        let (front, rear) = (bounds("front_wheel")?, bounds("rear_wheel")?);
        let roof_end = bounds("front_glass").or_else(|| bounds("mirror"))?;
        let along = if front.center().x <= rear.center().x { 1.0 } else { -1.0 };
        let up = if roof_end.center().y >= front.center().y { 1.0 } else { -1.0 };
        let wheel = |b: &plane::Bounds| (along * b.center().x, b.width().as_mm() / 2.0);
        let arch = up * rear.center().y + rear.height().as_mm() / 2.0 + 40.0;
        Some(Self { turn: Turn { along, up }, front: wheel(&front), rear: wheel(&rear), arch })
    }

    /// How a panel of the side is parted; each cut takes its part off what is left.
    fn cuts(&self, panel: &str, outline: &Outline) -> Vec<Cut> {
        use FilmZone::BehindWheels;
        let b = outline.bounds();
        let (low, high) = (b.low.y, b.high.y);
        let third = (b.high.x - b.low.x) / 3.0;
        match panel {
            "front_fender" => vec![Cut {
                part: "flare",
                zone: BehindWheels,
                side: Keep::Behind(self.front.0 + 0.9 * self.front.1),
                title: "before the flare behind the wheel",
                seen: 0.6,
            }],
            "front_door" | "rear_door" => vec![Cut {
                part: "foot",
                zone: BehindWheels,
                side: Keep::Below(low + 0.28 * (high - low)),
                title: "above its foot",
                seen: 1.0,
            }],
            "rocker" => vec![
                Cut {
                    part: "front",
                    zone: BehindWheels,
                    side: Keep::Before(b.low.x + third),
                    title: "behind its front third",
                    seen: 0.3,
                },
                Cut {
                    part: "rear",
                    zone: BehindWheels,
                    side: Keep::Behind(b.high.x - third),
                    title: "before its rear third",
                    seen: 0.3,
                },
            ],
            "quarter_panel" | "bed_side" => vec![
                Cut {
                    part: "flare",
                    zone: BehindWheels,
                    side: Keep::Before(self.rear.0 - 0.55 * self.rear.1),
                    title: "behind the flare before the wheel",
                    seen: 0.8,
                },
                Cut {
                    part: "tail",
                    zone: BehindWheels,
                    side: Keep::Below(self.arch),
                    title: "above the tail behind the wheel",
                    seen: 0.8,
                },
            ],
            _ => Vec::new(),
        }
    }
}

/// Panels of an order in parts, in the order of the drawing.
pub fn parted(body: &Body, covered: &[PanelId]) -> Parted {
    let mut all = Parted::default();
    let sides = ["left", "right"].map(|s| (s, Side::of(body, s)));
    for panel in covered {
        let Some((outline, known)) = drawn(body, panel.as_str()).zip(body.panel(panel.as_str())) else {
            continue;
        };
        let side = sides.iter().find_map(|(name, side)| {
            let rest = panel.as_str().strip_prefix(name)?.strip_prefix('_')?;
            Some((rest.to_owned(), side.as_ref()?))
        });
        let done =
            side.and_then(|(short, side)| part_side(&mut all, panel, &short, side, &outline, known.area));
        if done.is_none() {
            all.parts.push(Part {
                panel: panel.clone(),
                part: "",
                zone: whole_zone(panel.as_str()),
                area: known.area,
                outline,
            });
        }
    }
    all
}

/// The zone of a panel that is not parted.
fn whole_zone(panel: &str) -> FilmZone {
    let nose = ["front_bumper", "hood"].contains(&panel)
        || panel.ends_with("_mirror")
        || panel.ends_with("_headlamp");
    let side = ["_fender", "_door", "_rocker", "_quarter_panel", "_bed_side", "_pillar", "_cantrail"]
        .iter()
        .any(|end| panel.ends_with(end));
    match (nose, side) {
        (true, _) => FilmZone::Nose,
        (_, true) => FilmZone::Sides,
        _ => FilmZone::Upper,
    }
}

/// Parts a panel of the side; nothing when no cut sets a part apart.
fn part_side(
    all: &mut Parted,
    panel: &PanelId,
    short: &str,
    side: &Side,
    outline: &Outline,
    area: Area,
) -> Option<()> {
    let turned = side.turn.of(outline)?;
    let whole = turned.area();
    let mut rest = turned.clone();
    let mut off: Vec<(Cut, Outline, Length)> = Vec::new();
    for cut in side.cuts(short, &turned) {
        let (Some(part), Some(left)) = (half(&rest, cut.side, true), half(&rest, cut.side, false)) else {
            continue;
        };
        if part.area() < whole * LEAST || left.area() < whole * LEAST {
            continue;
        }
        let length = along_line(&part, cut.side);
        rest = left;
        off.push((cut, part, length));
    }
    if off.is_empty() {
        return None;
    }
    // what cuts leave over in splinters is shared out, so that parts add up to the panel
    let sum: Area = off.iter().map(|(_, o, _)| o.area()).sum::<Area>() + rest.area();
    let scale = (area / whole).max(0.0).sqrt();
    let main = all.parts.len();
    let mut push = |part, zone, outline: &Outline| {
        let share = outline.area() / sum;
        // back to the drawing: a turn twice is none
        let outline = side.turn.of(outline)?;
        all.parts.push(Part { panel: panel.clone(), part, zone, area: area * share, outline });
        Some(())
    };
    push("main", FilmZone::Sides, &rest)?;
    for (cut, part, _) in &off {
        push(cut.part, cut.zone, part)?;
    }
    for (i, (cut, _, length)) in off.iter().enumerate() {
        let length = *length * scale;
        all.lines.push(Line {
            name: format!("{short}/{}", cut.part),
            title: format!("{}, {}", capital(&short.replace('_', " ")), cut.title),
            between: (main, main + 1 + i),
            length,
            seen: length * cut.seen,
        });
    }
    Some(())
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// The largest part of an outline on one side of a line.
fn half(outline: &Outline, keep: Keep, beyond: bool) -> Option<Outline> {
    const FAR: f64 = 1e5;
    let [x0, x1, y0, y1] = match (keep, beyond) {
        (Keep::Behind(x), true) | (Keep::Before(x), false) => [-FAR, x, -FAR, FAR],
        (Keep::Behind(x), false) | (Keep::Before(x), true) => [x, FAR, -FAR, FAR],
        (Keep::Below(y), true) => [-FAR, FAR, y, FAR],
        (Keep::Below(y), false) => [-FAR, FAR, -FAR, y],
    };
    let away = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)].map(|(x, y)| Point { x, y });
    outline.without(&[Outline::new(away.to_vec()).ok()?]).into_iter().next()
}

/// Length of the edges of an outline that lie on a line.
fn along_line(outline: &Outline, keep: Keep) -> Length {
    let on = |p: Point| match keep {
        Keep::Behind(x) | Keep::Before(x) => (p.x - x).abs() < 0.05,
        Keep::Below(y) => (p.y - y).abs() < 0.05,
    };
    outline.edges().filter(|(a, b)| on(*a) && on(*b)).map(|(a, b)| a.distance(b)).sum()
}

/// Shares of a panel by zone.
pub fn zone_shares(body: &Body, panel: &str) -> Vec<(FilmZone, f64)> {
    let parted = parted(body, &[panel.into()]);
    let whole: Area = parted.parts.iter().map(|p| p.area).sum();
    let mut shares: BTreeMap<FilmZone, f64> = BTreeMap::new();
    for part in &parted.parts {
        *shares.entry(part.zone).or_default() += part.area / whole;
    }
    if shares.is_empty() {
        shares.insert(whole_zone(panel), 1.0);
    }
    shares.into_iter().collect()
}

/// The zone in which a spot of a panel lies, by its place across and down the panel's main view; nothing when no part
/// of the panel is drawn there.
pub fn zone_at(body: &Body, panel: &str, u: f64, v: f64) -> Option<FilmZone> {
    let spot = body.point(panel, u, v)?;
    let at = Point { x: spot.x.as_mm(), y: spot.y.as_mm() };
    parted(body, &[panel.into()]).parts.iter().find(|p| p.outline.contains(at)).map(|p| p.zone)
}

/// A panel's drawn outline in the pieces that chosen seams make of it; nothing when none of them lies on it.
pub fn pieces_of(body: &Body, panel: &PanelId, seams: &[String]) -> Option<Vec<Outline>> {
    let parted = parted(body, std::slice::from_ref(panel));
    let chosen = |line: &&Line| seams.contains(&line.name);
    let cut: Vec<usize> = parted.lines.iter().filter(chosen).map(|l| l.between.1).collect();
    if cut.is_empty() {
        return None;
    }
    let stays: Vec<&Outline> =
        (0..parted.parts.len()).filter(|i| !cut.contains(i)).map(|i| &parted.parts[i].outline).collect();
    let mut pieces = vec![joined(&stays)?];
    pieces.extend(cut.iter().map(|i| parted.parts[*i].outline.clone()));
    Some(pieces)
}

/// Parts that touch, as one outline.
pub fn joined(parts: &[&Outline]) -> Option<Outline> {
    if let [one] = parts {
        return Some((*one).clone());
    }
    // edges that only touch are bridged by a hair
    let grown: Vec<Outline> = parts.iter().map(|o| o.grown(Length::mm(0.2))).collect();
    Outline::joined(&grown).into_iter().max_by(|a, b| a.area().total_cmp(&b.area()))
}

/// Panels of a side that an order covers, by their names without the side; and how many sides are alike.
pub fn sides_of(job: &Job, order: &Order) -> Option<(&'static str, Vec<PanelId>, f64)> {
    let covered = super::film::covered(order, body_of(job));
    let of = |side: &str| -> Vec<PanelId> {
        covered.iter().filter(|p| p.as_str().starts_with(side)).cloned().collect()
    };
    let (left, right) = (of("left_"), of("right_"));
    let short = |list: &[PanelId]| -> Vec<String> {
        list.iter().map(|p| p.as_str().split_once('_').map_or("", |(_, rest)| rest).to_owned()).collect()
    };
    let alike = short(&left) == short(&right);
    match (left.is_empty(), right.is_empty()) {
        (true, true) => None,
        _ if alike => Some(("left", left, 2.0)),
        _ if left.len() >= right.len() => Some(("left", left, 1.0)),
        _ => Some(("right", right, 1.0)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use body::Style;

    #[test]
    fn every_body_has_flares_behind_its_wheels_and_parts_add_up() {
        for style in Style::ALL {
            let body = Body::of(style);
            let covered: Vec<PanelId> = body
                .panels()
                .iter()
                .filter(|p| p.kind == body::PanelKind::Paint)
                .map(|p| p.id.into())
                .collect();
            let all = parted(body, &covered);
            for panel in &covered {
                let sum: Area = all.parts.iter().filter(|p| p.panel == *panel).map(|p| p.area).sum();
                let whole = body.panel(panel.as_str()).map_or(Area::ZERO, |p| p.area);
                assert!((sum / whole - 1.0).abs() < 1e-6, "{style:?} {panel}");
            }
            for side in ["left", "right"] {
                let flare = all
                    .parts
                    .iter()
                    .find(|p| p.panel.as_str() == format!("{side}_front_fender") && p.part == "flare");
                assert!(flare.is_some(), "{style:?} {side}: no flare behind the front wheel");
                let behind = flare.map_or(0.0, |p| p.outline.bounds().center().x);
                let fender =
                    drawn(body, &format!("{side}_front_fender")).map_or(0.0, |o| o.bounds().center().x);
                let door = drawn(body, &format!("{side}_front_door")).map_or(0.0, |o| o.bounds().center().x);
                // the flare lies on the door's side of the fender
                assert!((behind - fender) * (door - fender) > 0.0, "{style:?} {side}");
            }
            // both sides are alike
            let names = |side: &str| {
                all.lines
                    .iter()
                    .filter(|l| all.parts[l.between.0].panel.as_str().starts_with(side))
                    .map(|l| (l.name.clone(), l.length.as_mm().round()))
                    .collect::<Vec<_>>()
            };
            assert_eq!(names("left"), names("right"), "{style:?}");
            assert!(all.lines.iter().all(|l| l.length > Length::mm(50.0)), "{style:?}: {:?}", all.lines);
        }
    }

    #[test]
    fn a_chosen_seam_parts_its_panel_and_loses_no_film() {
        let body = Body::of(Style::Estate);
        let panel: PanelId = "right_quarter_panel".into();
        assert!(pieces_of(body, &panel, &["front_fender/flare".into()]).is_none());
        let pieces = pieces_of(body, &panel, &["quarter_panel/flare".into()]);
        let pieces = pieces.unwrap_or_default();
        assert_eq!(pieces.len(), 2);
        let sum: Area = pieces.iter().map(Outline::area).sum();
        let whole = drawn(body, panel.as_str()).map_or(Area::ZERO, |o| o.area());
        assert!((sum / whole - 1.0).abs() < 0.02, "{}", sum / whole);
    }
}
