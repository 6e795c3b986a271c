//! Readings to estimates.

mod panel_map;

use super::table;
use clap::Args as ClapArgs;
use paint::{Defaults, Flag, History, PanelInfo, Settings, Substrate};
use serde_json::json;
use std::path::PathBuf;
use studio::Refusal;
use units::Length;

/// Arguments of `paint`.
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// CSV with columns by name: panel, reading_um or reading_mil, and u, v, spot, repeat, gauge, substrate, clear_um.
    readings: PathBuf,
    /// Body style, so that panels have their size: saloon, hatchback, estate, coupe, convertible, suv, pickup, van.
    #[arg(long)]
    body: Option<String>,
    /// Calibration foils read with the gauge, CSV with nominal_um and read_um (or _mil): the readings are taken without
    /// the offset that they show.
    #[arg(long)]
    foils: Option<PathBuf>,
    /// Draw the panels with their readings and the contours of the clear coat into this SVG file.
    #[arg(long, value_name = "OUT.svg")]
    panel_map: Option<PathBuf>,
    /// Print as JSON.
    #[arg(long)]
    json: bool,
}

/// Analyzes readings and prints what they say.
pub fn run(args: &Args) -> Result<(), Refusal> {
    let place = args.readings.display().to_string();
    let mut imported = paint::parse_csv(&super::read(&args.readings)?, &Defaults::default());
    let style = match &args.body {
        None => None,
        Some(name) => Some(body::Style::from_name(name).ok_or_else(|| {
            let known: Vec<_> = body::Style::ALL.iter().map(|s| s.name()).collect();
            Refusal::invalid(
                format!("There is no body style '{name}'"),
                format!("Use one of: {}.", known.join(", ")),
            )
        })?),
    };
    let mut names: Vec<String> = imported.readings.iter().map(|r| r.panel.clone()).collect();
    names.sort();
    names.dedup();
    if names.is_empty() {
        let first =
            imported.rejected.first().map(|r| format!(" Line {}: {}", r.line, r.reason)).unwrap_or_default();
        return Err(Refusal::invalid(
            format!("No reading can be used.{first}"),
            "The first line names the columns: panel and reading_um or reading_mil at least.",
        )
        .at(place));
    }
    let infos: Vec<PanelInfo> = names.iter().map(|name| info(name, style, &imported.readings)).collect();
    let mut settings = Settings::default();
    if let Some(path) = &args.foils {
        let check = super::gauge::foils(path)?;
        imported.readings.iter_mut().for_each(|r| *r = check.corrected(r));
        settings.gauge = check.applied(&settings.gauge);
    }
    let (survey, maps) = paint::analyze_with_maps(&imported.readings, &infos, &settings)
        .map_err(|e| Refusal::invalid(e.to_string(), "Mend the setting.").at(place))?;
    if let Some(out) = &args.panel_map {
        super::write(out, panel_map::sheet(&survey, &maps, &infos, &settings, style)?.as_bytes())?;
    }
    if args.json {
        let panels: Vec<_> = survey
            .panels
            .iter()
            .map(|p| {
                let total = p.total.as_ref();
                let bound = total.and_then(|t| t.bound);
                json!({
                    "panel": p.panel,
                    "n": p.n,
                    "mean_um": total.map(|t| t.mean),
                    "sd_um": total.and_then(|t| t.sd),
                    "bound_um": bound.map(|b| b.value),
                    "coverage": bound.map_or(settings.coverage, |b| b.coverage),
                    "confidence": bound.map_or(settings.confidence, |b| b.confidence),
                    "kind": {
                        "factory": p.kind.factory, "refinished": p.kind.refinished,
                        "filled": p.kind.filled, "thinned": p.kind.thinned,
                    },
                    "clear_um": { "mean": p.clear.mean, "sd": p.clear.sd },
                    "least_clear_um": { "mean": p.least_clear.mean, "lower": p.least_clear.lower },
                    "removable_um": p.removable.amount,
                    "flags": p.flags,
                })
            })
            .collect();
        let rejected: Vec<_> =
            imported.rejected.iter().map(|r| json!({ "line": r.line, "reason": r.reason })).collect();
        return super::print_json(&json!({ "panels": panels, "rejected": rejected }));
    }
    let rows: Vec<Vec<String>> = survey
        .panels
        .iter()
        .map(|p| {
            let total = p.total.as_ref();
            let um = |t: units::Thickness| format!("{:.1}", t.as_um());
            let words: Vec<&str> =
                p.flags.iter().filter(|f| **f != Flag::UnknownHistory).map(|f| f.words()).collect();
            vec![
                p.panel.clone(),
                p.n.to_string(),
                total.map(|t| um(t.mean)).unwrap_or_default(),
                total.and_then(|t| t.sd).map(um).unwrap_or_default(),
                total.and_then(|t| t.bound).map(|b| um(b.value)).unwrap_or_default(),
                format!("{} ± {:.1}", um(p.clear.mean), 1.96 * p.clear.sd.as_um()),
                um(p.least_clear.lower),
                um(p.removable.amount),
                words.join(" "),
            ]
        })
        .collect();
    let head =
        ["Panel", "n", "mean µm", "sd", "at least", "clear ± 95 %", "least clear", "removable", "Mind"];
    table::print(&head, &rows, &[1, 2, 3, 4, 5, 6, 7]);
    println!(
        "At least: {:.0} % of the panel, {:.0} % confidence. History taken as unknown. Floor {:.0} µm, allowance {:.0} µm.",
        settings.coverage * 100.0,
        settings.confidence * 100.0,
        settings.floor.as_um(),
        settings.allowance.as_um()
    );
    for rejected in &imported.rejected {
        println!("Left out: line {}: {}", rejected.line, rejected.reason);
    }
    Ok(())
}

fn info(name: &str, style: Option<body::Style>, readings: &[paint::Reading]) -> PanelInfo {
    let known = style.and_then(|s| body::Body::of(s).panel(name));
    let stated =
        readings.iter().filter(|r| r.panel == name).map(|r| r.substrate).find(|s| *s != Substrate::Unknown);
    PanelInfo {
        id: name.to_owned(),
        width: known.map_or(Length::mm(1000.0), |p| p.width),
        height: known.map_or(Length::mm(700.0), |p| p.height),
        outline: style.map(|s| studio::engine::paint::outline(body::Body::of(s), name)).unwrap_or_default(),
        substrate: stated.unwrap_or_else(|| match known.map(|p| p.usual_material) {
            Some(body::Material::Plastic) => Substrate::Plastic,
            _ => Substrate::Unknown,
        }),
        matte: false,
        single_stage: false,
        history: History::Unknown,
    }
}
