//! A car on its sheet: findings as numbered leaders with a hatch on the spot, and small views with
//! hatched panels.

use super::drawn::{self, Drawn, DrawnPath};
use super::film_map::FilmPiece;
use super::hatch::Hatch;
use super::label;
use super::pen::{Anchor, Pen, Text, escaped, num};
use super::{Medium, Severity};
use body::{Body, View};
use std::collections::BTreeMap;
use units::Length;

/// One finding on the drawing of a car.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark {
    /// Its number, as in the table beside the drawing.
    pub number: u32,
    /// The panel's id. A panel that this body does not have (the interior, a part that is not drawn) is
    /// named below the drawing, with the number.
    pub panel: String,
    /// Across the panel in its main view, 0 to 1.
    pub u: f64,
    /// Down the panel in its main view, 0 to 1.
    pub v: f64,
    /// Length of it; drawn to scale between a least and a greatest size.
    pub size: Option<Length>,
    /// Whether the whole panel is meant.
    pub whole_panel: bool,
    /// How bad.
    pub severity: Severity,
    /// Another hatch than that of the severity, if any.
    pub hatch: Option<Hatch>,
    /// In words, such as `Scratch, marked`.
    pub words: String,
    /// Where a tap on the number leads, in a page.
    pub href: Option<String>,
}

/// A finding placed: its center and half axes on the drawing.
struct Placed<'a> {
    mark: &'a Mark,
    x: f64,
    y: f64,
    rx: f64,
    ry: f64,
}

/// A car's full sheet with its findings; one unit is one millimeter of the car.
///
/// In a page every panel carries `data-panel`, and every view `data-view` and `data-upright`: six numbers
/// a b c d e f that take a place on the sheet to x = a·x + c·y + e, y = b·x + d·y + f on the upright view,
/// from which the body tells panel, u and v.
pub fn car_sheet(body: &Body, title: &str, marks: &[Mark], medium: Medium<'_>) -> String {
    let drawn = drawn::sheet(body, true);
    Draw { body, drawn, unit: drawn.width / 1000.0, full: true, film: &[] }.on_sheet(title, marks, medium)
}

/// One upright view of a car with the findings that belong on it; for narrow screens.
pub fn car_view(body: &Body, view: View, title: &str, marks: &[Mark], medium: Medium<'_>) -> String {
    let drawn = drawn::upright(body, view, true);
    Draw { body, drawn, unit: drawn.width / 480.0, full: false, film: &[] }
        .on_view(view, title, marks, medium)
}

/// A car's full sheet with whole panels hatched: covered, worked on.
pub fn car_panels(body: &Body, title: &str, hatched: &BTreeMap<String, Hatch>, medium: Medium<'_>) -> String {
    let drawn = drawn::sheet(body, false);
    let mut pen = Pen::new(medium, drawn.width / 1000.0);
    paths(&mut pen, &drawn.all(), hatched, false);
    pen.finish([0.0, 0.0, drawn.width, drawn.height], "car", title, &hatched_words(body, hatched))
}

/// The side of a car, small, with panels hatched; one scale for all bodies, standing on one ground line,
/// so that a van looks larger than a hatchback. With `plan`, the plan below the side.
pub fn car_mini(
    body: &Body,
    title: &str,
    hatched: &BTreeMap<String, Hatch>,
    plan: bool,
    medium: Medium<'_>,
) -> String {
    // Largest body of the house, mm; see the test that all of them fit.
    const LONGEST: f64 = 5560.0;
    const HIGHEST: f64 = 2090.0;
    let side_of = |prefix: &str| hatched.keys().filter(|p| p.starts_with(prefix)).count();
    let view = if side_of("right_") > side_of("left_") { View::Right } else { View::Left };
    let side = drawn::upright(body, view, false);
    let unit = LONGEST / 320.0;
    let mut pen = Pen::new(medium, unit);
    let width = if plan { side.width } else { LONGEST };
    let top = if plan { 0.0 } else { HIGHEST - side.height };
    shifted(&mut pen, 0.0, top, |pen| paths(pen, &side.all(), hatched, false));
    let mut height = top + side.height;
    if plan {
        let above = drawn::upright(body, View::Top, false);
        shifted(&mut pen, 0.0, height + 120.0, |pen| paths(pen, &above.all(), hatched, false));
        height += 120.0 + above.height;
    }
    let words = hatched_words(body, hatched);
    pen.finish([0.0, 0.0, width, height], "mini", title, &words)
}

fn hatched_words(body: &Body, hatched: &BTreeMap<String, Hatch>) -> String {
    let names: Vec<&str> = hatched.keys().filter_map(|id| body.panel(id).map(|p| p.title)).collect();
    if names.is_empty() { "No panel is marked.".to_owned() } else { format!("Marked: {}.", names.join(", ")) }
}

fn shifted(pen: &mut Pen<'_>, dx: f64, dy: f64, inside: impl FnOnce(&mut Pen<'_>)) {
    pen.raw(&format!("<g transform=\"translate({} {})\">", num(dx), num(dy)));
    inside(pen);
    pen.raw("</g>");
}

/// The body's own paths, some panels hatched.
fn paths(pen: &mut Pen<'_>, drawn: &[&DrawnPath], hatched: &BTreeMap<String, Hatch>, large: bool) {
    for path in drawn {
        let hatch = hatched.get(&path.panel).copied().filter(|_| path.is_closed());
        let hatch = hatch.or(match path.class.as_str() {
            "glass" if large => Some(Hatch::Glass),
            "fabric" if large => Some(Hatch::Fabric),
            _ => None,
        });
        let class = match path.class.as_str() {
            "paint" | "over" | "fabric" => "",
            "glass" | "trim" | "lamp" => " trim",
            "wheel" => " mean",
            "outline" => " fat",
            "shut" => "",
            "axis" => " hair axis",
            _ => " hair",
        };
        let (class, fill) = match hatch {
            Some(hatch) => (format!("ed{class}"), format!(" fill=\"{}\"", pen.hatch(hatch))),
            None if path.panel.is_empty() => (format!("ln{class}"), String::new()),
            None => (format!("ed{class} fill"), String::new()),
        };
        let panel = if pen.is_page() && !path.panel.is_empty() {
            format!(" data-panel=\"{}\"", path.panel)
        } else {
            String::new()
        };
        pen.raw(&format!("<path class=\"{class}\"{fill}{panel} d=\"{}\"/>", path.d));
    }
}

/// A car being drawn with its findings.
pub(super) struct Draw<'a> {
    pub(super) body: &'a Body,
    pub(super) drawn: &'a Drawn,
    pub(super) unit: f64,
    /// Whether this is the full sheet, whose views stand in their own directions.
    pub(super) full: bool,
    /// Pieces of film, under the findings.
    pub(super) film: &'a [FilmPiece],
}

/// The nearest places are choice enough for one number, and keep many numbers quick.
const NEAREST: usize = 150;
/// Radius of a numbered disc, px.
const DISC: f64 = 13.0;
/// Room round the views, px, for numbers of what lies near the ground or an end.
const ROOM: f64 = 36.0;

impl Draw<'_> {
    pub(super) fn on_sheet(&self, title: &str, marks: &[Mark], medium: Medium<'_>) -> String {
        let at = |mark: &Mark| {
            let spot = self.body.point(&mark.panel, mark.u.clamp(0.0, 1.0), mark.v.clamp(0.0, 1.0))?;
            let (x, y) = self.body.on_sheet(spot);
            Some((x.as_mm(), y.as_mm()))
        };
        self.car(title, marks, &at, medium)
    }

    pub(super) fn on_view(&self, view: View, title: &str, marks: &[Mark], medium: Medium<'_>) -> String {
        let here = |m: &&Mark| self.body.panel(&m.panel).is_some_and(|p| p.main_view == view);
        let own: Vec<Mark> = marks.iter().filter(here).cloned().collect();
        let at = |mark: &Mark| {
            let spot = self.body.point(&mark.panel, mark.u.clamp(0.0, 1.0), mark.v.clamp(0.0, 1.0))?;
            Some((spot.x.as_mm(), spot.y.as_mm()))
        };
        self.car(title, &own, &at, medium)
    }

    fn car(
        &self,
        title: &str,
        marks: &[Mark],
        at: &dyn Fn(&Mark) -> Option<(f64, f64)>,
        medium: Medium<'_>,
    ) -> String {
        let u = self.unit;
        let mut pen = Pen::new(medium, u);
        // A whole panel under a light hatch must not be taken for glass.
        self.views(&mut pen, self.film.is_empty() && !marks.iter().any(|m| m.whole_panel));
        let (placed, lost): (Vec<_>, Vec<_>) =
            marks.iter().map(|m| (m, at(m))).partition(|(_, p)| p.is_some());
        let placed: Vec<Placed<'_>> =
            placed.into_iter().filter_map(|(m, p)| p.map(|(x, y)| self.placed(m, x, y))).collect();
        // Whole panels lie under single spots, and the worse over the less bad.
        let mut order: Vec<&Placed<'_>> = placed.iter().collect();
        order.sort_by_key(|p| (!p.mark.whole_panel, p.mark.severity));
        for p in order {
            self.spot(&mut pen, p);
        }
        let discs = self.discs(&placed);
        for (p, disc) in placed.iter().zip(&discs) {
            // With no free place at all the number stands on the spot itself.
            let (x, y) = disc.unwrap_or((p.x, p.y));
            self.leader(&mut pen, p, x, y);
        }
        let [left, top, width, mut height] = self.frame();
        let lost: Vec<&Mark> = lost.into_iter().map(|(m, _)| m).collect();
        if !lost.is_empty() {
            height += self.below(&mut pen, &lost, top + height);
        }
        let words: Vec<String> = marks
            .iter()
            .map(|m| {
                let panel = self.body.panel(&m.panel).map_or(m.panel.as_str(), |p| p.title);
                format!("{}: {}, {panel}", m.number, m.words)
            })
            .collect();
        let words = if !self.film.is_empty() && words.is_empty() {
            format!("{} pieces of film.", self.film.len())
        } else if words.is_empty() {
            "No findings.".to_owned()
        } else {
            words.join(". ")
        };
        pen.finish([left, top, width, height], "car", title, &words)
    }

    /// The views with room round them. The sheet has room at its sides already.
    fn frame(&self) -> [f64; 4] {
        let room = ROOM * self.unit;
        let side = if self.full { 0.0 } else { room };
        [-side, -room, self.drawn.width + 2.0 * side, self.drawn.height + 2.0 * room]
    }

    fn views(&self, pen: &mut Pen<'_>, glass: bool) {
        let none = BTreeMap::new();
        for view in View::ALL {
            let own: Vec<&DrawnPath> = self.drawn.paths.iter().filter(|p| p.view == view).collect();
            if own.is_empty() {
                continue;
            }
            if pen.is_page() {
                let upright = if self.full {
                    drawn::to_upright(self.body, view)
                } else {
                    [1.0, 0.0, 0.0, 1.0, 0.0, 0.0]
                };
                let upright: Vec<String> = upright.iter().map(|v| num(*v)).collect();
                let (name, matrix) = (view.name(), upright.join(" "));
                pen.raw(&format!("<g class=\"view\" data-view=\"{name}\" data-upright=\"{matrix}\">"));
            } else {
                pen.raw("<g>");
            }
            paths(pen, &own, &none, glass);
            self.film(pen, view, &own);
            pen.raw("</g>");
        }
    }

    /// The size of a spot: as found, but large enough to see and small enough to stay on its panel.
    fn placed<'m>(&self, mark: &'m Mark, x: f64, y: f64) -> Placed<'m> {
        let (least, most) = (13.0 * self.unit, 60.0 * self.unit);
        let found = mark.size.filter(|s| s.is_finite()).map_or(22.0 * self.unit, |s| s.as_mm() / 2.0);
        let mut r = found.clamp(least, most);
        let near = |p: &&DrawnPath| {
            p.panel == mark.panel
                && p.bounds[0] <= x
                && x <= p.bounds[2]
                && p.bounds[1] <= y
                && y <= p.bounds[3]
        };
        let (mut x, mut y) = (x, y);
        if let Some(panel) = self.drawn.paths.iter().find(near) {
            (x, y) = onto(panel, x, y);
            while r > least && !on_panel(panel, x, y, r) {
                r *= 0.9;
            }
        }
        Placed { mark, x, y, rx: r, ry: 0.62 * r }
    }

    fn spot(&self, pen: &mut Pen<'_>, p: &Placed<'_>) {
        let hatch = p.mark.hatch.unwrap_or(p.mark.severity.hatch());
        if p.mark.whole_panel {
            let whole = self.drawn.paths.iter().filter(|q| q.panel == p.mark.panel && q.is_closed());
            for path in whole {
                pen.hatched_path(&path.d, hatch);
                pen.path("ln", &path.d);
            }
            return;
        }
        let fill = pen.hatch(hatch);
        let shape =
            format!("cx=\"{}\" cy=\"{}\" rx=\"{}\" ry=\"{}\"", num(p.x), num(p.y), num(p.rx), num(p.ry));
        pen.raw(&format!("<ellipse class=\"ed\" fill=\"{fill}\" {shape}/>"));
    }

    /// A free place for each number: off every view, off every other number, its leader short, crossing
    /// no other leader and no other number.
    fn discs(&self, placed: &[Placed<'_>]) -> Vec<Option<(f64, f64)>> {
        let u = self.unit;
        let free = self.drawn.free.get_or_init(|| self.free());
        let candidates: Vec<Vec<(f64, f64)>> = placed
            .iter()
            .map(|p| {
                let square = |c: &(f64, f64)| (p.x - c.0).powi(2) + (p.y - c.1).powi(2);
                let mut near: Vec<(f64, (f64, f64))> = free.iter().map(|c| (square(c), *c)).collect();
                if near.len() > NEAREST {
                    near.select_nth_unstable_by(NEAREST, |a, b| a.0.total_cmp(&b.0));
                    near.truncate(NEAREST);
                }
                near.sort_by(|a, b| a.0.total_cmp(&b.0));
                near.into_iter().map(|(_, c)| c).collect()
            })
            .collect();
        label::settle(&candidates, |i, c, others| {
            let p = &placed[i];
            let line = [p.x, p.y, c.0, c.1];
            let mut cost = far(p, c) / u;
            for (j, o) in others {
                let q = &placed[*j];
                let apart = (c.0 - o.0).hypot(c.1 - o.1);
                let crowded = apart < (2.0 * DISC + 5.0) * u;
                let other = [q.x, q.y, o.0, o.1];
                let over = label::off_line(line, o.0, o.1) < (DISC + 3.0) * u
                    || label::off_line(other, c.0, c.1) < (DISC + 3.0) * u;
                cost += f64::from(u8::from(crowded)) * 1e5
                    + f64::from(u8::from(over)) * 1e4
                    + f64::from(u8::from(label::crosses(line, other))) * 1e3;
            }
            // A leader that runs over another finding's spot reads as that finding's.
            for q in placed.iter().filter(|q| q.mark.number != p.mark.number) {
                cost += f64::from(u8::from(label::off_line(line, q.x, q.y) < q.ry)) * 300.0;
            }
            cost
        })
    }

    /// Places of a grid where a number stands off every view.
    fn free(&self) -> Vec<(f64, f64)> {
        let u = self.unit;
        let (reach, step) = ((DISC + 4.0) * u, 13.0 * u);
        let solid: Vec<&DrawnPath> =
            self.drawn.paths.iter().filter(|p| p.is_closed() || !p.panel.is_empty()).collect();
        let [left, top, width, height] = self.frame();
        let (nx, ny) = ((width / step) as usize, (height / step) as usize);
        let mut free = Vec::new();
        for j in 0..=ny {
            for i in 0..=nx {
                let (x, y) = (i as f64 * step, j as f64 * step);
                let inside = x > reach && y > reach && x < width - reach && y < height - reach;
                let (x, y) = (left + x, top + y);
                if inside && !solid.iter().any(|p| p.near(x, y, reach)) {
                    free.push((x, y));
                }
            }
        }
        free
    }

    fn leader(&self, pen: &mut Pen<'_>, p: &Placed<'_>, x: f64, y: f64) {
        let u = self.unit;
        let (dx, dy) = (x - p.x, y - p.y);
        let length = dx.hypot(dy);
        let number = p.mark.number.to_string();
        if let Some(href) = p.mark.href.as_deref().filter(|_| pen.is_page()) {
            pen.raw(&format!("<a href=\"{}\">", escaped(href)));
        }
        pen.raw(&format!(
            "<g data-finding=\"{number}\"><title>{}: {}</title>",
            number,
            escaped(&p.mark.words)
        ));
        if length > DISC * u {
            // From the rim of the spot, or from its middle where a whole panel is meant.
            let t = if p.mark.whole_panel { 0.0 } else { 1.0 / (dx / p.rx).hypot(dy / p.ry) };
            let s = 1.0 - DISC * u / length;
            if t < s {
                pen.line("ln", p.x + t * dx, p.y + t * dy, p.x + s * dx, p.y + s * dy);
            }
            if p.mark.whole_panel {
                pen.circle("solid", p.x, p.y, 2.5 * u);
            }
        }
        let size = if number.len() > 2 { 11.0 } else { 15.0 };
        pen.disc(x, y, DISC * u, size, &number);
        pen.raw("</g>");
        if p.mark.href.is_some() && pen.is_page() {
            pen.raw("</a>");
        }
    }

    /// Numbers whose panel this body does not draw, in words below; returns the height taken.
    fn below(&self, pen: &mut Pen<'_>, lost: &[&Mark], top: f64) -> f64 {
        let u = self.unit;
        for (i, mark) in lost.iter().enumerate() {
            let y = top + (16.0 + 30.0 * i as f64) * u;
            let number = mark.number.to_string();
            pen.disc(20.0 * u, y, DISC * u, 15.0, &number);
            let words = format!("{}: {}", mark.panel.replace('_', " "), mark.words);
            pen.text(Text {
                x: 42.0 * u,
                y: y + 5.0 * u,
                size: 14.0,
                anchor: Anchor::Start,
                class: "",
                text: &words,
            });
        }
        (32.0 + 30.0 * (lost.len() as f64 - 1.0) + 4.0) * u
    }
}

fn far(p: &Placed<'_>, c: (f64, f64)) -> f64 {
    (p.x - c.0).hypot(p.y - c.1)
}

/// The place itself, or the nearest of a grid that lies on the panel: the middle of a panel's box may lie
/// off the panel, in a wheel arch.
fn onto(panel: &DrawnPath, x: f64, y: f64) -> (f64, f64) {
    if panel.holds(x, y) {
        return (x, y);
    }
    let [l, t, r, b] = panel.bounds;
    let at = |k: usize| {
        let (i, j) = (k % 24, k / 24);
        (l + (r - l) * (i as f64 + 0.5) / 24.0, t + (b - t) * (j as f64 + 0.5) / 24.0)
    };
    (0..24 * 24)
        .map(at)
        .filter(|p| panel.holds(p.0, p.1))
        .min_by(|a, b| (a.0 - x).hypot(a.1 - y).total_cmp(&(b.0 - x).hypot(b.1 - y)))
        .unwrap_or((x, y))
}

/// Whether a spot of half width `r` stays on its panel.
fn on_panel(panel: &DrawnPath, x: f64, y: f64, r: f64) -> bool {
    (0..12).all(|k| {
        let a = f64::from(k) * std::f64::consts::TAU / 12.0;
        panel.holds(x + r * a.cos(), y + 0.62 * r * a.sin())
    })
}
