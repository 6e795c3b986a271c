//! Pieces onto rolls and offcuts.

use super::table;
use clap::Args as ClapArgs;
use effort::Effort;
use nest::{Config, Container, ContainerKind, Instance, Outcome, Piece, Rotations};
use plane::Outline;
use serde_json::json;
use std::path::PathBuf;
use studio::{Refusal, RefusalKind};
use units::{Length, Seed};

/// Arguments of `nest`.
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Outlines as SVG (in mm), or one instance as JSON with `items` and `strip_height`.
    #[arg(required = true)]
    files: Vec<PathBuf>,
    /// Width of the roll, mm; that of the instance when it names one.
    #[arg(long)]
    roll_width: Option<f64>,
    /// Length on the roll, mm.
    #[arg(long, default_value_t = 30_000.0)]
    roll_length: f64,
    /// Gap between pieces, mm.
    #[arg(long)]
    gap: Option<f64>,
    /// Margin along the edges, mm.
    #[arg(long, default_value_t = 0.0)]
    margin: f64,
    /// Offcuts as SVG, used first.
    #[arg(long)]
    offcut: Vec<PathBuf>,
    /// CPU seconds to spend.
    #[arg(long, default_value_t = 5.0)]
    effort: f64,
    /// Start of the random sequence.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Cut file to write (SVG).
    #[arg(long)]
    out: Option<PathBuf>,
    /// Print as JSON.
    #[arg(long)]
    json: bool,
}

/// Lays pieces out and prints where they lie.
pub fn run(args: &Args) -> Result<(), Refusal> {
    let instance = instance(args)?;
    let started = super::cpu_seconds();
    let effort = Effort::seconds(args.effort, move || super::cpu_seconds() - started);
    let outcome = nest::nest(&instance, &Config { seed: Seed(args.seed), ..Config::default() }, &effort);
    let cpu = super::cpu_seconds() - started;
    if let Some(path) = &args.out {
        super::write(path, cut_svg(&instance, &outcome).as_bytes())?;
    }
    if args.json {
        super::print_json(&as_json(&instance, &outcome, cpu))?;
    } else {
        people(&outcome, cpu);
    }
    if outcome.is_complete() {
        return Ok(());
    }
    let why: Vec<String> = outcome.reasons.iter().map(ToString::to_string).collect();
    Err(Refusal::new(RefusalKind::Impossible, "Not every piece has a place", why.join(" ")))
}

fn instance(args: &Args) -> Result<Instance, Refusal> {
    let gap = Length::mm(args.gap.unwrap_or(0.0));
    let margin = Length::mm(args.margin);
    let mut pieces = Vec::new();
    let mut width = args.roll_width;
    for path in &args.files {
        let place = path.display().to_string();
        let text = super::read(path)?;
        if text.trim_start().starts_with('{') {
            let mut read = nest::read_strip_json(&text, gap, margin)
                .map_err(|e| Refusal::invalid(e.to_string(), "Mend the instance.").at(place.clone()))?;
            if args.files.len() == 1 && args.roll_width.is_none() && args.offcut.is_empty() {
                return Ok(read);
            }
            pieces.append(&mut read.pieces);
            continue;
        }
        let outlines = plane::svg::read_outlines(&text, Length::mm(0.05))
            .map_err(|e| Refusal::invalid(e.to_string(), "Mend the drawing.").at(place.clone()))?;
        let stem = path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
        let several = outlines.len() > 1;
        for (i, named) in outlines.into_iter().enumerate() {
            let id = if several { format!("{stem}-{}", i + 1) } else { stem.clone() };
            pieces.push(Piece {
                id,
                outline: named.outline,
                count: 1,
                rotations: Rotations::Free,
                mirrorable: false,
                together: None,
                priority: 0,
            });
        }
    }
    let width =
        width.take().ok_or_else(|| Refusal::invalid("The roll has no width", "Give --roll-width in mm."))?;
    let mut containers = Vec::new();
    for path in &args.offcut {
        let place = path.display().to_string();
        let outlines = plane::svg::read_outlines(&super::read(path)?, Length::mm(0.05))
            .map_err(|e| Refusal::invalid(e.to_string(), "Mend the drawing.").at(place.clone()))?;
        for (i, named) in outlines.into_iter().enumerate() {
            let value = named.outline.area().as_m2();
            let stem = path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
            let kind = ContainerKind::Offcut { outline: named.outline, bad_spots: Vec::new(), margin, value };
            containers.push(Container { id: format!("{stem}-{}", i + 1), kind });
        }
    }
    let kind = ContainerKind::Roll {
        width: Length::mm(width),
        length_left: Length::mm(args.roll_length),
        margin,
        bad_spots: Vec::new(),
    };
    containers.push(Container { id: "roll".into(), kind });
    Ok(Instance { pieces, containers, gap, locked: Vec::new() })
}

fn placed(instance: &Instance, outcome: &Outcome) -> Vec<(String, Outline)> {
    let layout = &outcome.layout;
    let piece = |id: &str| instance.pieces.iter().find(|p| p.id == id);
    layout
        .placements
        .iter()
        .filter_map(|p| {
            Some((format!("{}-{}", p.piece, p.copy + 1), piece(&p.piece)?.outline.placed(&p.pose)))
        })
        .collect()
}

fn cut_svg(instance: &Instance, outcome: &Outcome) -> String {
    let placed = placed(instance, outcome);
    plane::svg::write_outlines(placed.iter().map(|(id, o)| (id.as_str(), o)))
}

fn as_json(instance: &Instance, outcome: &Outcome, cpu: f64) -> serde_json::Value {
    let layout = &outcome.layout;
    let length: f64 = layout.used.iter().map(|u| u.length.as_mm()).sum();
    let placements: Vec<_> = layout
        .placements
        .iter()
        .map(|p| {
            json!({
                "piece": p.piece, "copy": p.copy, "container": p.container,
                "x_mm": p.pose.x, "y_mm": p.pose.y, "degrees": p.pose.degrees, "mirrored": p.pose.mirrored,
            })
        })
        .collect();
    json!({
        "length_mm": length,
        "density": layout.density,
        "cpu_s": cpu,
        "verified": outcome.is_complete() && layout.verify(instance).is_ok(),
        "smallest_gap_mm": layout.smallest_gap,
        "placements": placements,
        "reasons": outcome.reasons.iter().map(ToString::to_string).collect::<Vec<_>>(),
    })
}

fn people(outcome: &Outcome, cpu: f64) {
    let rows: Vec<Vec<String>> = outcome
        .layout
        .placements
        .iter()
        .map(|p| {
            vec![
                p.piece.clone(),
                (p.copy + 1).to_string(),
                p.container.clone(),
                format!("{:.1}", p.pose.x.as_mm()),
                format!("{:.1}", p.pose.y.as_mm()),
                format!("{:.1}", p.pose.degrees),
                if p.pose.mirrored { "mirrored".into() } else { String::new() },
            ]
        })
        .collect();
    table::print(&["Piece", "Copy", "On", "x mm", "y mm", "Turn °", ""], &rows, &[1, 3, 4, 5]);
    for used in &outcome.layout.used {
        println!("{}: {:.0} mm used.", used.container, used.length.as_mm());
    }
    println!("{:.1} % covered, {cpu:.1} CPU s.", outcome.layout.density * 100.0);
}
