//! The walk through an SVG file.

use super::path::{Pen, Run};
use super::{ElementFlaw, ElementProblem, NamedOutline, SvgFlaw};
use crate::{Outline, OutlineFlaw, Point, Repair, repair};
use roxmltree::{Document, Node};
use std::str::FromStr;
use svgtypes::{LengthUnit, PointsParser, Transform, ViewBox};

/// CSS Values 3: 96 px are one inch.
const MM_PER_PX: f64 = 25.4 / 96.0;
/// How deep `use` may lead to further `use`.
const DEEPEST_USE: u32 = 8;
/// Most shapes that are read from one file, counting each use.
const MOST_SHAPES: usize = 50_000;

pub(super) fn read(text: &str, tolerance: f64) -> Result<Vec<NamedOutline>, SvgFlaw> {
    let options = roxmltree::ParsingOptions { allow_dtd: true, ..Default::default() };
    let document = Document::parse_with_options(text, options)
        .map_err(|e| SvgFlaw::NotSvg { line: e.pos().row, what: e.to_string() })?;
    let root = document.root_element();
    if root.tag_name().name() != "svg" {
        let what = format!("its first element is <{}>", root.tag_name().name());
        return Err(SvgFlaw::NotSvg { line: line_of(root), what });
    }
    let mut reader = Reader { document: &document, tolerance, found: Vec::new(), flaws: Vec::new() };
    match scale_of(root) {
        Ok(scale) => reader.walk(root, scale),
        Err(flaw) => reader.flaws.push(named(root, flaw)),
    }
    if !reader.flaws.is_empty() {
        return Err(SvgFlaw::Elements(reader.flaws));
    }
    if reader.found.is_empty() { Err(SvgFlaw::Empty) } else { Ok(reader.found) }
}

struct Reader<'a> {
    document: &'a Document<'a>,
    tolerance: f64,
    found: Vec<NamedOutline>,
    flaws: Vec<ElementFlaw>,
}

struct Visit<'a> {
    node: Node<'a, 'a>,
    to_mm: Transform,
    uses: u32,
}

impl<'a> Reader<'a> {
    /// Visits all drawn elements in the order of the file; a stack instead of calls, so that no depth harms.
    fn walk(&mut self, root: Node<'a, 'a>, to_mm: Transform) {
        let mut stack: Vec<Visit<'a>> = children(root, to_mm, 0);
        while let Some(visit) = stack.pop() {
            if self.found.len() + self.flaws.len() >= MOST_SHAPES {
                self.flaws.push(named(root, ElementProblem::TooMany { most: MOST_SHAPES }));
                return;
            }
            match self.visit(&visit) {
                Ok(inner) => stack.extend(inner),
                Err(problem) => self.flaws.push(named(visit.node, problem)),
            }
        }
    }

    /// Reads a shape, or gives what lies inside a group.
    fn visit(&mut self, visit: &Visit<'a>) -> Result<Vec<Visit<'a>>, ElementProblem> {
        let node = visit.node;
        if !is_drawn(node) {
            return Ok(Vec::new());
        }
        let to_mm = match node.attribute("transform") {
            Some(text) => product(
                &visit.to_mm,
                &Transform::from_str(text).map_err(|_| {
                    ElementProblem::unreadable(
                        "transform",
                        text,
                        "use translate, rotate, scale, skewX, skewY or matrix",
                    )
                })?,
            ),
            None => visit.to_mm,
        };
        let pen = Pen { to_mm, tolerance: self.tolerance };
        let number = |name| number(node, name);
        let size = |name| size(node, name);
        let runs = match node.tag_name().name() {
            "g" | "a" | "switch" => return Ok(children(node, to_mm, visit.uses)),
            "svg" => {
                let shift = Transform::new(1.0, 0.0, 0.0, 1.0, number("x")?, number("y")?);
                return Ok(children(node, product(&to_mm, &shift), visit.uses));
            }
            "use" => return self.used(node, &to_mm, visit.uses),
            "path" => pen.path(node.attribute("d").unwrap_or_default())?,
            "rect" => {
                let (rx, ry) = (node.attribute("rx"), node.attribute("ry"));
                let pick = |own, other| if own { size(other) } else { Ok(0.0) };
                let rx_value = if rx.is_some() { size("rx")? } else { pick(ry.is_some(), "ry")? };
                let ry_value = if ry.is_some() { size("ry")? } else { pick(rx.is_some(), "rx")? };
                let place = [number("x")?, number("y")?, size("width")?, size("height")?];
                vec![pen.rectangle(place, rx_value, ry_value)]
            }
            "circle" => {
                let r = size("r")?;
                vec![pen.ellipse(number("cx")?, number("cy")?, r, r)]
            }
            "ellipse" => vec![pen.ellipse(number("cx")?, number("cy")?, size("rx")?, size("ry")?)],
            "polygon" => vec![polygon(&pen, node, true)?],
            "polyline" => vec![polygon(&pen, node, false)?],
            "line" => {
                let (start, end) =
                    (pen.map(number("x1")?, number("y1")?), pen.map(number("x2")?, number("y2")?));
                vec![Run { points: vec![start, end], closed: false }]
            }
            _ => return Ok(Vec::new()),
        };
        let name = name_of(node);
        self.take(&name, line_of(node), runs)?;
        Ok(Vec::new())
    }

    fn used(
        &self,
        node: Node<'a, 'a>,
        to_mm: &Transform,
        uses: u32,
    ) -> Result<Vec<Visit<'a>>, ElementProblem> {
        let reference =
            node.attribute("href").or_else(|| node.attribute(("http://www.w3.org/1999/xlink", "href")));
        let reference = reference.unwrap_or_default();
        let id = reference.trim_start_matches('#');
        let target = self.document.descendants().find(|n| n.attribute("id") == Some(id) && !id.is_empty());
        match target {
            Some(target) if uses < DEEPEST_USE => {
                let shift = Transform::new(1.0, 0.0, 0.0, 1.0, number(node, "x")?, number(node, "y")?);
                let to_mm = product(to_mm, &shift);
                if matches!(target.tag_name().name(), "symbol") {
                    return Ok(children(target, to_mm, uses + 1));
                }
                Ok(vec![Visit { node: target, to_mm, uses: uses + 1 }])
            }
            _ => Err(ElementProblem::unreadable(
                "href",
                reference,
                "let it name an element of this file that does not use itself",
            )),
        }
    }

    /// Turns the runs of one element into outlines with their inner cuts.
    fn take(&mut self, name: &str, line: u32, runs: Vec<Run>) -> Result<(), ElementProblem> {
        let mut rings = Vec::new();
        for run in runs {
            rings.push(mend(run, self.tolerance)?);
        }
        let shapes = nested(rings);
        let many = shapes.len() > 1;
        for (i, ((outline, repairs), inner)) in shapes.into_iter().enumerate() {
            let name = if many { format!("{name}.{}", i + 1) } else { name.to_owned() };
            let (inner, more): (Vec<_>, Vec<_>) = inner.into_iter().unzip();
            let repairs = repairs.into_iter().chain(more.into_iter().flatten()).collect();
            self.found.push(NamedOutline { name, line, outline, inner, repairs });
        }
        Ok(())
    }
}

/// A ring with what was mended in it.
pub(crate) type Mended = (Outline, Vec<Repair>);

fn mend(run: Run, tolerance: f64) -> Result<Mended, OutlineFlaw> {
    if !run.closed
        && let (Some(&start), Some(&end)) = (run.points.first(), run.points.last())
        && start.distance(end).as_mm() > repair::WIDEST_GAP.as_mm().max(tolerance)
    {
        return Err(OutlineFlaw::Open { start, end });
    }
    let (outline, mut repairs) = repair::repair(&run.points)?;
    if !run.closed
        && let (Some(&at), Some(&end)) = (run.points.first(), run.points.last())
        && at != end
        && !repairs.iter().any(|r| matches!(r, Repair::Gap { .. }))
    {
        repairs.push(Repair::Gap { at, width: at.distance(end) });
    }
    Ok((outline, repairs))
}

/// Outer rings, each with those that lie inside it.
pub(crate) fn nested(rings: Vec<Mended>) -> Vec<(Mended, Vec<Mended>)> {
    let mut order: Vec<Mended> = rings;
    order.sort_by(|a, b| b.0.area().total_cmp(&a.0.area()));
    let mut shapes: Vec<(Mended, Vec<Mended>)> = Vec::new();
    for ring in order {
        let first = ring.0.points().first().copied().unwrap_or_default();
        match shapes.iter_mut().find(|(outer, _)| outer.0.contains(first)) {
            Some((_, inner)) => inner.push(ring),
            None => shapes.push((ring, Vec::new())),
        }
    }
    shapes
}

fn polygon(pen: &Pen, node: Node<'_, '_>, closed: bool) -> Result<Run, ElementProblem> {
    let text = node.attribute("points").unwrap_or_default();
    let numbers = text.split(|c: char| c.is_whitespace() || c == ',').filter(|s| !s.is_empty());
    if !text.is_empty()
        && numbers.clone().any(|n| n.contains(|c: char| c.is_alphabetic() && c != 'e' && c != 'E'))
    {
        return Err(ElementProblem::unreadable("points", text, "write pairs of numbers: x,y x,y …"));
    }
    let points: Vec<Point> = PointsParser::from(text).map(|(x, y)| pen.map(x, y)).collect();
    Ok(Run { points, closed })
}

/// Children to visit, last first, so that a stack gives them in the order of the file.
fn children<'a>(node: Node<'a, 'a>, to_mm: Transform, uses: u32) -> Vec<Visit<'a>> {
    let mut list: Vec<_> =
        node.children().filter(Node::is_element).map(|node| Visit { node, to_mm, uses }).collect();
    list.reverse();
    list
}

/// Whether an element shows: neither hidden, nor in a layer of marks or labels as the cut file writes them.
fn is_drawn(node: Node<'_, '_>) -> bool {
    let hidden = node.attribute("display") == Some("none")
        || node.attribute("style").is_some_and(|s| s.replace(' ', "").contains("display:none"));
    let aside = node.tag_name().name() == "g" && matches!(node.attribute("id"), Some("marks" | "labels"));
    !hidden && !aside
}

fn name_of(node: Node<'_, '_>) -> String {
    let own = node.attribute("id").map(str::trim).filter(|id| !id.is_empty());
    let name = own.map_or_else(|| format!("line {}", line_of(node)), ToOwned::to_owned);
    name.chars().take(80).collect()
}

fn line_of(node: Node<'_, '_>) -> u32 {
    node.document().text_pos_at(node.range().start).row
}

fn named(node: Node<'_, '_>, flaw: ElementProblem) -> ElementFlaw {
    ElementFlaw { name: name_of(node), line: line_of(node), flaw }
}

/// A coordinate in user units; 0 where it is not given.
fn number(node: Node<'_, '_>, name: &'static str) -> Result<f64, ElementProblem> {
    let Some(text) = node.attribute(name) else { return Ok(0.0) };
    let (value, unit) = length(name, text)?;
    Ok(if unit == LengthUnit::None { value } else { value * mm(unit) / MM_PER_PX })
}

/// A size in user units: not below 0.
fn size(node: Node<'_, '_>, name: &'static str) -> Result<f64, ElementProblem> {
    let value = number(node, name)?;
    if value >= 0.0 {
        return Ok(value);
    }
    Err(ElementProblem::unreadable(name, node.attribute(name).unwrap_or_default(), "a size is not negative"))
}

fn length(name: &'static str, text: &str) -> Result<(f64, LengthUnit), ElementProblem> {
    match svgtypes::Length::from_str(text.trim()) {
        Ok(l) if l.number.is_finite() && mm(l.unit) > 0.0 => Ok((l.number, l.unit)),
        _ => Err(ElementProblem::unreadable(
            name,
            text,
            "write a number, with or without px, mm, cm, in, pt or pc",
        )),
    }
}

/// Millimeters in a unit: CSS Values 3, section 6.2; 0 for units that depend on something else.
fn mm(unit: LengthUnit) -> f64 {
    match unit {
        LengthUnit::None | LengthUnit::Px => MM_PER_PX,
        LengthUnit::In => 25.4,
        LengthUnit::Cm => 10.0,
        LengthUnit::Mm => 1.0,
        LengthUnit::Pt => 25.4 / 72.0,
        LengthUnit::Pc => 25.4 / 6.0,
        LengthUnit::Em | LengthUnit::Ex | LengthUnit::Percent => 0.0,
    }
}

/// From user units of the root to millimeters. The origin stays where the file has it: an offset of the
/// view box moves the window, not the pieces.
fn scale_of(root: Node<'_, '_>) -> Result<Transform, ElementProblem> {
    let size = |name: &'static str| match root.attribute(name) {
        Some(text) if !text.trim().ends_with('%') && text.trim() != "auto" => {
            length(name, text).map(|(value, unit)| Some(value * mm(unit)))
        }
        _ => Ok(None),
    };
    let (width, height) = (size("width")?, size("height")?);
    let Some(text) = root.attribute("viewBox") else { return Ok(scaled(MM_PER_PX, MM_PER_PX)) };
    let view = ViewBox::from_str(text).map_err(|_| {
        ElementProblem::unreadable(
            "viewBox",
            text,
            "write four numbers: x, y, width and height, the last two above 0",
        )
    })?;
    let (sx, sy) = match (width, height) {
        (Some(w), Some(h)) => (w / view.w, h / view.h),
        (Some(w), None) => (w / view.w, w / view.w),
        (None, Some(h)) => (h / view.h, h / view.h),
        (None, None) => (MM_PER_PX, MM_PER_PX),
    };
    let aspect = root.attribute("preserveAspectRatio").unwrap_or_default();
    let (sx, sy) = match aspect {
        "none" => (sx, sy),
        other if other.contains("slice") => (sx.max(sy), sx.max(sy)),
        _ => (sx.min(sy), sx.min(sy)),
    };
    if !(sx > 0.0 && sy > 0.0 && sx.is_finite() && sy.is_finite()) {
        return Err(ElementProblem::unreadable(
            "viewBox",
            text,
            "width and height of the drawing must be above 0",
        ));
    }
    Ok(scaled(sx, sy))
}

fn scaled(sx: f64, sy: f64) -> Transform {
    Transform::new(sx, 0.0, 0.0, sy, 0.0, 0.0)
}

/// `outer` after `inner`: transforms apply from right to left.
fn product(outer: &Transform, inner: &Transform) -> Transform {
    let (m, n) = (outer, inner);
    Transform::new(
        m.a * n.a + m.c * n.b,
        m.b * n.a + m.d * n.b,
        m.a * n.c + m.c * n.d,
        m.b * n.c + m.d * n.d,
        m.a * n.e + m.c * n.f + m.e,
        m.b * n.e + m.d * n.f + m.f,
    )
}
