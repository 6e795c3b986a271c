//! Panels whose shape was taken, laid flat: pieces with the stretch they take.

mod cuts;
mod laid;

pub use cuts::{Found, drawn, search, title, zones};
pub use laid::{Laid, Way, pieces, way};

use crate::figure::Figure;
use crate::refusal::Refusal;
use crate::studio::Studio;
use crate::view::{FlatView, SeamPlan};
use flatten::read::{Scan, Unit, read};
use flatten::repair::{Closed, RepairConfig, RepairReport, close_holes, repair, turned_over};
use flatten::tape::{Tapes, patch};
use flatten::{Flattening, heat};
use job::{PanelShape, Taken, Tape};
use serde::Serialize;
use std::sync::Arc;
use units::Length;

/// Most bytes of a scan that is taken in.
pub const LARGEST_SCAN: usize = 60 << 20;

/// Steps of work a flattening may take: some seconds for a panel.
const EFFORT: u64 = 60_000;

/// Everything a flattening depends on.
#[derive(Serialize)]
struct Inputs<'a> {
    taken: &'a Taken,
    wrap: Length,
    name: &'a str,
}

/// A panel laid flat. The result is kept under the digest of the shape and the allowance.
pub fn flat(studio: &Studio, shape: &PanelShape, wrap: Length) -> Arc<Result<FlatView, Refusal>> {
    let inputs = Inputs { taken: &shape.taken, wrap, name: shape.panel.as_str() };
    studio.results.get("flatten", &inputs, || lay_flat(studio, shape, wrap))
}

/// Reads a scan, so that a file that is none is refused before it is kept.
///
/// # Errors
/// When it is no mesh, or nothing of it is a surface: says where, what, and what to do.
pub fn check_scan(bytes: &[u8], name: &str) -> Result<Scan, Refusal> {
    if bytes.len() > LARGEST_SCAN {
        return Err(Refusal::invalid(
            "The scan is larger than 60 MB",
            "Export fewer triangles: 100,000 are plenty for a panel.",
        )
        .at(name));
    }
    read(bytes, name, &|_| None).map_err(|e| {
        let place = if e.place.is_empty() { name.to_owned() } else { format!("{name}, {}", e.place) };
        Refusal::invalid(sentence(&e.what), format!("{}.", sentence(&e.hint))).at(place)
    })
}

/// Whether tape measures make a panel.
///
/// # Errors
/// When one cannot be, or they contradict each other.
pub fn check_tapes(along: &[Tape], across: &[Tape]) -> Result<(), Refusal> {
    patch(&tapes(along, across), Length::mm(20.0)).map(drop).map_err(|e| unusable(&e.to_string()))
}

fn tapes(along: &[Tape], across: &[Tape]) -> Tapes {
    let list = |tapes: &[Tape]| {
        tapes.iter().map(|t| flatten::tape::Tape { at: t.at, arc: t.arc, sag: t.sag }).collect()
    };
    Tapes { along: list(along), across: list(across) }
}

fn lay_flat(studio: &Studio, shape: &PanelShape, wrap: Length) -> Result<FlatView, Refusal> {
    let laid = (*pieces(studio, shape, &Way::Uncut, wrap)).clone()?;
    let flattening = &laid.flattenings[0];
    let overlaps = laid.pieces.is_empty();
    let mut warnings = Vec::new();
    if overlaps {
        warnings.push(
            "In one piece the film would lie over itself, so it cannot be cut uncut: search the cuts.".into(),
        );
    }
    let plan = SeamPlan {
        name: UNCUT.into(),
        title: "One piece, uncut".into(),
        length: Length::ZERO,
        in_sight: Length::ZERO,
        cuts: Vec::new(),
        worst: flattening.worst,
        areas: vec![flattening.area],
        possible: !overlaps,
    };
    Ok(FlatView {
        panel: shape.panel.clone(),
        title: shape.panel.title(),
        origin: origin(&shape.taken),
        figures: figures(flattening),
        points: flattening.surface.vertices.clone(),
        triangles: flattening.surface.triangles.clone(),
        flat: flattening.flat.iter().map(|[x, y]| [*x, -*y]).collect(),
        seen: heat::seen(&flattening.surface),
        stretch: heat::at_vertices(flattening),
        worst: flattening.worst,
        bound: flattening.lower_bound,
        outlines: laid.outlines.iter().map(|(o, _)| o.clone()).collect(),
        plans: vec![plan],
        zones: Vec::new(),
        chosen: None,
        laid: None,
        said: laid.said.clone(),
        warnings,
    })
}

/// Name of the plan that cuts nothing.
pub const UNCUT: &str = "uncut";

fn surface(studio: &Studio, shape: &PanelShape, said: &mut Vec<String>) -> Result<Closed, Refusal> {
    match &shape.taken {
        Taken::Tapes { along, across } => {
            let patch =
                patch(&tapes(along, across), Length::mm(8.0)).map_err(|e| unusable(&e.to_string()))?;
            said.push("A smooth patch from tape measures: it knows no crease and no edge but four.".into());
            Ok(Closed { mesh: patch.mesh, cut_outs: Vec::new() })
        }
        Taken::Scan { mesh, name, unit, turned } => {
            let bytes = studio.picture_bytes(mesh)?;
            let scan = check_scan(&bytes, name)?;
            let unit = Unit::from_name(unit).unwrap_or_else(|| scan.guess_unit().unit);
            let mut mesh = scan.in_unit(unit);
            if *turned {
                mesh = turned_over(&mesh);
            }
            let config = RepairConfig::default();
            let (mesh, mut report) = repair(&mesh, &config).map_err(|e| unusable(&e.to_string()))?;
            let closed =
                close_holes(&mesh, config.hole, &mut report).map_err(|e| unusable(&e.to_string()))?;
            said.extend(mended(&report));
            Ok(closed)
        }
    }
}

/// What was mended, in sentences.
fn mended(report: &RepairReport) -> Vec<String> {
    let counted = [
        (report.welded.count, "vertices at one place were welded"),
        (report.degenerate.count, "triangles without area were taken out"),
        (report.repeated.count, "triangles were there twice"),
        (report.flipped.count, "triangles faced the wrong way and were turned"),
        (report.parted_edges.count, "edges where no surface can be were parted"),
        (report.parted_vertices.count, "corners where sheets touched were parted"),
        (report.islands.len(), "parts that hang on nothing were dropped"),
        (report.holes.iter().filter(|h| !h.kept).count(), "small holes were filled"),
        (report.holes.iter().filter(|h| h.kept).count(), "holes were kept as cut-outs"),
    ];
    let mut said: Vec<String> =
        counted.iter().filter(|(n, _)| *n > 0).map(|(n, words)| format!("{n} {words}.")).collect();
    said.extend(report.warnings.iter().cloned());
    said
}

/// Where a shape came from, in words.
pub fn origin(taken: &Taken) -> String {
    match taken {
        Taken::Scan { name, .. } => format!("scan {name}, laid flat"),
        Taken::Tapes { along, across } => {
            format!("{} tape measures, laid flat", along.len() + across.len())
        }
    }
}

fn figures(flattening: &Flattening) -> Vec<Figure> {
    let percent = |x: f64| format!("{:.2}", x * 100.0);
    let source =
        "Milnor, Amer. Math. Monthly 76 (1969) 1101: least worst stretch; recomputed from the two meshes";
    let worst = Figure::new("Worst stretch", percent(flattening.worst), "%")
        .by("largest ratio of lengths on the panel to lengths on the flat film, scaled so that nothing is compressed", source)
        .from("Triangles", flattening.surface.triangles.len().to_string())
        .from("No uncut piece can do better than", format!("{} %", percent(flattening.lower_bound)));
    // what the trade accepts: common practice, no source
    let worst = if flattening.worst > 0.08 {
        worst.warn("Over 8 %: more than installers accept without marks (common practice, no source). Cut it, or warm it with care.")
    } else {
        worst
    };
    vec![
        worst,
        Figure::new("No uncut piece can do better", percent(flattening.lower_bound), "%").by(
            "of all round patches inside the panel, what the curvature within demands: 2πr over the length of the circle",
            "isoperimetric inequality on the panel's own angle defects",
        ),
        Figure::new("99.5 % of the area stay below", percent(flattening.p995), "%")
            .by("stretch that all but a two-hundredth of the area stays below", "recomputed from the two meshes"),
        Figure::new("Mean stretch", percent(flattening.mean), "%")
            .by("mean of the greatest stretch, weighed by area", "recomputed from the two meshes"),
    ]
}

/// A message of the engine as a refusal: what, and after the last colon what to do.
fn unusable(message: &str) -> Refusal {
    let (what, hint) = message.rsplit_once(": ").unwrap_or((message, "scan the panel again"));
    Refusal::invalid(sentence(what), format!("{}.", sentence(hint)))
}

fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}
