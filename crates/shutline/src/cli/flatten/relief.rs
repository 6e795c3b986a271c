//! Cuts: those that are searched, and those that are drawn.

use super::super::table;
use super::{Args, Panel, figures, flips, refused, taken, unit, write_files};
use ::flatten::{
    Cut, CutPlan, Flattening, Options, Relieved, Zone, ZonePart, ZoneRule, flatten_pieces, relieve,
};
use effort::Effort;
use serde_json::json;
use std::path::{Path, PathBuf};
use studio::Refusal;
use units::Length;

pub(super) fn run(args: &Args, panel: &Panel, options: &Options) -> Result<(), Refusal> {
    let in_mm = panel.unit.as_ref().map_or(1.0, |u| u.unit.in_mm());
    let effort = Effort::steps(u64::MAX);
    let (mesh, silent) = (&panel.closed.mesh, &mut |_| {});
    let started = crate::cli::cpu_seconds();
    let done = match &args.cut {
        Some(path) => {
            let cuts = cuts(path, in_mm)?;
            let pieces = flatten_pieces(mesh, &cuts, options, &effort, silent);
            pieces.map(|pieces| Relieved { front: Vec::new(), cuts, pieces })
        }
        None => {
            let zones = args.zones.as_ref().map(|path| zones(path, in_mm)).transpose()?.unwrap_or_default();
            relieve(mesh, &zones, options, &effort, silent)
        }
    };
    let done = done.map_err(|e| refused(&e, args.cut.as_ref().unwrap_or(&args.mesh)))?;
    let cpu = crate::cli::cpu_seconds() - started;
    write_files(args, panel, &done.pieces)?;
    let kept = options.limit.map(|limit| done.worst() <= limit);
    if args.json {
        return crate::cli::print_json(&json!({
            "unit": unit(panel),
            "front": done.front.iter().map(plan).collect::<Vec<_>>(),
            "cuts_mm": done.cuts.iter().map(|c| &c.points).collect::<Vec<_>>(),
            "pieces": done.pieces.iter().map(piece).collect::<Vec<_>>(),
            "worst_stretch": done.worst(),
            "limit": options.limit,
            "limit_kept": kept,
            "cpu_s": { "total": cpu },
        }));
    }
    taken(panel);
    front(&done.front);
    if done.pieces.len() == 1 && done.cuts.is_empty() {
        println!("Uncut:");
    } else {
        let counted = |n: usize, one: &str| format!("{n} {one}{}", if n == 1 { "" } else { "s" });
        println!("{}, {}:", counted(done.cuts.len(), "cut"), counted(done.pieces.len(), "piece"));
    }
    for piece in &done.pieces {
        figures(piece);
    }
    match (kept, options.limit) {
        (Some(true), Some(limit)) => {
            println!("{:.3} % laid flat: keeps the limit of {:.2} %.", done.worst() * 100.0, limit * 100.0);
        }
        (Some(false), Some(limit)) => println!(
            "{:.3} % laid flat: no plan that was tried keeps {:.2} %. Draw cuts of your own with --cut, or allow more.",
            done.worst() * 100.0,
            limit * 100.0
        ),
        _ => {}
    }
    println!("{cpu:.1} CPU s.");
    Ok(())
}

fn front(plans: &[CutPlan]) {
    if plans.is_empty() {
        return;
    }
    let percent = |x: f64| format!("{:.3}", x * 100.0);
    let rows: Vec<Vec<String>> = plans
        .iter()
        .map(|p| {
            vec![
                match (p.cuts.len(), p.pieces) {
                    (0, _) => "uncut".into(),
                    (n, 1) => format!("{n} relief cut{}", if n == 1 { "" } else { "s" }),
                    (_, n) => format!("seam, {n} pieces"),
                },
                format!("{:.0}", p.in_sight.as_mm()),
                format!("{:.0}", p.length.as_mm()),
                percent(p.worst),
                p.laid.map_or_else(String::new, percent),
            ]
        })
        .collect();
    table::print(&["", "In sight mm", "Length mm", "Worst %, searched", "laid flat"], &rows, &[1, 2, 3, 4]);
    println!();
}

fn plan(plan: &CutPlan) -> serde_json::Value {
    json!({
        "cuts": plan.cuts.len(),
        "pieces": plan.pieces,
        "length_mm": plan.length.as_mm(),
        "in_sight_mm": plan.in_sight.as_mm(),
        "worst_stretch": plan.worst,
        "laid_flat": plan.laid,
        "cuts_mm": plan.cuts.iter().map(|c| &c.points).collect::<Vec<_>>(),
    })
}

fn piece(piece: &Flattening) -> serde_json::Value {
    json!({
        "triangles": piece.surface.triangles.len(),
        "flips": flips(piece),
        "overlaps": piece.overlaps(),
        "worst_stretch": piece.worst,
        "p995_stretch": piece.p995,
        "lower_bound": piece.lower_bound,
        "area_mm2": piece.area.as_mm2(),
    })
}

/// Lines over the panel, parted by empty lines of the file.
fn cuts(path: &PathBuf, in_mm: f64) -> Result<Vec<Cut>, Refusal> {
    let text = crate::cli::read(path)?;
    let mut cuts = vec![Cut { points: Vec::new() }];
    for (n, line) in text.lines().enumerate() {
        if line.trim().is_empty() {
            cuts.push(Cut { points: Vec::new() });
        } else if !line.trim_start().starts_with('#') {
            let (point, _) = numbers::<3>(line).filter(|(_, rest)| rest.is_empty()).ok_or_else(|| {
                Refusal::invalid("A point needs three numbers", "Write x, y and z on a line.")
                    .at(place(path, n))
            })?;
            cuts.last_mut().into_iter().for_each(|c| c.points.push(point.map(|x| x * in_mm)));
        }
    }
    cuts.retain(|c| !c.points.is_empty());
    Ok(cuts)
}

fn zones(path: &PathBuf, in_mm: f64) -> Result<Vec<Zone>, Refusal> {
    let text = crate::cli::read(path)?;
    let lines =
        text.lines().enumerate().filter(|(_, l)| !l.trim().is_empty() && !l.trim_start().starts_with('#'));
    lines
        .map(|(n, line)| {
            let read = numbers::<4>(line).and_then(|([x, y, z, radius], rest)| {
                let rule = match rest.as_str() {
                    "forbidden" => ZoneRule::Forbidden,
                    "out_of_sight" => ZoneRule::OutOfSight,
                    _ => return None,
                };
                let (center, radius) = ([x, y, z].map(|c| c * in_mm), Length::mm(radius * in_mm));
                Some(Zone { part: ZonePart::Round { center, radius }, rule })
            });
            read.ok_or_else(|| {
                Refusal::invalid(
                    "A zone needs four numbers and a rule",
                    "Write x, y, z, radius, then forbidden or out_of_sight.",
                )
                .at(place(path, n))
            })
        })
        .collect()
}

/// The first numbers of a line and the words after them.
fn numbers<const N: usize>(line: &str) -> Option<([f64; N], String)> {
    let mut words =
        line.split(|c: char| c.is_whitespace() || matches!(c, ',' | ';')).filter(|w| !w.is_empty());
    let mut read = [0.0; N];
    for number in &mut read {
        *number = words.next()?.parse().ok().filter(|x: &f64| x.is_finite())?;
    }
    Some((read, words.collect::<Vec<_>>().join(" ")))
}

fn place(path: &Path, line: usize) -> String {
    format!("{}, line {}", path.display(), line + 1)
}
