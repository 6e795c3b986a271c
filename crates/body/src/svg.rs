//! SVG text of a body.

use crate::body::{Body, Shape, ShapeKind};
use crate::canvas::{Canvas, Pen};
use crate::{View, place};
use plane::curve::{JOIN_TOLERANCE, Placing, svg_number, svg_path};
use std::collections::BTreeMap;
use units::Length;

/// What a drawing shows.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetOptions {
    /// A whole document with its own style sheet, for looking at alone; otherwise a fragment of `<g>`
    /// elements without any style, for a page that brings its own.
    pub standalone: bool,
    /// `id` attributes: the panel's name in its main view, `hood--left` elsewhere. Leave them out if a page
    /// shows the same body twice.
    pub ids: bool,
    /// Fine lines: handles, spokes, plates, the center line.
    pub detail: bool,
    /// Further classes of panels by their id, such as `film` or `s2`, in every view.
    pub classes: BTreeMap<String, String>,
}

impl Default for SheetOptions {
    fn default() -> Self {
        SheetOptions { standalone: true, ids: true, detail: true, classes: BTreeMap::new() }
    }
}

/// SVG markup with the size of its space; one unit is one millimeter of the car.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    /// `<g>` elements without style; each path has the class of its kind and `data-panel`.
    pub markup: String,
    /// Width of the drawing.
    pub width: Length,
    /// Height of the drawing.
    pub height: Length,
}

impl Drawing {
    /// The value of a `viewBox` attribute that shows all of it.
    pub fn view_box(&self) -> String {
        format!("0 0 {} {}", svg_number(self.width.as_mm()), svg_number(self.height.as_mm()))
    }

    fn new(markup: String, (width, height): (f64, f64)) -> Drawing {
        Drawing { markup, width: Length::mm(width), height: Length::mm(height) }
    }
}

impl Body {
    /// The full sheet: the plan in the middle, the other views unfolded round it.
    pub fn sheet_svg(&self, options: &SheetOptions) -> String {
        if !options.standalone {
            return self.sheet_svg_fragment(options).markup;
        }
        let drawing = self.sheet_svg_fragment(options);
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"{}\" role=\"img\" aria-label=\"generic {}, five views, \
             1 unit = 1 mm\">\n<style>{STYLE}</style>\n{PATTERNS}\n{}\n</svg>\n",
            drawing.view_box(),
            self.label(),
            drawing.markup
        )
    }

    /// The full sheet as a fragment for a page that brings its own style; `standalone` is not regarded.
    pub fn sheet_svg_fragment(&self, options: &SheetOptions) -> Drawing {
        let views: Vec<String> = self
            .canvases()
            .iter()
            .map(|canvas| self.group(canvas, &place::on_sheet(self.anchors(), canvas.view), options))
            .collect();
        Drawing::new(views.join("\n"), place::sheet_size(self.anchors()))
    }

    /// One view, upright, as a fragment without ids and style.
    pub fn view_svg_fragment(&self, view: View) -> Drawing {
        self.view_svg_with(view, &SheetOptions { ids: false, ..SheetOptions::default() })
    }

    /// One view, upright, as a fragment; `standalone` is not regarded.
    pub fn view_svg_with(&self, view: View, options: &SheetOptions) -> Drawing {
        let (placing, size) = place::upright(self.anchors(), view);
        let canvas = self.canvases().iter().find(|c| c.view == view);
        Drawing::new(canvas.map(|c| self.group(c, &placing, options)).unwrap_or_default(), size)
    }

    fn group(&self, canvas: &Canvas, placing: &Placing, options: &SheetOptions) -> String {
        let mut lines = vec![format!("<g class=\"view\" data-view=\"{}\">", canvas.view.name())];
        let (over, under): (Vec<&Shape>, Vec<&Shape>) =
            stack(canvas).into_iter().partition(|s| s.kind == ShapeKind::Over);
        lines.extend(under.into_iter().map(|s| self.path(s, placing, options)));
        for (pen, edge) in &canvas.marks {
            if options.detail || matches!(pen, Pen::Outline | Pen::Shut) {
                let closed = edge.start().distance(edge.end()) < JOIN_TOLERANCE && *pen != Pen::Outline;
                let d = svg_path(edge, placing, closed);
                lines.push(format!("<path class=\"{}\" d=\"{d}\"/>", pen.class()));
            }
        }
        if let Some(outline) = &canvas.outline {
            lines.push(format!("<path class=\"outline\" d=\"{}\"/>", svg_path(outline, placing, true)));
        }
        lines.extend(over.into_iter().map(|s| self.path(s, placing, options)));
        lines.push("</g>".to_owned());
        lines.join(if options.ids { "\n" } else { "" })
    }

    fn path(&self, shape: &Shape, placing: &Placing, options: &SheetOptions) -> String {
        let panel = shape.panel;
        let mut class = shape.kind.class().to_owned();
        if let Some(more) = options.classes.get(panel) {
            class.push(' ');
            class.extend(more.chars().filter(|c| c.is_ascii_alphanumeric() || " -_".contains(*c)));
        }
        let main = self.panel(panel).is_some_and(|p| p.main_view == shape.view);
        let id = match (options.ids, main) {
            (false, _) => String::new(),
            (true, true) => format!(" id=\"{panel}\""),
            (true, false) => format!(" id=\"{panel}--{}\"", shape.view.name()),
        };
        format!(
            "<path class=\"{class}\"{id} data-panel=\"{panel}\" d=\"{}\"><title>{}</title></path>",
            svg_path(&shape.path, placing, true),
            panel.replace('_', " ")
        )
    }
}

/// The shapes of a view from the lowest to the topmost. From the side a wheel stands before its arch, from
/// an end behind the body.
pub(crate) fn stack(canvas: &Canvas) -> Vec<&Shape> {
    let end_view = matches!(canvas.view, View::Front | View::Rear);
    let height = |s: &Shape| match s.kind {
        ShapeKind::Wheel if end_view => 0,
        ShapeKind::Paint | ShapeKind::Fabric => 1,
        ShapeKind::Trim | ShapeKind::Glass => 2,
        ShapeKind::Lamp => 3,
        ShapeKind::Wheel => 4,
        ShapeKind::Over => 5,
    };
    let mut shapes: Vec<&Shape> = canvas.shapes.iter().collect();
    shapes.sort_by_key(|s| height(s));
    shapes
}

/// The style of a drawing that stands alone: ink on drafting paper, by night, in print.
const STYLE: &str = r#"
svg{background:#f4f7f8}
path{fill:none;stroke:#16232e;stroke-width:6;stroke-linejoin:round;stroke-linecap:round}
.paint,.over{fill:#f4f7f8;stroke-width:8}
.trim,.lamp{fill:#f4f7f8;stroke-width:5}
.glass{fill:url(#glass);stroke-width:5}
.fabric{fill:url(#fabric);stroke-width:8}
.wheel{fill:#f4f7f8;stroke-width:9}
.ring{stroke-width:6}.thin,.deco{stroke-width:3}.shut{stroke-width:5}
.outline{stroke-width:15}
.axis{stroke-width:3;stroke-dasharray:120 24 12 24}
.ground{fill:#f4f7f8;stroke:none}.tick{stroke-width:3.5;opacity:.55}
@media (prefers-color-scheme:dark){svg{background:#10283f}path,.tick{stroke:#d3e2f0}.paint,.over,.trim,.lamp,.wheel,.ground{fill:#10283f}}
@media print{svg{background:none}path,.tick{stroke:#000}.paint,.over,.trim,.lamp,.wheel,.ground{fill:#fff}}
"#;

/// Hatches of glass and fabric in a drawing that stands alone.
const PATTERNS: &str = concat!(
    r#"<defs>"#,
    r#"<pattern id="glass" width="110" height="110" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect class="ground" width="110" height="110"/><path class="tick" d="M0 0V110"/></pattern>"#,
    r#"<pattern id="fabric" width="34" height="34" patternUnits="userSpaceOnUse"><rect class="ground" width="34" height="34"/><path class="tick" d="M0 8H20"/></pattern>"#,
    r#"</defs>"#,
);
