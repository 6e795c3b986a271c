//! Elements joined end to end, and rings sorted into outlines with their inner cuts.

use super::{Drawn, DxfFlaw, EntityFlaw, EntityProblem};
use crate::svg::NamedOutline;
use crate::svg::read::{Mended, nested};
use crate::{Outline, OutlineFlaw, Point, repair};
use std::collections::BTreeMap;

/// Ends closer than this are joined, mm.
fn joins(a: Point, b: Point) -> bool {
    a.distance(b) <= repair::WIDEST_GAP
}

pub(super) fn outlines(drawn: Vec<Drawn>) -> Result<Vec<NamedOutline>, DxfFlaw> {
    let mut layers: BTreeMap<String, Vec<Drawn>> = BTreeMap::new();
    for d in drawn {
        layers.entry(d.layer.clone()).or_default().push(d);
    }
    let mut found = Vec::new();
    let mut flaws: Vec<EntityFlaw> = Vec::new();
    for (layer, drawn) in layers {
        let (closed, open): (Vec<_>, Vec<_>) = drawn.into_iter().partition(|d| d.closed);
        if let Some(first) = open.first().filter(|_| open.len() > MOST_LOOSE) {
            let what =
                "its layer holds more than 5,000 loose lines and arcs: join them to polylines before export";
            return Err(DxfFlaw::Entities(vec![first.flaw(EntityProblem::Shape(what))]));
        }
        let mut rings: Vec<(u32, Mended)> = Vec::new();
        for run in closed.into_iter().chain(chained(open)) {
            let ends = run.points.first().copied().zip(run.points.last().copied());
            let result = match ends {
                Some((start, end)) if !run.closed && !joins(start, end) => {
                    Err(OutlineFlaw::Open { start, end })
                }
                _ => repair::repair(&run.points),
            };
            match result {
                Ok(mended) => rings.push((run.line, mended)),
                Err(problem) => flaws.push(run.flaw(problem.into())),
            }
        }
        found.extend(named(&layer, rings));
    }
    if !flaws.is_empty() {
        return Err(DxfFlaw::Entities(flaws));
    }
    if found.is_empty() { Err(DxfFlaw::Empty) } else { Ok(found) }
}

fn named(layer: &str, rings: Vec<(u32, Mended)>) -> Vec<NamedOutline> {
    let lines: Vec<(Outline, u32)> =
        rings.iter().map(|(line, (outline, _))| (outline.clone(), *line)).collect();
    let line_of = |o: &Outline| lines.iter().find(|(other, _)| other == o).map_or(0, |(_, line)| *line);
    let mut shapes = nested(rings.into_iter().map(|(_, mended)| mended).collect());
    shapes.sort_by_key(|shape| line_of(&shape.0.0));
    let many = shapes.len() > 1;
    let mut found = Vec::with_capacity(shapes.len());
    for (i, ((outline, repairs), inner)) in shapes.into_iter().enumerate() {
        let name = if many { format!("{layer}.{}", i + 1) } else { layer.to_owned() };
        let line = line_of(&outline);
        let (inner, more): (Vec<_>, Vec<_>) = inner.into_iter().unzip();
        let repairs = repairs.into_iter().chain(more.into_iter().flatten()).collect();
        found.push(NamedOutline { name, line, outline, inner, repairs });
    }
    found
}

/// Most loose elements on one layer: joining them takes the square of their number.
const MOST_LOOSE: usize = 5_000;

/// Open runs joined where their ends meet, in either direction; the nearest end first.
fn chained(mut open: Vec<Drawn>) -> Vec<Drawn> {
    let mut done = Vec::new();
    open.reverse();
    while let Some(mut run) = open.pop() {
        while let (Some(&start), Some(&end)) = (run.points.first(), run.points.last()) {
            if run.points.len() > 2 && joins(start, end) {
                break;
            }
            let gap = |d: &Drawn| {
                let ends = d.points.first().zip(d.points.last());
                ends.map_or(f64::INFINITY, |(a, b)| a.distance(end).as_mm().min(b.distance(end).as_mm()))
            };
            let next = (0..open.len()).min_by(|&a, &b| gap(&open[a]).total_cmp(&gap(&open[b])));
            match next.filter(|&i| gap(&open[i]) <= repair::WIDEST_GAP.as_mm()) {
                Some(i) => {
                    let mut next = open.remove(i);
                    let back = next.points.last().map(|p| p.distance(end))
                        < next.points.first().map(|p| p.distance(end));
                    if back {
                        next.points.reverse();
                    }
                    let skip = usize::from(next.points.first() == Some(&end));
                    run.points.extend(next.points.into_iter().skip(skip));
                }
                None => break,
            }
        }
        done.push(run);
    }
    done
}
