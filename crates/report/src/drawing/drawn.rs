//! A generic body as paths on a sheet or in one upright view, read back from the body's own drawing,
//! so that hatches can lie between its panels and details and labels can keep clear of it.

use body::{Body, Drawing, SheetOptions, Spot, Style, View};
use std::sync::OnceLock;
use svgtypes::{SimplePathSegment, SimplifyingPathParser};
use units::Length;

/// One path of a body.
pub(super) struct DrawnPath {
    pub(super) view: View,
    /// Class as the body names it: `paint`, `glass`, `outline` and so on.
    pub(super) class: String,
    /// The panel's id; empty for lines that belong to none.
    pub(super) panel: String,
    pub(super) d: String,
    /// The same, flattened.
    pub(super) points: Vec<(f64, f64)>,
    /// Least upright box: x, y, right, bottom.
    pub(super) bounds: [f64; 4],
}

impl DrawnPath {
    /// Whether the path encloses something.
    pub(super) fn is_closed(&self) -> bool {
        self.d.ends_with(['Z', 'z'])
    }

    /// Whether a place lies inside (even-odd).
    pub(super) fn holds(&self, x: f64, y: f64) -> bool {
        let [l, t, r, b] = self.bounds;
        if x < l || x > r || y < t || y > b {
            return false;
        }
        let mut inside = false;
        for (a, c) in self.edges() {
            if (a.1 > y) != (c.1 > y) && x < (c.0 - a.0) * (y - a.1) / (c.1 - a.1) + a.0 {
                inside = !inside;
            }
        }
        inside
    }

    /// Whether a place lies inside, or within `reach` of the line.
    pub(super) fn near(&self, x: f64, y: f64, reach: f64) -> bool {
        let [l, t, r, b] = self.bounds;
        if x < l - reach || x > r + reach || y < t - reach || y > b + reach {
            return false;
        }
        let beside = |a: (f64, f64), c: (f64, f64)| {
            x > a.0.min(c.0) - reach
                && x < a.0.max(c.0) + reach
                && y > a.1.min(c.1) - reach
                && y < a.1.max(c.1) + reach
        };
        self.holds(x, y)
            || self
                .edges()
                .any(|(a, c)| beside(a, c) && super::label::off_line([a.0, a.1, c.0, c.1], x, y) < reach)
    }

    fn edges(&self) -> impl Iterator<Item = ((f64, f64), (f64, f64))> + '_ {
        let next = self.points.iter().skip(1).chain(self.points.first());
        self.points.iter().copied().zip(next.copied())
    }
}

/// A body's paths, in drawing order.
pub(super) struct Drawn {
    pub(super) paths: Vec<DrawnPath>,
    pub(super) width: f64,
    pub(super) height: f64,
    /// Places for numbers, off every view; looked for when they are first needed.
    pub(super) free: OnceLock<Vec<(f64, f64)>>,
}

impl Drawn {
    /// Every path.
    pub(super) fn all(&self) -> Vec<&DrawnPath> {
        self.paths.iter().collect()
    }
}

/// The full sheet of five views.
pub(super) fn sheet(body: &Body, detail: bool) -> &'static Drawn {
    kept(body, None, detail)
}

/// One view, upright.
pub(super) fn upright(body: &Body, view: View, detail: bool) -> &'static Drawn {
    kept(body, Some(view), detail)
}

/// There are few bodies and every page draws one: each drawing is read once.
fn kept(body: &Body, view: Option<View>, detail: bool) -> &'static Drawn {
    const STYLES: usize = Style::ALL.len();
    const SHEETS: usize = View::ALL.len() + 1;
    static KEPT: [OnceLock<Drawn>; 2 * STYLES * SHEETS] = [const { OnceLock::new() }; 2 * STYLES * SHEETS];
    let sheet = view.map_or(0, |v| v as usize + 1);
    let place = (body.style() as usize * SHEETS + sheet) * 2 + usize::from(detail);
    KEPT[place].get_or_init(|| {
        let options = SheetOptions { standalone: false, ids: false, detail, ..Default::default() };
        let drawing = match view {
            None => body.sheet_svg_fragment(&options),
            Some(view) => body.view_svg_with(view, &options),
        };
        read(&drawing, view)
    })
}

/// A body's own markup is well-formed by its tests; what could not be read is left out.
fn read(drawing: &Drawing, view: Option<View>) -> Drawn {
    let wrapped = format!("<svg>{}</svg>", drawing.markup);
    let on_sheet = view.is_none();
    let mut paths = Vec::new();
    if let Ok(doc) = roxmltree::Document::parse(&wrapped) {
        for node in doc.descendants().filter(|n| n.has_tag_name("path")) {
            let from =
                node.ancestors().find_map(|n| n.attribute("data-view")).and_then(View::from_name).or(view);
            let (Some(view), Some(d)) = (from, node.attribute("d")) else { continue };
            let points = flattened(d);
            let Some(first) = points.first() else { continue };
            // The center line runs past the body, out of the frame of a single view.
            if !on_sheet && node.attribute("class") == Some("axis") {
                continue;
            }
            let bounds = points.iter().fold([first.0, first.1, first.0, first.1], |[l, t, r, b], p| {
                [l.min(p.0), t.min(p.1), r.max(p.0), b.max(p.1)]
            });
            paths.push(DrawnPath {
                view,
                class: node.attribute("class").unwrap_or_default().to_owned(),
                panel: node.attribute("data-panel").unwrap_or_default().to_owned(),
                d: d.to_owned(),
                points,
                bounds,
            });
        }
    }
    let (width, height) = (drawing.width.as_mm(), drawing.height.as_mm());
    Drawn { paths, width, height, free: OnceLock::new() }
}

/// The corners of a path, with each curve in twelve chords.
pub(super) fn flattened(d: &str) -> Vec<(f64, f64)> {
    let mut points: Vec<(f64, f64)> = Vec::new();
    for segment in SimplifyingPathParser::from(d).flatten() {
        let (x0, y0) = points.last().copied().unwrap_or_default();
        match segment {
            SimplePathSegment::MoveTo { x, y } | SimplePathSegment::LineTo { x, y } => points.push((x, y)),
            SimplePathSegment::CurveTo { x1, y1, x2, y2, x, y } => {
                for k in 1..=12 {
                    let t = f64::from(k) / 12.0;
                    let (a, b, c, e) = cubic(t);
                    points.push((a * x0 + b * x1 + c * x2 + e * x, a * y0 + b * y1 + c * y2 + e * y));
                }
            }
            SimplePathSegment::Quadratic { x1, y1, x, y } => {
                for k in 1..=12 {
                    let t = f64::from(k) / 12.0;
                    let u = 1.0 - t;
                    let (a, b, c) = (u * u, 2.0 * u * t, t * t);
                    points.push((a * x0 + b * x1 + c * x, a * y0 + b * y1 + c * y));
                }
            }
            SimplePathSegment::ClosePath => {}
        }
    }
    points
}

fn cubic(t: f64) -> (f64, f64, f64, f64) {
    let u = 1.0 - t;
    (u * u * u, 3.0 * u * u * t, 3.0 * u * t * t, t * t * t)
}

/// The affine map `x' = a x + c y + e`, `y' = b x + d y + f` from the full sheet to the upright drawing
/// of a view, as six numbers in the order of an SVG matrix.
pub(super) fn to_upright(body: &Body, view: View) -> [f64; 6] {
    let at = |x: f64, y: f64| {
        let (x, y) = body.on_sheet(Spot { view, x: Length::mm(x), y: Length::mm(y) });
        (x.as_mm(), y.as_mm())
    };
    // The views are turned by quarters and flipped, so three places tell the whole map.
    let (o, i, j) = (at(0.0, 0.0), at(1000.0, 0.0), at(0.0, 1000.0));
    let m = [(i.0 - o.0) / 1000.0, (i.1 - o.1) / 1000.0, (j.0 - o.0) / 1000.0, (j.1 - o.1) / 1000.0];
    let det = m[0] * m[3] - m[1] * m[2];
    let [a, b, c, d] = [m[3] / det, -m[1] / det, -m[2] / det, m[0] / det];
    [a, b, c, d, -(a * o.0 + c * o.1), -(b * o.0 + d * o.1)]
}
