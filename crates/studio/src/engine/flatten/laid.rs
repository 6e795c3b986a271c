//! A panel laid flat in a way to cut it, and the pieces that the knife gets.

use super::{EFFORT, origin, sentence, surface, unusable};
use crate::engine::film::round;
use crate::refusal::{Refusal, RefusalKind};
use crate::studio::Studio;
use effort::Effort;
use flatten::outline::{self, Finish, Finished, Tracing};
use flatten::{Cut, Flattening, Note, Options, Zone};
use job::{PanelShape, Piece, Taken};
use plane::{Outline, Point, Pose};
use serde::Serialize;
use std::sync::Arc;
use units::Length;

/// A way to cut the film of a panel.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub enum Way {
    /// Not at all.
    Uncut,
    /// Parted wherever the film would lie over itself.
    Parted,
    /// Along lines over the panel, mm.
    Along(Vec<Vec<[f64; 3]>>),
}

/// The way that a plan of this name and lines cuts; none for a name from another program.
pub fn way(name: &str, lines: &[Vec<[f64; 3]>]) -> Option<Way> {
    match name {
        super::UNCUT => Some(Way::Uncut),
        "parted" => Some(Way::Parted),
        _ if lines.is_empty() => None,
        _ => Some(Way::Along(lines.to_vec())),
    }
}

/// Corners of a closed line, mm.
pub type Ring = Vec<[f64; 2]>;

/// A panel laid flat in some way.
#[derive(Clone, Debug)]
pub struct Laid {
    /// Its pieces as the engine made them.
    pub flattenings: Vec<Flattening>,
    /// The pieces for nesting and cutting; none where one lies over itself.
    pub pieces: Vec<Piece>,
    /// Outlines with their cut-outs, mm, y down, where each flattening lies.
    pub outlines: Vec<(Ring, Vec<Ring>)>,
    /// The seams that parted it.
    pub seams: Vec<Cut>,
    /// Length of the cuts.
    pub length: Length,
    /// The part of it in sight.
    pub in_sight: Length,
    /// What was done to the scan.
    pub said: Vec<String>,
}

#[derive(Serialize)]
struct Inputs<'a> {
    taken: &'a Taken,
    way: &'a Way,
    wrap: Length,
    name: &'a str,
}

/// A panel laid flat in some way, kept under the digest of shape, way and allowance.
pub fn pieces(studio: &Studio, shape: &PanelShape, way: &Way, wrap: Length) -> Arc<Result<Laid, Refusal>> {
    let inputs = Inputs { taken: &shape.taken, way, wrap, name: shape.panel.as_str() };
    studio.results.get("laid", &inputs, || laid(studio, shape, way, &[], wrap, &Effort::steps(EFFORT)))
}

/// The same, not kept, with zones that tell what of the cuts is in sight.
pub(super) fn laid(
    studio: &Studio,
    shape: &PanelShape,
    way: &Way,
    zones: &[Zone],
    wrap: Length,
    effort: &Effort,
) -> Result<Laid, Refusal> {
    let mut said = Vec::new();
    let closed = surface(studio, shape, &mut said)?;
    let (options, silent) = (Options::default(), &mut |_| {});
    let refused = |e: flatten::Refusal| unusable(&e.to_string());
    let (mut length, mut in_sight, mut seams) = (Length::ZERO, Length::ZERO, Vec::new());
    let flattenings = match way {
        Way::Uncut => vec![flatten::flatten(&closed.mesh, &options, effort, silent).map_err(refused)?],
        Way::Parted => {
            let parted = flatten::flatten_parted(&closed.mesh, &options, effort, silent).map_err(refused)?;
            length = parted.seams.iter().map(|s| length_of(&s.points)).sum();
            in_sight = length;
            seams = parted.seams;
            parted.pieces
        }
        Way::Along(lines) => {
            let cuts: Vec<Cut> = lines.iter().map(|l| Cut { points: l.clone() }).collect();
            let drawn = flatten::flatten_drawn(&closed.mesh, &cuts, zones, &options, effort, silent);
            let drawn = drawn.map_err(refused)?;
            (length, in_sight) = (drawn.length, drawn.in_sight);
            drawn.pieces
        }
    };
    if flattenings.iter().any(|f| f.notes.contains(&Note::Unfinished)) {
        said.push("The search was ended before it was done.".into());
    }
    let mut made =
        Laid { flattenings, pieces: Vec::new(), outlines: Vec::new(), seams, length, in_sight, said };
    if made.flattenings.iter().any(Flattening::overlaps) {
        return Ok(made);
    }
    let traced =
        outline::of_pieces(&made.flattenings, &closed.cut_outs, &Tracing::default()).map_err(|e| {
            Refusal::new(
                RefusalKind::Impossible,
                "The flat piece has no outline that can be cut",
                sentence(&e.to_string()),
            )
        })?;
    let several = traced.len() > 1;
    for (n, (traced, holes)) in traced.into_iter().enumerate() {
        let name = if several { format!("{} {}", shape.panel.title(), n + 1) } else { shape.panel.title() };
        let finish = Finish { name, wrap, ..Finish::default() };
        let finished = traced.finished(&finish, holes).map_err(|e| unusable(&e.to_string()))?;
        made.outlines.push((corners(&finished.outline), finished.cut_outs.iter().map(corners).collect()));
        let id = if several { format!("{}-{}", shape.panel, n + 1) } else { shape.panel.0.clone() };
        made.pieces.push(piece(shape, id, &finished, made.flattenings[n].worst));
    }
    Ok(made)
}

/// A piece for the nest: about its own middle, so that a mark far off does not decide where it is turned.
fn piece(shape: &PanelShape, id: String, finished: &Finished, worst: f64) -> Piece {
    let middle = finished.outline.bounds().center();
    let finished = finished.placed(&Pose::shift(Length::mm(-middle.x), Length::mm(-middle.y)));
    let outline = finished.outline.simplified(Length::mm(0.1));
    let place = |p: Point| [round(p.x), round(p.y)];
    let marks = finished.marks.iter().filter(|m| !m.closed && m.points.len() == 2);
    Piece {
        id,
        panel: shape.panel.clone(),
        outline_mm: corners(&outline),
        inner_mm: finished.cut_outs.iter().map(corners).collect(),
        marks_mm: marks.map(|m| [place(m.points[0]), place(m.points[1])]).collect(),
        count: 1,
        planning_only: false,
        origin: format!("{}, worst stretch {:.2} %", origin(&shape.taken), worst * 100.0),
    }
}

fn corners(outline: &Outline) -> Vec<[f64; 2]> {
    outline.points().iter().map(|p| [round(p.x), round(p.y)]).collect()
}

fn length_of(line: &[[f64; 3]]) -> Length {
    let long = |a: &[f64; 3], b: &[f64; 3]| (0..3).map(|k| (a[k] - b[k]).powi(2)).sum::<f64>().sqrt();
    Length::mm(line.windows(2).map(|p| long(&p[0], &p[1])).sum())
}
