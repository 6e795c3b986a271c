//! Elements of a DXF file. Group codes: DXF reference, chapter on entities.

use super::{Drawn, DxfFlaw, EntityFlaw, EntityProblem, MOST_ENTITIES, spline};
use crate::Point;
use crate::flatten::EllipseArc;
use std::f64::consts::TAU;

pub(super) fn read(text: &str, tolerance: f64) -> Result<Vec<Drawn>, DxfFlaw> {
    let records = records(text)?;
    let scale = scale_of(&records)?;
    let mut reader = Reader { scale, tolerance, drawn: Vec::new(), flaws: Vec::new() };
    let mut inside = false;
    let mut polyline: Option<(Record<'_>, Vec<Vertex>)> = None;
    for record in records {
        match (record.kind, inside) {
            ("SECTION", _) => inside = record.text(2) == Some("ENTITIES"),
            ("ENDSEC" | "EOF", _) => inside = false,
            ("POLYLINE", true) => polyline = Some((record, Vec::new())),
            ("VERTEX", true) => {
                if let Some((_, vertices)) = &mut polyline {
                    vertices.push(record.vertex());
                }
            }
            ("SEQEND", true) => {
                if let Some((head, vertices)) = polyline.take() {
                    let closed = head.number(70).unwrap_or(0.0) as i64 & 1 == 1;
                    reader.polyline(&head, &vertices, closed);
                }
            }
            (_, true) => reader.entity(&record),
            _ => {}
        }
        if reader.drawn.len() > MOST_ENTITIES {
            let what = format!("more than {MOST_ENTITIES} elements");
            return Err(DxfFlaw::NotDxf { line: 1, what });
        }
    }
    if reader.flaws.is_empty() { Ok(reader.drawn) } else { Err(DxfFlaw::Entities(reader.flaws)) }
}

/// A zero group with all that follows up to the next.
struct Record<'a> {
    kind: &'a str,
    line: u32,
    groups: Vec<(i32, &'a str)>,
}

#[derive(Clone, Copy)]
struct Vertex {
    at: Point,
    bulge: f64,
}

impl<'a> Record<'a> {
    fn text(&self, code: i32) -> Option<&'a str> {
        self.groups.iter().find(|g| g.0 == code).map(|g| g.1)
    }

    fn number(&self, code: i32) -> Option<f64> {
        self.text(code)?.parse().ok().filter(|v: &f64| v.is_finite())
    }

    fn all(&self, code: i32) -> Vec<f64> {
        self.groups.iter().filter(|g| g.0 == code).filter_map(|g| g.1.parse().ok()).collect()
    }

    fn point(&self, code: i32) -> Option<Point> {
        Some(Point::mm(self.number(code)?, self.number(code + 10)?))
    }

    fn vertex(&self) -> Vertex {
        Vertex {
            at: self.point(10).unwrap_or(Point::mm(f64::NAN, f64::NAN)),
            bulge: self.number(42).unwrap_or(0.0),
        }
    }
}

fn records(text: &str) -> Result<Vec<Record<'_>>, DxfFlaw> {
    let mut records: Vec<Record<'_>> = Vec::new();
    let mut lines = text.lines().zip(1u32..);
    while let Some((code_text, line)) = lines.next() {
        if code_text.trim().is_empty() && records.last().is_none_or(|r| r.kind == "EOF") {
            continue;
        }
        let code: i32 = code_text.trim().parse().map_err(|_| {
            let what: String = code_text.trim().chars().take(30).collect();
            DxfFlaw::NotDxf { line, what: format!("a group code was expected, not '{what}'") }
        })?;
        let Some((value, _)) = lines.next() else {
            return Err(DxfFlaw::NotDxf { line, what: "the file ends in the middle of a group".to_owned() });
        };
        let value = value.trim();
        match records.last_mut() {
            _ if code == 0 => records.push(Record { kind: value, line, groups: Vec::new() }),
            Some(record) => record.groups.push((code, value)),
            None if code == 999 => {} // a comment before everything
            None => {
                return Err(DxfFlaw::NotDxf { line, what: "it does not begin with a section".to_owned() });
            }
        }
    }
    let sections = records.iter().any(|r| r.kind == "SECTION");
    if sections {
        Ok(records)
    } else {
        Err(DxfFlaw::NotDxf { line: 1, what: "it holds no section".to_owned() })
    }
}

/// Millimeters in the unit of the header, $INSUNITS (DXF reference: 1 inch, 2 foot, 4 mm, 5 cm, 6 m; 0 none).
fn scale_of(records: &[Record<'_>]) -> Result<f64, DxfFlaw> {
    let header = records.iter().find(|r| r.kind == "SECTION" && r.text(2) == Some("HEADER"));
    let Some(header) = header else { return Ok(1.0) };
    let after = header.groups.iter().skip_while(|g| *g != &(9, "$INSUNITS")).nth(1);
    match after.map(|g| g.1) {
        None | Some("0" | "4") => Ok(1.0),
        Some("1") => Ok(25.4),
        Some("2") => Ok(304.8),
        Some("5") => Ok(10.0),
        Some("6") => Ok(1000.0),
        Some(other) => {
            let what = format!("its unit, $INSUNITS {other}, is none of inch, foot, mm, cm, m");
            Err(DxfFlaw::NotDxf { line: header.line, what })
        }
    }
}

struct Reader {
    scale: f64,
    tolerance: f64,
    drawn: Vec<Drawn>,
    flaws: Vec<EntityFlaw>,
}

impl Reader {
    fn entity(&mut self, record: &Record<'_>) {
        let drawn = match record.kind {
            "LWPOLYLINE" => return self.light_polyline(record),
            "LINE" => record.point(10).zip(record.point(11)).map(|(a, b)| (vec![a, b], false)),
            "CIRCLE" => self.arc_of(record, 0.0, TAU).map(|arc| (arc.ring(self.own_tolerance()), true)),
            "ARC" => {
                let angle = |code| record.number(code).map(f64::to_radians);
                angle(50).zip(angle(51)).and_then(|(from, to)| {
                    let sweep = (to - from).rem_euclid(TAU);
                    self.arc_of(record, from, if sweep == 0.0 { TAU } else { sweep })
                        .map(|arc| (self.open(&arc), false))
                })
            }
            "ELLIPSE" => self.ellipse(record),
            "SPLINE" => {
                let curve = spline::Spline {
                    degree: record.number(71).unwrap_or(3.0) as usize,
                    knots: record.all(40),
                    weights: record.all(41),
                    controls: record
                        .all(10)
                        .into_iter()
                        .zip(record.all(20))
                        .map(|(x, y)| Point::mm(x, y))
                        .collect(),
                };
                let closed = record.number(70).unwrap_or(0.0) as i64 & 1 == 1;
                curve.flattened(self.own_tolerance()).map(|points| (points, closed))
            }
            "INSERT" => {
                let what = "it is a block reference: explode blocks before export";
                return self.flaws.push(flaw(record, EntityProblem::Shape(what)));
            }
            _ => return,
        };
        match drawn {
            Some((points, closed)) => self.take(record, points, closed),
            None => self.flaws.push(flaw(
                record,
                EntityProblem::Shape("its numbers are missing or make no curve: draw it anew"),
            )),
        }
    }

    /// In the units of the file.
    fn own_tolerance(&self) -> f64 {
        self.tolerance / self.scale
    }

    fn arc_of(&self, record: &Record<'_>, start: f64, sweep: f64) -> Option<EllipseArc> {
        let radius = record.number(40).filter(|r| *r > 0.0)?;
        Some(EllipseArc::circle(record.point(10)?, radius, start, sweep))
    }

    fn open(&self, arc: &EllipseArc) -> Vec<Point> {
        let mut points = vec![arc.center + arc.major * arc.start.cos() + arc.minor * arc.start.sin()];
        arc.flatten(&mut points, None, self.own_tolerance());
        points
    }

    fn ellipse(&self, record: &Record<'_>) -> Option<(Vec<Point>, bool)> {
        let (center, major) = (record.point(10)?, record.point(11)?);
        let ratio = record.number(40)?;
        let (from, to) = (record.number(41).unwrap_or(0.0), record.number(42).unwrap_or(TAU));
        let sweep = (to - from).rem_euclid(TAU);
        let full = !(1e-9..=TAU - 1e-9).contains(&sweep);
        let minor = Point::mm(-major.y, major.x) * ratio;
        let arc = EllipseArc { center, major, minor, start: from, sweep: if full { TAU } else { sweep } };
        Some(if full { (arc.ring(self.own_tolerance()), true) } else { (self.open(&arc), false) })
    }

    fn light_polyline(&mut self, record: &Record<'_>) {
        let mut vertices: Vec<Vertex> = Vec::new();
        for (code, value) in &record.groups {
            let number = value.parse::<f64>().unwrap_or(f64::NAN);
            match (code, vertices.last_mut()) {
                (10, _) => vertices.push(Vertex { at: Point::mm(number, f64::NAN), bulge: 0.0 }),
                (20, Some(v)) => v.at.y = number,
                (42, Some(v)) => v.bulge = number,
                _ => {}
            }
        }
        let closed = record.number(70).unwrap_or(0.0) as i64 & 1 == 1;
        self.polyline(record, &vertices, closed);
    }

    fn polyline(&mut self, record: &Record<'_>, vertices: &[Vertex], closed: bool) {
        let mut points = Vec::with_capacity(vertices.len());
        for (i, v) in vertices.iter().enumerate() {
            points.push(v.at);
            let next = if i + 1 < vertices.len() { Some(i + 1) } else { closed.then_some(0) };
            if let (Some(next), true) = (next, v.bulge != 0.0) {
                bulge(&mut points, v.at, vertices[next].at, v.bulge, self.own_tolerance());
                if next == 0 {
                    points.pop();
                }
                points.dedup();
            }
        }
        self.take(record, points, closed);
    }

    fn take(&mut self, record: &Record<'_>, points: Vec<Point>, closed: bool) {
        let layer = record.text(8).unwrap_or("0");
        if matches!(layer.to_ascii_lowercase().as_str(), "marks" | "labels") {
            return;
        }
        // y is turned over: the sheet's y runs down
        let points =
            points.into_iter().map(|p| Point::mm(p.x * self.scale, 0.0 - p.y * self.scale)).collect();
        let (kind, layer) = (record.kind.to_owned(), layer.to_owned());
        self.drawn.push(Drawn { kind, layer, line: record.line, points, closed });
    }
}

fn flaw(record: &Record<'_>, problem: EntityProblem) -> EntityFlaw {
    let layer = record.text(8).unwrap_or("0").to_owned();
    EntityFlaw { kind: record.kind.to_owned(), layer, line: record.line, problem }
}

/// Appends an arc after `a` up to `b`: the bulge is the tangent of a quarter of its angle, positive to the left of the
/// way, so that the arc bends out to the right.
fn bulge(out: &mut Vec<Point>, a: Point, b: Point, bulge: f64, tolerance: f64) {
    let sweep = 4.0 * bulge.atan();
    let chord = b - a;
    // from the middle of the chord to the center: along the left normal
    let offset = (1.0 - bulge * bulge) / (4.0 * bulge);
    let center = a.toward(b, 0.5) + Point::mm(-chord.y, chord.x) * offset;
    let radius = (a - center).norm();
    if !(radius.is_finite() && radius > 0.0) {
        return out.push(b);
    }
    let start = (a.y - center.y).atan2(a.x - center.x);
    EllipseArc::circle(center, radius, start, sweep).flatten(out, Some(b), tolerance);
}
