//! Developed areas from the projections.
//!
//! A panel of the plan is cut into slices across the car, each stretched by the slope of the center-line
//! profile; a panel of the side into slices along the car, each stretched by the slope of the
//! cross-section. A bumper is its face from the end view and its flanks from the side view, joined where
//! the outline of the plan turns 45°. Crowned panels get 1.5 % more. For planning film and product, never
//! for cutting; not yet compared with measured panels.

use crate::anchors::Anchors;
use crate::body::Shape;
use crate::ends::Section;
use crate::panel::PanelKind;
use crate::parameters::{Parameters, Tail};
use crate::plan::Plan;
use crate::side::Side;
use crate::view::View;
use plane::curve::{Axis, Edge, Point, polygon_area};
use std::f64::consts::PI;
use units::Area;

/// Share by which a panel crowned both ways exceeds its slices.
const CROWN: f64 = 1.015;
/// Steps of a bent segment in outlines, and in profiles and sections.
const OUTLINE_STEPS: usize = 24;
const SECTION_STEPS: usize = 40;
const PROFILE_STEPS: usize = 60;

/// What areas are read from.
pub(crate) struct Drawn<'a> {
    pub parameters: &'a Parameters,
    pub anchors: &'a Anchors,
    pub shapes: &'a [Shape],
    pub side: &'a Side,
    pub plan: &'a Plan,
    pub section: &'a Section,
    pub rule: Rule,
}

/// How areas are summed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Rule {
    /// Exactly, for outlines and curves as sampled: between two breaks of either, a panel's width changes
    /// evenly and its slope not at all. Areas change smoothly with the numbers of a style.
    Exact,
    /// In so many strips of one width, as the first implementation does. Wherever a slope changes suddenly
    /// the result jumps by up to a strip: 1.5 % of a bumper for a millimeter of tire.
    #[cfg(test)]
    Strips(u32),
}

/// By how much what is seen must be stretched, along an axis.
struct Stretch<'a> {
    factor: Box<dyn Fn(f64) -> f64 + 'a>,
    /// Where the factor changes suddenly.
    breaks: Vec<f64>,
}

impl<'a> Stretch<'a> {
    fn new(breaks: Vec<f64>, factor: impl Fn(f64) -> f64 + 'a) -> Stretch<'a> {
        Stretch { factor: Box::new(factor), breaks }
    }

    /// As seen, not stretched.
    fn none() -> Stretch<'a> {
        Stretch::new(Vec::new(), |_| 1.0)
    }

    /// By the slope of a curve along an axis, at most `most`.
    fn slope(curve: &'a [Point], axis: Axis, most: f64) -> Stretch<'a> {
        let breaks = curve.iter().map(|p| p.along(axis)).collect();
        Stretch::new(breaks, move |at| slope(curve, axis, at).min(most))
    }
}

impl Drawn<'_> {
    /// The area of a panel of the left side or the middle that has an outline in its main view.
    pub fn area(&self, id: &'static str, kind: PanelKind) -> Area {
        Area::mm2(self.square_millimeters(id, kind))
    }

    fn square_millimeters(&self, id: &'static str, kind: PanelKind) -> f64 {
        let profile = &self.side.lines.profile;
        let trunk = self.parameters.tail == Tail::Trunk;
        match id {
            "hood" => self.plan_area(id, &profile.hood),
            "windshield" => self.plan_area(id, &profile.windshield),
            "roof" => self.plan_area(id, &profile.roof),
            "rear_window" if trunk => self.plan_area(id, &profile.back),
            "rear_window" => self.rear_area(id, Some(&profile.back)),
            "trunk_lid" => self.trunk_lid(id),
            "tailgate" | "left_cargo_door" => {
                self.rear_area(id, (!self.parameters.has_bed()).then_some(&profile.deck))
            }
            "bed_floor" => self.seen(View::Top, id, Axis::X, &Stretch::none()),
            "front_bumper" => self.bumper(View::Front, id),
            "rear_bumper" if self.parameters.has_bed() => {
                self.seen(View::Rear, id, Axis::Y, &Stretch::none())
            }
            "rear_bumper" => self.bumper(View::Rear, id),
            "left_mirror" => 2.6 * polygon_area(&self.outline(View::Front, id)) * 0.8,
            // Half of the fender's and the quarter panel's plan faces up and is not seen from the side.
            "left_front_fender" => {
                self.side_area(id) + 0.5 * self.seen(View::Top, id, Axis::X, &Stretch::none())
            }
            "left_quarter_panel" if trunk => {
                self.side_area(id) + 0.5 * self.seen(View::Top, id, Axis::X, &Stretch::none())
            }
            // The face of the rim.
            _ if kind == PanelKind::Wheel => PI * self.parameters.rim * self.parameters.rim,
            _ => self.side_area(id),
        }
    }

    fn outline(&self, view: View, id: &str) -> Vec<Point> {
        let shape = self.shapes.iter().find(|s| s.view == view && s.panel == id);
        shape.map(|s| s.path.sampled(OUTLINE_STEPS)).unwrap_or_default()
    }

    /// Area of a panel as seen in a view, in mm², every slice across `axis` stretched.
    fn seen(&self, view: View, id: &str, axis: Axis, stretch: &Stretch<'_>) -> f64 {
        let polygon = self.outline(view, id);
        let ends = slices(&polygon, axis, &stretch.breaks, self.rule);
        let slice = |w: &[f64]| {
            let middle = (w[0] + w[1]) / 2.0;
            (w[1] - w[0]) * (stretch.factor)(middle) * chord(&polygon, axis, middle)
        };
        ends.windows(2).map(slice).sum()
    }

    fn plan_area(&self, id: &str, profile: &Edge) -> f64 {
        let profile = profile.sampled(PROFILE_STEPS);
        self.seen(View::Top, id, Axis::X, &Stretch::slope(&profile, Axis::X, f64::INFINITY)) * CROWN
    }

    fn rear_area(&self, id: &str, profile: Option<&Edge>) -> f64 {
        let profile = profile.map(|e| e.sampled(PROFILE_STEPS)).unwrap_or_default();
        let breaks = profile.iter().map(|p| p.y).collect();
        self.seen(View::Rear, id, Axis::Y, &Stretch::new(breaks, |z| steepness(&profile, z))) * CROWN
    }

    fn side_area(&self, id: &str) -> f64 {
        let section = self.section.lower.then(&self.section.upper).sampled(SECTION_STEPS);
        self.seen(View::Left, id, Axis::Y, &Stretch::slope(&section, Axis::Y, 2.0))
    }

    /// Down to the lip from the plan, below it from behind.
    fn trunk_lid(&self, id: &str) -> f64 {
        let Some((x, lip_z)) = self.parameters.deck.last() else { return 0.0 };
        let lip_x = self.anchors.length + x;
        let deck = self.side.lines.profile.deck.sampled(PROFILE_STEPS);
        let mut breaks: Vec<f64> = deck.iter().map(|p| p.x).collect();
        breaks.push(lip_x);
        let top = Stretch::new(breaks, |x| if x < lip_x { slope(&deck, Axis::X, x) } else { 0.0 });
        let face = Stretch::new(vec![*lip_z], |z| if z < *lip_z { 1.0 } else { 0.0 });
        (self.seen(View::Top, id, Axis::X, &top) + self.seen(View::Rear, id, Axis::Y, &face)) * CROWN
    }

    fn bumper(&self, view: View, id: &str) -> f64 {
        let front = view == View::Front;
        let mut round = self.plan.outline.sampled(PROFILE_STEPS);
        if !front {
            round.reverse();
        }
        let Some(corner) = turn(&round, self.rule) else { return 0.0 };
        let breaks = round.iter().chain([&corner]).flat_map(|p| [p.y, -p.y]).collect();
        let face = Stretch::new(breaks, |y: f64| {
            let y = y.abs();
            if y > corner.y {
                return 0.0;
            }
            let at = round.windows(2).find(|w| w[0].y <= y && y <= w[1].y);
            at.map_or(1.0, |w| (w[1].x - w[0].x).hypot(w[1].y - w[0].y) / (w[1].y - w[0].y))
        });
        // Flanks lean in a little and curl under: 6 % over their projection.
        let flank = Stretch::new(vec![corner.x], |x| if (x > corner.x) == front { 1.06 } else { 0.0 });
        self.seen(view, id, Axis::X, &face) + 2.0 * self.seen(View::Left, id, Axis::X, &flank)
    }
}

/// Where the outline of the plan has turned 45° from square across to along the car.
fn turn(outline: &[Point], rule: Rule) -> Option<Point> {
    let along = |w: &[Point]| {
        let (dx, dy) = ((w[1].x - w[0].x).abs(), (w[1].y - w[0].y).abs());
        (dx - dy) / dx.hypot(dy)
    };
    let i = outline.windows(2).position(|w| along(w) > 0.0)?;
    let vertex = outline[i];
    let before = match rule {
        Rule::Exact => i.checked_sub(1).map(|i| &outline[i..i + 2]),
        #[cfg(test)]
        Rule::Strips(_) => None,
    };
    let Some(before) = before else { return Some(vertex) };
    // Between the middles of the two chords that straddle 45°, since a vertex would jump along.
    let (a, b) = (along(before), along(&outline[i..i + 2]));
    let middle = |w: &[Point]| w[0].lerp(w[1], 0.5);
    Some(middle(before).lerp(middle(&outline[i..i + 2]), a / (a - b)))
}

/// Where slices of a polygon across `axis` end, in order.
fn slices(polygon: &[Point], axis: Axis, breaks: &[f64], rule: Rule) -> Vec<f64> {
    let mut ends: Vec<f64> = polygon.iter().map(|p| p.along(axis)).collect();
    ends.sort_by(f64::total_cmp);
    let (Some(low), Some(high)) = (ends.first().copied(), ends.last().copied()) else { return ends };
    match rule {
        Rule::Exact => {
            ends.extend(breaks.iter().filter(|b| low < **b && **b < high));
            ends.sort_by(f64::total_cmp);
        }
        #[cfg(test)]
        Rule::Strips(count) => {
            let width = (high - low) / f64::from(count);
            ends = (0..=count).map(|i| low + f64::from(i) * width).collect();
        }
    }
    ends
}

/// How much of the line at a coordinate lies inside a polygon, mm.
fn chord(polygon: &[Point], axis: Axis, at: f64) -> f64 {
    crossings(polygon, axis, at).chunks_exact(2).map(|c| c[1] - c[0]).sum()
}

/// Where the line at a coordinate crosses a polygon, along the other one, in order: an even number, since a
/// corner right on the line counts as below it.
pub(crate) fn crossings(polygon: &[Point], axis: Axis, at: f64) -> Vec<f64> {
    let other = axis.other();
    let next = polygon.iter().cycle().skip(1);
    let mut out: Vec<f64> = polygon
        .iter()
        .zip(next)
        .filter(|(a, c)| (a.along(axis) > at) != (c.along(axis) > at))
        .map(|(a, c)| {
            let t = (at - a.along(axis)) / (c.along(axis) - a.along(axis));
            a.along(other) + t * (c.along(other) - a.along(other))
        })
        .collect();
    out.sort_by(f64::total_cmp);
    out
}

/// Length of a curve per length along an axis where it runs along it; 1 beyond its ends.
fn slope(curve: &[Point], axis: Axis, at: f64) -> f64 {
    let here = curve.windows(2).find(|w| {
        let (a, c) = (w[0].along(axis), w[1].along(axis));
        a <= at && at <= c && c > a
    });
    here.map_or(1.0, |w| (w[1].x - w[0].x).hypot(w[1].y - w[0].y) / (w[1].along(axis) - w[0].along(axis)))
}

/// Length of a curve per height where it first passes `z`, up or down; 1 beyond its ends.
fn steepness(curve: &[Point], z: f64) -> f64 {
    let here =
        curve.windows(2).find(|w| w[0].y.min(w[1].y) <= z && z <= w[0].y.max(w[1].y) && w[0].y != w[1].y);
    here.map_or(1.0, |w| (w[1].x - w[0].x).hypot(w[1].y - w[0].y) / (w[1].y - w[0].y).abs())
}

#[cfg(test)]
mod tests {
    use super::Rule;
    use crate::parameters::Parameters;
    use crate::{Body, Style};
    use units::Area;

    type Change = fn(&mut Parameters, f64);

    const CHANGES: &[(&str, Change)] = &[
        ("length", |p, d| p.length += d),
        ("width", |p, d| p.width += d),
        ("height", |p, d| p.height += d),
        ("wheelbase", |p, d| p.wheelbase += d),
        ("front_overhang", |p, d| p.front_overhang += d),
        ("tire", |p, d| p.tire += d),
        ("clearance", |p, d| p.clearance += d),
        ("hood_z", |p, d| p.hood_z += d),
        ("cowl_f", |p, d| p.cowl_f += d),
        ("header_f", |p, d| p.header_f += d),
        ("roof_end_r", |p, d| p.roof_end_r += d),
        ("glass_end_z", |p, d| p.glass_end_z += d),
        ("pillar_b", |p, d| p.pillar_b += d),
        ("belt_f", |p, d| p.belt_f += d),
        ("rail", |p, d| p.rail += d),
    ];

    /// In steps of a millimeter an area grows or shrinks almost evenly: its second difference stays under
    /// half a square centimeter, a thousandth of the smallest body panel and a two-hundredth of the last
    /// digit that anyone reads.
    #[test]
    fn areas_change_smoothly_with_the_numbers() {
        for style in Style::ALL {
            for (name, change) in CHANGES {
                let bodies: Vec<Body> = [-1, 0, 1]
                    .into_iter()
                    .map(|step| {
                        let mut p = *style.parameters();
                        change(&mut p, f64::from(step));
                        Body::draw(style, &p, Rule::Exact).unwrap()
                    })
                    .collect();
                for (i, panel) in bodies[0].panels().iter().enumerate() {
                    let areas: Vec<Area> = bodies.iter().map(|b| b.panels()[i].area).collect();
                    for w in areas.windows(3) {
                        let bend = (w[2] - w[1] * 2.0 + w[0]).as_mm2() / 100.0;
                        assert!(bend.abs() < 0.5, "{} {name} {}: {bend} cm²", style.name(), panel.id);
                        let step = (w[1] - w[0]).as_mm2() / 100.0;
                        assert!(step.abs() < 50.0, "{} {name} {}: {step} cm²", style.name(), panel.id);
                    }
                }
            }
        }
    }

    /// The table that the first implementation prints, m² to two decimals, which it sums in 160 strips; see
    /// `tests/golden/SOURCE.md`. A dash stands where a style has no such panel.
    fn table(mut check: impl FnMut(Style, &'static str, Option<&str>)) {
        let mut lines = include_str!("../tests/golden/areas.txt").lines();
        let head = lines.next().and_then(|l| l.strip_prefix("area, m²")).unwrap();
        let styles: Vec<Style> = head.split_whitespace().map(|n| Style::from_name(n).unwrap()).collect();
        assert_eq!(styles, Style::ALL);
        let mut rows = 0;
        for line in lines {
            let mut words = line.split_whitespace();
            let id = words.next().unwrap();
            for (style, expected) in styles.iter().zip(words) {
                check(*style, id, (expected != "–").then_some(expected));
            }
            rows += 1;
        }
        assert_eq!(rows, 23);
    }

    fn rounded(body: &Body, id: &str) -> Option<String> {
        body.panel(id).map(|p| format!("{:.2}", p.area.as_m2()))
    }

    #[test]
    fn in_160_strips_areas_are_those_of_the_first_implementation() {
        let draw = |style: Style| Body::draw(style, style.parameters(), Rule::Strips(160)).unwrap();
        let bodies = Style::ALL.map(draw);
        table(|style, id, expected| {
            let area = rounded(&bodies[style as usize], id);
            if (style, id) == (Style::Convertible, "rear_window") {
                // The middle of a strip runs through a corner of the outline, which the first implementation
                // takes for no crossing, so that it loses that strip. With it the area is 0.7294 m².
                assert_eq!((area.as_deref(), expected), (Some("0.73"), Some("0.72")));
                return;
            }
            assert_eq!(area.as_deref(), expected, "{id} of {}", style.name());
        });
    }

    /// What strips miss where a slope changes within one: nine of the table's areas round otherwise, none is further
    /// than a hundredth from its printed value.
    #[test]
    fn summed_exactly_areas_differ_from_strips_by_less_than_the_last_digit() {
        let mut otherwise = Vec::new();
        table(|style, id, expected| {
            let body = Body::of(style);
            if rounded(body, id).as_deref() != expected {
                let (exact, printed) = (body.panel(id).unwrap().area, expected.unwrap());
                let off = exact.as_m2() - printed.parse::<f64>().unwrap();
                assert!(off.abs() < 0.01, "{id} of {}: {off:.4} m²", style.name());
                otherwise.push(format!("{} {id} {printed} {:.4}", style.name(), exact.as_m2()));
            }
        });
        let rounded_otherwise = [
            "coupe hood 1.89 1.8848",
            "coupe left_front_door 0.87 0.8649",
            "van left_cantrail 0.35 0.3443",
            "estate front_bumper 1.19 1.1841",
            "pickup front_bumper 1.57 1.5789",
            "estate rear_bumper 1.13 1.1235",
            "coupe rear_bumper 1.23 1.2368",
            "convertible rear_window 0.72 0.7295",
            "coupe trunk_lid 1.20 1.2071",
        ];
        assert_eq!(otherwise, rounded_otherwise);
    }
}
