//! A scanned panel, or a few tape measures, to a flat piece of film.

mod relief;

use super::table;
use ::flatten::outline::{self, Finish, Finished, Tracing};
use ::flatten::read::{Unit, UnitGuess, write_obj};
use ::flatten::region::region;
use ::flatten::repair::{Closed, RepairConfig, RepairReport, close_holes, repair, turned_over};
use ::flatten::tape::{Kept, Tapes, patch};
use ::flatten::{Flattening, Mesh, Note, Options, Stage, heat};
use clap::Args as ClapArgs;
use effort::Effort;
use report::drawing::{Medium, StretchMap, stretch_map};
use serde_json::json;
use std::path::{Path, PathBuf};
use studio::{Refusal, RefusalKind};
use units::Length;

/// Arguments of `flatten`.
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// A scan (OBJ, PLY, STL, glTF, GLB), or tape measures as TOML.
    mesh: PathBuf,
    /// The most that film may stretch, percent; without it the least worst stretch is searched.
    #[arg(long, value_name = "PERCENT")]
    limit: Option<f64>,
    /// Flatten the mesh as it is: nothing mended, cleaned or meshed anew.
    #[arg(long)]
    as_is: bool,
    /// Unit of the scan: mm, cm, m or inch. Guessed from its size when not given; glTF is in meters.
    #[arg(long)]
    units: Option<String>,
    /// Points of a loop around the panel, a line of x, y and z each, in the unit of the scan.
    #[arg(long, value_name = "FILE")]
    region: Option<PathBuf>,
    /// The triangles face inwards: turn the scan over.
    #[arg(long)]
    turn_over: bool,
    /// Search relief cuts and seams: the front of cut length in sight against worst stretch, and with --limit the plan
    /// that shows least and keeps it. Files are then of its pieces.
    #[arg(long)]
    relief: bool,
    /// Cut along these lines first: a line of x, y and z for each point, cuts parted by an empty line, in the unit of the
    /// scan.
    #[arg(long, value_name = "FILE", conflicts_with = "relief")]
    cut: Option<PathBuf>,
    /// Zones for --relief, a line each: x, y, z and radius in the unit of the scan, then `forbidden` or `out_of_sight`.
    #[arg(long, value_name = "FILE", requires = "relief")]
    zones: Option<PathBuf>,
    /// Film added around the piece to be wrapped into the shut line, mm.
    #[arg(long, value_name = "MM", default_value_t = 0.0, allow_hyphen_values = true)]
    wrap: f64,
    /// Write the surface that was flattened (OBJ, mm).
    #[arg(long, value_name = "OUT.obj")]
    surface: Option<PathBuf>,
    /// Write the flat piece (OBJ, mm), vertices and triangles in the order of the surface.
    #[arg(long, value_name = "OUT.obj")]
    flat: Option<PathBuf>,
    /// Write the outline of the piece to cut or to lay out (SVG, mm).
    #[arg(long, value_name = "OUT.svg")]
    svg: Option<PathBuf>,
    /// Write a drawing of the stretch on the flat piece (SVG).
    #[arg(long, value_name = "OUT.svg")]
    heat: Option<PathBuf>,
    /// Print as JSON.
    #[arg(long)]
    json: bool,
}

/// Flattens a panel and prints how far film is stretched.
pub fn run(args: &Args) -> Result<(), Refusal> {
    let options =
        Options { limit: args.limit.map(|percent| percent / 100.0), as_is: args.as_is, ..Options::default() };
    let panel = panel(args)?;
    if args.relief || args.cut.is_some() {
        return relief::run(args, &panel, &options);
    }
    let started = super::cpu_seconds();
    let mut laps = vec![];
    let effort = Effort::steps(u64::MAX);
    let done = &mut |stage: Stage| laps.push((stage, super::cpu_seconds()));
    let flattening = ::flatten::flatten(&panel.closed.mesh, &options, &effort, done)
        .map_err(|e| refused(&e, &args.mesh))?;
    let total = super::cpu_seconds() - started;
    let mut stages = serde_json::Map::new();
    let mut last = started;
    for (stage, at) in laps {
        stages.insert(stage.name().into(), json!(at - last));
        last = at;
    }
    stages.insert("total".into(), json!(total));
    write_files(args, &panel, std::slice::from_ref(&flattening))?;
    if args.json {
        super::print_json(&json!({
            "unit": unit(&panel),
            "triangles": flattening.surface.triangles.len(),
            "flips": flips(&flattening),
            "worst_stretch": flattening.worst,
            "p995_stretch": flattening.p995,
            "lower_bound": flattening.lower_bound,
            "area_mm2": flattening.area.as_mm2(),
            "cpu_s": stages,
        }))
    } else {
        people(&panel, &flattening, total);
        Ok(())
    }
}

/// The unit that the numbers of the scan were taken in, and the one of all that is written.
fn unit(panel: &Panel) -> serde_json::Value {
    json!({
        "scan": panel.unit.as_ref().map_or("mm", |u| u.unit.name()),
        "mm_per_unit": panel.unit.as_ref().map_or(1.0, |u| u.unit.in_mm()),
        "reason": panel.unit.as_ref().map_or("Tape measures are in mm.", |u| u.reason.as_str()),
        "ask": panel.unit.as_ref().is_some_and(|u| u.ask),
        "written": "mm",
    })
}

/// What is flattened, and how it came to be.
struct Panel {
    closed: Closed,
    unit: Option<UnitGuess>,
    report: RepairReport,
    kept: Vec<Kept>,
    farthest: Option<Length>,
}

fn panel(args: &Args) -> Result<Panel, Refusal> {
    let place = args.mesh.display().to_string();
    let bytes = std::fs::read(&args.mesh)
        .map_err(|e| Refusal::not_found(e.to_string(), "Check the path.").at(place.clone()))?;
    if args.mesh.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml")) {
        return from_tapes(&bytes, &place);
    }
    let name = args.mesh.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let folder = args.mesh.parent().unwrap_or(Path::new("."));
    // files that a scan names are taken from its own folder alone
    let beside = |name: &str| {
        let plain = Path::new(name).components().count() == 1 && !name.contains(['/', '\\', ':']);
        plain.then(|| std::fs::read(folder.join(name)).ok()).flatten()
    };
    let scan = ::flatten::read::read(&bytes, &name, &beside).map_err(|e| {
        let where_ = if e.place.is_empty() { place.clone() } else { format!("{place}, {}", e.place) };
        Refusal::invalid(capital(&e.what), format!("{}.", capital(&e.hint))).at(where_)
    })?;
    let unit = match &args.units {
        None => scan.guess_unit(),
        Some(name) => {
            let unit = Unit::from_name(name).ok_or_else(|| {
                Refusal::invalid(format!("'{name}' is no unit of a scan"), "Give --units mm, cm, m or inch.")
            })?;
            UnitGuess { unit, ask: false, reason: "As given.".into() }
        }
    };
    let mut mesh = scan.in_unit(unit.unit);
    if args.turn_over {
        mesh = turned_over(&mesh);
    }
    let mut report = RepairReport::default();
    let mut farthest = None;
    if !args.as_is {
        (mesh, report) =
            repair(&mesh, &RepairConfig::default()).map_err(|e| unusable(&e.to_string(), &place))?;
    }
    if let Some(path) = &args.region {
        let points = points(path, unit.unit)?;
        let found = region(&mesh, &points, None)
            .map_err(|e| unusable(&e.to_string(), &path.display().to_string()))?;
        mesh = found.mesh;
        farthest = Some(found.farthest);
    }
    let closed = if args.as_is {
        Closed { mesh, cut_outs: Vec::new() }
    } else {
        close_holes(&mesh, RepairConfig::default().hole, &mut report)
            .map_err(|e| unusable(&e.to_string(), &place))?
    };
    Ok(Panel { closed, unit: Some(unit), report, kept: Vec::new(), farthest })
}

fn from_tapes(bytes: &[u8], place: &str) -> Result<Panel, Refusal> {
    let text = std::str::from_utf8(bytes)
        .map_err(|_| Refusal::invalid("The file is not UTF-8 text", "Save it as UTF-8.").at(place))?;
    let tapes: Tapes = toml::from_str(text).map_err(|e| {
        Refusal::invalid(
            e.to_string().trim().to_owned(),
            "Tapes are written as [[along]] and [[across]], each with at (0 to 1), arc_mm and sag_mm.",
        )
        .at(place)
    })?;
    let patch = patch(&tapes, Length::mm(8.0)).map_err(|e| unusable(&e.to_string(), place))?;
    let closed = Closed { mesh: patch.mesh, cut_outs: Vec::new() };
    Ok(Panel { closed, unit: None, report: RepairReport::default(), kept: patch.kept, farthest: None })
}

/// Points of a loop: a line each, three numbers parted by blanks, commas or semicolons.
fn points(path: &PathBuf, unit: Unit) -> Result<Vec<[f64; 3]>, Refusal> {
    let text = super::read(path)?;
    let lines =
        text.lines().enumerate().filter(|(_, l)| !l.trim().is_empty() && !l.trim_start().starts_with('#'));
    lines
        .map(|(i, line)| {
            let numbers: Vec<f64> = line
                .split(|c: char| c.is_whitespace() || matches!(c, ',' | ';'))
                .filter(|w| !w.is_empty())
                .filter_map(|w| w.parse().ok())
                .map(|x: f64| x * unit.in_mm())
                .collect();
            <[f64; 3]>::try_from(numbers).map_err(|_| {
                Refusal::invalid("A point needs three numbers", "Write x, y and z on a line.").at(format!(
                    "{}, line {}",
                    path.display(),
                    i + 1
                ))
            })
        })
        .collect()
}

/// A message of the engine as a refusal: what, and after the last colon what to do.
fn unusable(message: &str, place: &str) -> Refusal {
    let (what, hint) =
        message.rsplit_once(": ").unwrap_or((message, "scan the panel again, or mend the mesh"));
    Refusal::invalid(capital(what), format!("{}.", capital(hint))).at(place)
}

fn refused(flaw: &::flatten::Refusal, path: &Path) -> Refusal {
    let refusal = unusable(&flaw.to_string(), &path.display().to_string());
    match flaw {
        ::flatten::Refusal::NoStart | ::flatten::Refusal::Unsound(_) => {
            Refusal { kind: RefusalKind::Impossible, ..refusal }
        }
        _ => refusal,
    }
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// Triangles that lie on their backs, counted from the two meshes.
fn flips(flattening: &Flattening) -> usize {
    let corner = |v: u32| flattening.flat[v as usize];
    let over = |[a, b, c]: &[u32; 3]| {
        let (a, b, c) = (corner(*a), corner(*b), corner(*c));
        (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]) <= 0.0
    };
    flattening.surface.triangles.iter().filter(|t| over(t)).count()
}

fn write_files(args: &Args, panel: &Panel, pieces: &[Flattening]) -> Result<(), Refusal> {
    if let Some(path) = &args.surface {
        super::write(path, write_obj(&joined(pieces.iter().map(|p| p.surface.clone()))).as_bytes())?;
    }
    if let Some(path) = &args.flat {
        let flat = pieces.iter().map(|p| Mesh {
            vertices: p.flat.iter().map(|[x, y]| [*x, *y, 0.0]).collect(),
            triangles: p.surface.triangles.clone(),
        });
        super::write(path, write_obj(&joined(flat)).as_bytes())?;
    }
    if args.svg.is_none() && args.heat.is_none() {
        return Ok(());
    }
    let stem = args.mesh.file_stem().map(|s| s.to_string_lossy().into_owned()).unwrap_or_default();
    let finished = finished(args, panel, pieces, &stem)?;
    if let Some(path) = &args.svg {
        let mut all = Vec::new();
        for (n, (piece, _)) in finished.iter().enumerate() {
            let name = if pieces.len() > 1 { format!("{stem}-{}", n + 1) } else { stem.clone() };
            all.extend(
                piece.cut_outs.iter().enumerate().map(|(i, c)| (format!("{name}-cut-out-{}", i + 1), c)),
            );
            all.push((name, &piece.outline));
        }
        let svg = plane::svg::write_outlines(all.iter().map(|(name, o)| (name.as_str(), *o)));
        super::write(path, svg.as_bytes())?;
    }
    if let Some(path) = &args.heat {
        super::write(path, stretch_map(&stretch(&stem, pieces, &finished), Medium::Alone).as_bytes())?;
    }
    Ok(())
}

/// Meshes as one, in their order.
fn joined(meshes: impl Iterator<Item = Mesh>) -> Mesh {
    meshes.fold(Mesh::default(), |mut all, mesh| {
        let from = all.vertices.len() as u32;
        all.vertices.extend(mesh.vertices);
        all.triangles.extend(mesh.triangles.iter().map(|t| t.map(|v| v + from)));
        all
    })
}

/// The pieces ready for the knife, side by side, each with its shift, mm.
fn finished(
    args: &Args,
    panel: &Panel,
    pieces: &[Flattening],
    name: &str,
) -> Result<Vec<(Finished, f64)>, Refusal> {
    if let Some(at) = pieces.iter().flat_map(|p| &p.notes).find_map(|n| match n {
        Note::Overlap { at } => Some(at),
        _ => None,
    }) {
        return Err(Refusal::new(
            RefusalKind::Impossible,
            format!("The flat piece lies over itself near {:.0}, {:.0} mm: it cannot be cut", at[0], at[1]),
            "Add --relief to part it, or give cuts with --cut.",
        ));
    }
    let traced = outline::of_pieces(pieces, &panel.closed.cut_outs, &Tracing::default()).map_err(|e| {
        Refusal::new(
            RefusalKind::Impossible,
            "The flat piece has no outline that can be cut",
            format!("{e}: add --relief to part it, or give cuts with --cut."),
        )
    })?;
    let mut right = f64::NEG_INFINITY;
    let mut all = Vec::new();
    for (traced, holes) in traced {
        let finish = Finish { name: name.to_owned(), wrap: Length::mm(args.wrap), ..Finish::default() };
        let piece = traced.finished(&finish, holes).map_err(|e| unusable(&e.to_string(), "--wrap"))?;
        let bounds = piece.outline.bounds();
        let shift = if right.is_finite() { right + 20.0 - bounds.low.x } else { 0.0 };
        right = bounds.high.x + shift;
        all.push((piece.placed(&plane::Pose::shift(Length::mm(shift), Length::ZERO)), shift));
    }
    Ok(all)
}

fn stretch(name: &str, pieces: &[Flattening], finished: &[(Finished, f64)]) -> StretchMap {
    let ring = |o: &plane::Outline| o.points().iter().map(|p| (p.x, p.y)).collect();
    let mut map = StretchMap {
        title: format!("{name}, flat"),
        worst: pieces.iter().map(|p| p.worst).fold(0.0, f64::max),
        scale: Some((Length::mm(100.0), "100 mm".into())),
        ..StretchMap::default()
    };
    for (piece, (finished, shift)) in pieces.iter().zip(finished) {
        let from = map.points.len() as u32;
        map.points.extend(piece.flat.iter().map(|[x, y]| (*x + shift, -*y)));
        map.triangles.extend(piece.surface.triangles.iter().map(|t| t.map(|v| v + from)));
        map.stretch.extend(heat::at_vertices(piece));
        map.outlines.extend(std::iter::once(&finished.outline).chain(&finished.cut_outs).map(ring));
    }
    map
}

fn people(panel: &Panel, flattening: &Flattening, cpu: f64) {
    taken(panel);
    figures(flattening);
    println!("{cpu:.1} CPU s.");
}

/// How the panel came to be.
fn taken(panel: &Panel) {
    if let Some(unit) = &panel.unit {
        let ask = if unit.ask { " If that is wrong, give --units." } else { "" };
        println!("Unit: {}. {}{ask} All that is written is in mm.", unit.unit.name(), unit.reason);
    }
    mended(&panel.report);
    if let Some(farthest) = panel.farthest {
        println!("Region: the farthest of the given points lay {:.1} mm from the scan.", farthest.as_mm());
    }
    if !panel.kept.is_empty() {
        let rows: Vec<Vec<String>> = panel
            .kept
            .iter()
            .map(|k| {
                let mm = |l: Length| format!("{:.1}", l.as_mm());
                vec![k.tape.clone(), mm(k.asked.arc), mm(k.got.arc), mm(k.asked.sag), mm(k.got.sag)]
            })
            .collect();
        table::print(&["Tape", "Arc mm", "on the patch", "Sag mm", "on the patch"], &rows, &[1, 2, 3, 4]);
        println!();
    }
}

fn figures(flattening: &Flattening) {
    let percent = |x: f64| format!("{:.2}", x * 100.0);
    let mut rows = vec![
        vec!["Worst stretch".into(), percent(flattening.worst), "%".into()],
        vec!["99.5 % of the area stay below".into(), percent(flattening.p995), "%".into()],
        vec!["Mean".into(), percent(flattening.mean), "%".into()],
        vec!["Least worst stretch found".into(), percent(flattening.least_worst), "%".into()],
        vec!["No uncut piece can do better than".into(), percent(flattening.lower_bound), "%".into()],
        vec!["Area of film".into(), format!("{:.4}", flattening.area.as_m2()), "m²".into()],
    ];
    rows.push(vec!["Triangles".into(), flattening.surface.triangles.len().to_string(), String::new()]);
    rows.push(vec!["Flipped".into(), flips(flattening).to_string(), String::new()]);
    table::print(&["", "", ""], &rows, &[1]);
    for note in &flattening.notes {
        println!("{}", noted(note));
    }
}

fn mended(report: &RepairReport) {
    let at = |p: &[f64; 3]| format!("{:.0}, {:.0}, {:.0}", p[0], p[1], p[2]);
    let found = [
        ("vertices at one place, welded", &report.welded),
        ("triangles without area", &report.degenerate),
        ("triangles there twice", &report.repeated),
        ("triangles that faced the wrong way, turned", &report.flipped),
        ("edges where no surface can be, parted", &report.parted_edges),
        ("vertices where sheets touched, parted", &report.parted_vertices),
    ];
    for (words, found) in found.iter().filter(|(_, f)| f.count > 0) {
        let first = found.places.first().map(|p| format!(", first at {} mm", at(p))).unwrap_or_default();
        println!("Mended: {} {words}{first}.", found.count);
    }
    for island in &report.islands {
        println!(
            "Dropped: a part of {} triangles and {:.4} m² at {} mm that hangs on nothing.",
            island.triangles,
            island.area.as_m2(),
            at(&island.at)
        );
    }
    for hole in &report.holes {
        let what = if hole.kept { "kept as a cut-out" } else { "filled" };
        println!("Hole: rim of {:.0} mm at {} mm, {what}.", hole.rim.as_mm(), at(&hole.at));
    }
    for warning in &report.warnings {
        println!("Mind: {warning}");
    }
}

fn noted(note: &Note) -> String {
    match note {
        Note::Unfinished => "The search was ended before it was done.".into(),
        Note::LimitNotReached { limit } => format!(
            "A limit of {:.2} % cannot be kept without a cut; this is the least worst stretch found.",
            limit * 100.0
        ),
        Note::Overlap { at } => format!(
            "The flat piece lies over itself near {:.0}, {:.0} mm: add --relief to part it before it is cut.",
            at[0], at[1]
        ),
    }
}
