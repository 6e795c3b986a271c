//! The pen: writes SVG elements with classes, keeps account of the hatches it used, and closes the
//! drawing with its title, its hatches and, for a drawing on its own, its colors.

use super::Medium;
use super::hatch::{Hatch, Lay, Tile};
use super::label::Rect;
use crate::font;
use std::collections::BTreeSet;
use std::fmt::Write;

/// Rules for every drawing inside a web page. They read the page's variables `--ink`, `--ink2`,
/// `--sheet`, `--rule`, `--edge` and `--blue`, so that night and print follow by themselves, and keep
/// line widths in screen px at any zoom.
pub const STYLE: &str = "\
.drawing{display:block;width:100%;height:auto;color:var(--ink)}
.drawing.fixed{width:auto;max-width:none}
.drawing text{font-family:inherit;font-variant-numeric:tabular-nums;fill:var(--ink);stroke:none}
.drawing .t2{fill:var(--ink2)}.drawing .tb{fill:var(--blue)}.drawing .ti{fill:var(--sheet)}
.drawing .b{font-weight:600}
.drawing .ln{fill:none}
.drawing .ln,.drawing .ed{stroke:var(--ink);stroke-width:1;vector-effect:non-scaling-stroke;stroke-linejoin:round;stroke-linecap:round}
.drawing .fat{stroke-width:2}.drawing .mean{stroke-width:1.5}.drawing .trim{stroke-width:.8}.drawing .hair{stroke-width:.6}
.drawing .soft{stroke:var(--rule)}.drawing .mid{stroke:var(--edge)}.drawing .bl{stroke:var(--blue)}
.drawing .dash{stroke-dasharray:5 3;stroke-linecap:butt}.drawing .axis{stroke-dasharray:14 3 2 3;stroke-linecap:butt}
.drawing .fill{fill:var(--sheet)}.drawing .solid{fill:var(--ink);stroke:none}.drawing .solidb{fill:var(--blue);stroke:none}
.drawing .patch,.drawing .hbg{fill:var(--sheet);stroke:none}.drawing .tint{fill:var(--rule);fill-opacity:.25;stroke:none}
.drawing .h{fill:none;stroke:var(--ink)}.drawing .hd{fill:var(--ink);stroke:none}.drawing .hx{stroke:none}
.drawing [data-panel]{cursor:pointer}.drawing a:focus-visible{outline:3px solid var(--blue)}
@media(forced-colors:active){.drawing text{fill:CanvasText}.drawing .ln,.drawing .ed,.drawing .h{stroke:CanvasText}.drawing .fill,.drawing .patch,.drawing .hbg{fill:Canvas}}
";

/// Colors of a drawing on its own: ink on white; the one accent prints as a dark gray.
const INK: &str = "#101820";
const INK2: &str = "#3d4a54";
const RULE: &str = "#b3bcc3";
const EDGE: &str = "#68757f";
const BLUE: &str = "#1d45b0";

/// Which end of a line of text its place names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
    End,
}

/// One line of text on a drawing; `size` in px, `y` on the base line.
#[derive(Clone, Copy, Debug)]
pub(super) struct Text<'a> {
    pub(super) x: f64,
    pub(super) y: f64,
    pub(super) size: f64,
    pub(super) anchor: Anchor,
    /// Of `t2`, `tb`, `ti`, `b`, or none.
    pub(super) class: &'a str,
    pub(super) text: &'a str,
}

/// Writes one drawing. `unit` is how many of the drawing's own units make one px at its usual size.
pub(super) struct Pen<'a> {
    medium: Medium<'a>,
    unit: f64,
    out: String,
    used: BTreeSet<Hatch>,
}

impl<'a> Pen<'a> {
    pub(super) fn new(medium: Medium<'a>, unit: f64) -> Self {
        Self { medium, unit, out: String::new(), used: BTreeSet::new() }
    }

    pub(super) fn unit(&self) -> f64 {
        self.unit
    }

    /// Prefix of ids.
    pub(super) fn id(&self) -> &'a str {
        match self.medium {
            Medium::Page { id } => id,
            Medium::Alone => "d",
        }
    }

    /// Whether names for pointers and scripts are worth writing.
    pub(super) fn is_page(&self) -> bool {
        matches!(self.medium, Medium::Page { .. })
    }

    /// Text that is markup already.
    pub(super) fn raw(&mut self, markup: &str) {
        self.out.push_str(markup);
    }

    pub(super) fn path(&mut self, class: &str, d: &str) {
        let _ = write!(self.out, "<path class=\"{class}\" d=\"{d}\"/>");
    }

    pub(super) fn line(&mut self, class: &str, x1: f64, y1: f64, x2: f64, y2: f64) {
        let d = format!("M{} {}L{} {}", num(x1), num(y1), num(x2), num(y2));
        self.path(class, &d);
    }

    pub(super) fn rect(&mut self, class: &str, x: f64, y: f64, w: f64, h: f64) {
        let _ = write!(
            self.out,
            "<rect class=\"{class}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>",
            num(x),
            num(y),
            num(w),
            num(h)
        );
    }

    pub(super) fn circle(&mut self, class: &str, x: f64, y: f64, r: f64) {
        let _ = write!(
            self.out,
            "<circle class=\"{class}\" cx=\"{}\" cy=\"{}\" r=\"{}\"/>",
            num(x),
            num(y),
            num(r)
        );
    }

    /// Reference to a hatch, which is thereby written into the drawing.
    pub(super) fn hatch(&mut self, hatch: Hatch) -> String {
        self.used.insert(hatch);
        format!("url(#{}-{})", self.id(), hatch.lay().name)
    }

    pub(super) fn hatched_path(&mut self, d: &str, hatch: Hatch) {
        let fill = self.hatch(hatch);
        let _ = write!(self.out, "<path class=\"hx\" fill=\"{fill}\" d=\"{d}\"/>");
    }

    pub(super) fn hatched_rect(&mut self, x: f64, y: f64, w: f64, h: f64, hatch: Hatch) {
        let fill = self.hatch(hatch);
        let _ = write!(
            self.out,
            "<rect class=\"hx\" fill=\"{fill}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>",
            num(x),
            num(y),
            num(w),
            num(h)
        );
    }

    pub(super) fn text(&mut self, t: Text<'_>) {
        if t.text.is_empty() {
            return;
        }
        let anchor = match t.anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let class = if t.class.is_empty() { String::new() } else { format!(" class=\"{}\"", t.class) };
        let _ = write!(
            self.out,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\"{anchor}{class}>{}</text>",
            num(t.x),
            num(t.y),
            num(t.size * self.unit),
            escaped(t.text)
        );
    }

    /// The place that a line of text takes.
    pub(super) fn extent(&self, t: Text<'_>) -> Rect {
        let size = t.size * self.unit;
        let w = size * font::width_em(t.text, is_bold(t.class));
        let x = match t.anchor {
            Anchor::Start => t.x,
            Anchor::Middle => t.x - w / 2.0,
            Anchor::End => t.x - w,
        };
        Rect { x, y: t.y - 0.8 * size, w, h: size }
    }

    /// Text that stands on a hatch or on lines: with a plain patch under it.
    pub(super) fn patched(&mut self, t: Text<'_>) {
        if t.text.is_empty() {
            return;
        }
        let r = self.extent(t).grown(2.0 * self.unit);
        self.rect("patch", r.x, r.y, r.w, r.h);
        self.text(t);
    }

    /// A numbered disc: a leader's end or the number of a piece.
    pub(super) fn disc(&mut self, x: f64, y: f64, r: f64, size: f64, number: &str) {
        self.circle("ln fill", x, y, r);
        let y = y + 0.35 * size * self.unit;
        self.text(Text { x, y, size, anchor: Anchor::Middle, class: "b", text: number });
    }

    /// A dimension line with end ticks; the words stand in a gap of the line, or beside it when they
    /// are longer than the line. Returns the place of the words.
    pub(super) fn dimension(&mut self, x1: f64, x2: f64, y: f64, size: f64, words: &str) -> Rect {
        let u = self.unit;
        let (tick, mid) = (4.0 * u, (x1 + x2) / 2.0);
        for x in [x1, x2] {
            self.line("ln hair", x, y - tick, x, y + tick);
        }
        let base = y + 0.35 * size * u;
        let centered = Text { x: mid, y: base, size, anchor: Anchor::Middle, class: "", text: words };
        let place = self.extent(centered).grown(5.0 * u);
        if place.w < x2 - x1 {
            self.line("ln hair", x1, y, place.x, y);
            self.line("ln hair", place.x + place.w, y, x2, y);
            self.text(centered);
            return place;
        }
        self.line("ln hair", x1, y, x2, y);
        let beside = Text { x: x2 + 6.0 * u, anchor: Anchor::Start, ..centered };
        self.text(beside);
        self.extent(beside)
    }

    /// Closes the drawing: `view` is x, y, width and height; `kind` one more class.
    pub(super) fn finish(self, view: [f64; 4], kind: &str, title: &str, words: &str) -> String {
        let [x, y, w, h] = view;
        let id = self.id();
        let page = self.is_page();
        let mut svg = String::with_capacity(self.out.len() + 2048);
        let _ = write!(
            svg,
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"drawing {kind}\" viewBox=\"{} {} {} {}\"",
            num(x),
            num(y),
            num(w),
            num(h)
        );
        if !page || kind.contains("fixed") {
            let _ = write!(svg, " width=\"{}\" height=\"{}\"", num(w / self.unit), num(h / self.unit));
        }
        // A picture hides what is in it from screen readers; a drawing with links must not.
        let role = if self.out.contains("<a ") { "group" } else { "img" };
        let _ = write!(
            svg,
            " role=\"{role}\" aria-labelledby=\"{id}-t {id}-d\"><title id=\"{id}-t\">{}</title><desc id=\"{id}-d\">{}</desc>",
            escaped(title),
            escaped(words)
        );
        self.close(svg)
    }

    /// Closes a swatch, which says nothing by itself.
    pub(super) fn swatch(self, w: f64, h: f64) -> String {
        let svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"drawing swatch\" viewBox=\"0 0 {} {}\" width=\"{}\" height=\"{}\" aria-hidden=\"true\">",
            num(w),
            num(h),
            num(w),
            num(h)
        );
        self.close(svg)
    }

    fn close(self, mut svg: String) -> String {
        if !self.is_page() {
            svg.push_str(&alone_style(self.unit));
        }
        if !self.used.is_empty() {
            svg.push_str("<defs>");
            for hatch in &self.used {
                svg.push_str(&pattern(self.id(), *hatch, self.unit));
            }
            svg.push_str("</defs>");
        }
        svg.push_str(&self.out);
        svg.push_str("</svg>");
        svg
    }
}

fn is_bold(class: &str) -> bool {
    class.split(' ').any(|c| c == "b")
}

/// The rules of a drawing on its own; its renderer knows neither variables nor non-scaling strokes.
fn alone_style(unit: f64) -> String {
    let w = |px: f64| num(px * unit);
    format!(
        "<style>text{{font-family:'{family}';fill:{INK}}}.t2{{fill:{INK2}}}.tb{{fill:{BLUE}}}.ti{{fill:#fff}}.b{{font-weight:700}}\
         .ln{{fill:none}}.ln,.ed{{stroke:{INK};stroke-width:{w1};stroke-linejoin:round;stroke-linecap:round}}\
         .fat{{stroke-width:{w2}}}.mean{{stroke-width:{w15}}}.trim{{stroke-width:{w08}}}.hair{{stroke-width:{w06}}}\
         .soft{{stroke:{RULE}}}.mid{{stroke:{EDGE}}}.bl{{stroke:{BLUE}}}\
         .dash{{stroke-dasharray:{d5} {d3};stroke-linecap:butt}}.axis{{stroke-dasharray:{d14} {d3} {d2} {d3};stroke-linecap:butt}}\
         .fill{{fill:#fff}}.solid{{fill:{INK};stroke:none}}.solidb{{fill:{BLUE};stroke:none}}\
         .patch{{fill:#fff;stroke:none}}.hbg{{fill:#fff;stroke:none}}.tint{{fill:#e7ebee;stroke:none}}\
         .h{{fill:none;stroke:{INK}}}.hd{{fill:{INK};stroke:none}}.hx{{stroke:none}}</style>",
        family = font::FAMILY,
        w1 = w(1.0),
        w2 = w(2.0),
        w15 = w(1.5),
        w08 = w(0.8),
        w06 = w(0.6),
        d5 = w(5.0),
        d3 = w(3.0),
        d14 = w(14.0),
        d2 = w(2.0),
    )
}

fn pattern(id: &str, hatch: Hatch, unit: f64) -> String {
    let Lay { name, pitch, weight, turn, tile } = hatch.lay();
    let p = num(pitch * unit);
    let turn =
        if turn == 0.0 { String::new() } else { format!(" patternTransform=\"rotate({})\"", num(turn)) };
    let stroke = format!("class=\"h\" stroke-width=\"{}\"", num2(weight * unit));
    let inside = match tile {
        Tile::Line => format!("<path {stroke} d=\"M0 0V{p}\"/>"),
        Tile::Cross => format!("<path {stroke} d=\"M0 0V{p}M0 0H{p}\"/>"),
        Tile::Dot => {
            let (c, r) = (num(pitch * unit / 2.0), num2(weight * unit));
            format!("<circle class=\"hd\" cx=\"{c}\" cy=\"{c}\" r=\"{r}\"/>")
        }
        Tile::Dash => {
            let (y, x) = (num(pitch * unit * 0.25), num(pitch * unit * 0.6));
            format!("<path {stroke} d=\"M0 {y}H{x}\"/>")
        }
    };
    format!(
        "<pattern id=\"{id}-{name}\" width=\"{p}\" height=\"{p}\" patternUnits=\"userSpaceOnUse\"{turn}>\
         <rect class=\"hbg\" width=\"{p}\" height=\"{p}\"/>{inside}</pattern>"
    )
}

/// A coordinate with one decimal at most.
pub(super) fn num(v: f64) -> String {
    trimmed(format!("{v:.1}"))
}

/// A small measure with two decimals at most.
fn num2(v: f64) -> String {
    trimmed(format!("{v:.2}"))
}

fn trimmed(s: String) -> String {
    let s = s.trim_end_matches('0').trim_end_matches('.');
    if s == "-0" { "0".to_owned() } else { s.to_owned() }
}

/// Safe inside an element and inside an attribute; characters that XML cannot hold are dropped.
pub(super) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\t' | '\n' | '\r' => out.push(' '),
            c if c.is_control() || c == '\u{fffe}' || c == '\u{ffff}' => {}
            c => out.push(c),
        }
    }
    out
}
