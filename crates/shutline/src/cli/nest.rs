//! Pieces onto rolls and offcuts.

use super::table;
use clap::{Args as ClapArgs, ValueEnum};
use effort::Effort;
use nest::{Config, Container, ContainerKind, CutSettings, Instance, Outcome, Piece, PieceDetail, Rotations};
use plane::svg::NamedOutline;
use serde_json::json;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use studio::{Refusal, RefusalKind};
use units::{Length, Seed};

/// Arguments of `nest`.
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Outlines as SVG or DXF (in mm), or one instance as JSON with `items` and `strip_height`. Rings inside an outline
    /// are cuts in it.
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
    /// An offcut as SVG or DXF, used first; rings inside it are bad spots. May be given several times.
    #[arg(long)]
    offcut: Vec<PathBuf>,
    /// Bad spots of the roll as SVG or DXF: x from its loose end, y across.
    #[arg(long)]
    bad_spots: Option<PathBuf>,
    /// Which way pieces may lie: x of an outline runs along the roll.
    #[arg(long, value_enum, default_value_t = Grain::None)]
    grain: Grain,
    /// Pieces of one file come from one batch: from the roll, or from one offcut.
    #[arg(long)]
    one_lot: bool,
    /// CPU seconds to spend, all searches together.
    #[arg(long, default_value_t = 5.0)]
    effort: f64,
    /// Searches side by side; the best is kept.
    #[arg(long, default_value_t = 1, value_parser = clap::value_parser!(u8).range(1..=2))]
    threads: u8,
    /// Start of the random sequence.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Cut file to write: .svg, .dxf (release 12) or .plt (HPGL); with offcuts one more file for each that is used.
    #[arg(long)]
    out: Option<PathBuf>,
    /// A closed cut goes on over its start, mm.
    #[arg(long, default_value_t = 0.0)]
    overcut: f64,
    /// A cut begins beside the line, in the waste, mm; at most half the gap.
    #[arg(long, default_value_t = 0.0)]
    lead_in: f64,
    /// Height of the names written on pieces, mm; 0 for none.
    #[arg(long, default_value_t = 8.0)]
    labels: f64,
    /// Print as JSON.
    #[arg(long)]
    json: bool,
}

/// Which way film may lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Grain {
    /// Any way.
    None,
    /// Along the roll, either way round.
    Both,
    /// Along the roll, one way only.
    One,
}

impl Grain {
    fn rotations(self) -> Rotations {
        match self {
            Self::None => Rotations::Free,
            Self::Both => Rotations::Steps(vec![0.0, 180.0]),
            Self::One => Rotations::Steps(vec![0.0]),
        }
    }
}

/// Forms of cut files.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Form {
    Svg,
    Dxf,
    Hpgl,
}

/// Lays pieces out and prints where they lie.
pub fn run(args: &Args) -> Result<(), Refusal> {
    let form = args.out.as_deref().map(form_of).transpose()?;
    let (instance, details) = read_all(args)?;
    let (outcome, cpu) = search(args, &instance);
    if let (Some(path), Some(form)) = (&args.out, form) {
        write_files(args, path, form, &instance, &outcome, &details)?;
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

/// The outcome and its CPU seconds.
fn search(args: &Args, instance: &Instance) -> (Outcome, f64) {
    let started = super::cpu_seconds();
    // with offcuts there may be a second search, without them: both together keep to the effort
    let searches = if args.offcut.is_empty() { 1.0 } else { 2.0 };
    let effort = Effort::seconds(args.effort / searches, move || super::cpu_seconds() - started);
    let config = Config { seed: Seed(args.seed), threads: args.threads, ..Config::default() };
    let outcome = nest::nest(instance, &config, &effort);
    (outcome, super::cpu_seconds() - started)
}

fn form_of(path: &Path) -> Result<Form, Refusal> {
    let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase()).unwrap_or_default();
    match ending.as_str() {
        "svg" => Ok(Form::Svg),
        "dxf" => Ok(Form::Dxf),
        "plt" | "hpgl" => Ok(Form::Hpgl),
        _ => Err(Refusal::invalid(
            format!("A cut file cannot end in '.{ending}'"),
            "Give it a name that ends in .svg, .dxf or .plt.",
        )
        .at(path.display().to_string())),
    }
}

type Details = BTreeMap<String, PieceDetail>;

fn read_all(args: &Args) -> Result<(Instance, Details), Refusal> {
    let gap = Length::mm(args.gap.unwrap_or(0.0));
    let margin = Length::mm(args.margin);
    let mut pieces: Vec<Piece> = Vec::new();
    let mut details = Details::new();
    let mut width = args.roll_width.map(Length::mm);
    let mut left = Length::mm(args.roll_length);
    for path in &args.files {
        let text = super::read(path)?;
        if text.trim_start().starts_with('{') {
            let read = nest::read_strip_json(&text, gap, margin).map_err(|e| {
                Refusal::invalid(e.to_string(), "Mend the instance.").at(path.display().to_string())
            })?;
            if let Some(ContainerKind::Roll { width: strip, length_left, .. }) =
                read.containers.first().map(|c| &c.kind)
                && width.is_none()
            {
                width = Some(*strip);
                left = *length_left;
            }
            pieces.extend(read.pieces);
            continue;
        }
        let outlines = outlines(path, &text)?;
        let stem = stem(path);
        let several = outlines.len() > 1;
        for (i, named) in outlines.into_iter().enumerate() {
            let mut id = if several { format!("{stem}-{}", i + 1) } else { stem.clone() };
            while pieces.iter().any(|p| p.id == id) {
                id.push('\'');
            }
            if !named.inner.is_empty() {
                details.insert(id.clone(), PieceDetail { inner: named.inner, ..PieceDetail::default() });
            }
            pieces.push(Piece {
                id,
                outline: named.outline,
                count: 1,
                rotations: args.grain.rotations(),
                mirrorable: false,
                together: args.one_lot.then(|| stem.clone()),
                priority: 0,
            });
        }
    }
    let width = width.ok_or_else(|| Refusal::invalid("The roll has no width", "Give --roll-width in mm."))?;
    let mut containers = offcuts(args, margin)?;
    let bad_spots = match &args.bad_spots {
        None => Vec::new(),
        Some(path) => outlines(path, &super::read(path)?)?.into_iter().map(|o| o.outline).collect(),
    };
    let kind = ContainerKind::Roll { width, length_left: left, margin, bad_spots };
    containers.push(Container { id: "roll".into(), kind });
    Ok((Instance { pieces, containers, gap, locked: Vec::new() }, details))
}

fn offcuts(args: &Args, margin: Length) -> Result<Vec<Container>, Refusal> {
    let mut containers: Vec<Container> = Vec::new();
    for path in &args.offcut {
        for (i, named) in outlines(path, &super::read(path)?)?.into_iter().enumerate() {
            let value = named.outline.area().as_m2();
            let mut id = format!("{}-{}", stem(path), i + 1);
            while containers.iter().any(|c| c.id == id) {
                id.push('\'');
            }
            let kind =
                ContainerKind::Offcut { outline: named.outline, bad_spots: named.inner, margin, value };
            containers.push(Container { id, kind });
        }
    }
    Ok(containers)
}

/// Closed shapes of a drawing, SVG or DXF by its text; what was mended is told.
fn outlines(path: &Path, text: &str) -> Result<Vec<NamedOutline>, Refusal> {
    let tolerance = Length::mm(0.05);
    let read = if text.trim_start().starts_with('<') {
        plane::svg::read_outlines(text, tolerance).map_err(|e| e.to_string())
    } else {
        plane::dxf::read_outlines(text, tolerance).map_err(|e| e.to_string())
    };
    let place = path.display().to_string();
    let found = read.map_err(|why| Refusal::invalid(why, "Mend the drawing.").at(place.clone()))?;
    for named in &found {
        for repair in &named.repairs {
            tracing::warn!("{place}, {}: {repair}", named.name);
        }
    }
    Ok(found)
}

fn stem(path: &Path) -> String {
    path.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default()
}

/// One cut file for each roll or offcut in use: the roll under the name asked for, offcuts with their names added.
fn write_files(
    args: &Args,
    path: &Path,
    form: Form,
    instance: &Instance,
    outcome: &Outcome,
    details: &Details,
) -> Result<(), Refusal> {
    let labels = Some(Length::mm(args.labels)).filter(|h| *h > Length::ZERO);
    let settings =
        CutSettings { overcut: Length::mm(args.overcut), lead_in: Length::mm(args.lead_in), labels };
    for container in &instance.containers {
        let used = outcome.layout.placements.iter().any(|p| p.container == container.id);
        let roll = matches!(container.kind, ContainerKind::Roll { .. });
        if !used && !roll {
            continue;
        }
        let sheet = nest::cut_sheet(instance, &outcome.layout, &container.id, details, &settings)
            .map_err(|e| Refusal::broken(e, "Report this to whoever keeps the program."))?;
        let text = match form {
            Form::Svg => sheet.to_svg(),
            Form::Dxf => sheet.to_dxf(),
            Form::Hpgl => sheet.to_hpgl(),
        };
        let ending = path.extension().map(|e| e.to_string_lossy().into_owned()).unwrap_or_default();
        let name = if roll {
            path.to_owned()
        } else {
            path.with_file_name(format!("{}-{}.{ending}", stem(path), container.id))
        };
        super::write(&name, text.as_bytes())?;
    }
    Ok(())
}

fn as_json(instance: &Instance, outcome: &Outcome, cpu: f64) -> serde_json::Value {
    let layout = &outcome.layout;
    // an empty sum is minus zero
    let length = layout.used.iter().map(|u| u.length.as_mm()).sum::<f64>() + 0.0;
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
