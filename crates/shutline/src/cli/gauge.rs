//! What a thickness gauge can tell: calibration foils and gauge studies.

use super::table;
use clap::Args as ClapArgs;
use paint::{GaugeCheck, Rejected, StudyResult};
use serde_json::json;
use std::path::PathBuf;
use studio::Refusal;

/// Arguments of `gauge`.
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// CSV of foils (nominal_um, read_um) or of a study (operator, part, reading_um); `_mil` for mils.
    file: PathBuf,
    /// Print as JSON.
    #[arg(long)]
    json: bool,
}

/// Evaluates foils or a study, whichever the header shows.
pub fn run(args: &Args) -> Result<(), Refusal> {
    let text = super::read(&args.file)?;
    let header = text.lines().find(|l| !l.trim().is_empty()).unwrap_or_default().to_lowercase();
    if header.contains("operator") {
        return study(args, &text);
    }
    let check = foils(&args.file)?;
    let (offset, scatter) = (check.offset, check.repeatability);
    if args.json {
        return super::print_json(&json!({
            "n": check.n,
            "offset_um": { "mean": offset.mean, "sd": offset.sd },
            "repeatability_um": scatter,
        }));
    }
    println!(
        "Offset {:+.2} ± {:.2} µm (95 %), repeatability {:.2} µm (standard deviation), from {} foil readings.",
        offset.mean.as_um(),
        1.96 * offset.sd.as_um(),
        scatter.as_um(),
        check.n
    );
    println!(
        "`shutline paint READINGS.csv --foils {}` takes the offset off the readings.",
        args.file.display()
    );
    Ok(())
}

/// Reads foils from a file; a calibration with rows left out would be another one, so every row must be readable.
pub fn foils(path: &PathBuf) -> Result<GaugeCheck, Refusal> {
    let place = path.display().to_string();
    let (foils, rejected) = paint::parse_foils(&super::read(path)?);
    whole(&rejected, &place)?;
    paint::check_gauge(&foils).map_err(|e| {
        Refusal::invalid(e.to_string(), "Read at least three foils, better each of them twice.").at(place)
    })
}

fn study(args: &Args, text: &str) -> Result<(), Refusal> {
    let place = args.file.display().to_string();
    let (readings, rejected) = paint::parse_study(text);
    whole(&rejected, &place)?;
    let results = paint::gauge_study(&readings).map_err(|e| {
        Refusal::invalid(
            e.to_string(),
            "Everybody reads every spot equally often: at least two people, two spots, twice.",
        )
        .at(place)
    })?;
    if args.json {
        let row = |r: &StudyResult| {
            json!({
                "method": r.method, "repeatability_um": r.repeatability, "reproducibility_um": r.reproducibility,
                "gauge_um": r.gauge, "part_um": r.part, "total_um": r.total, "share": r.share,
                "categories": r.categories,
            })
        };
        return super::print_json(&json!({ "n": readings.len(), "methods": results.each_ref().map(row) }));
    }
    let um = |t: units::Thickness| format!("{:.3}", t.as_um());
    let row = |r: &StudyResult| {
        vec![
            r.method.clone(),
            um(r.repeatability),
            um(r.reproducibility),
            um(r.gauge),
            um(r.part),
            um(r.total),
            format!("{:.1} %", 100.0 * r.share),
            r.categories.to_string(),
        ]
    };
    let head = ["Method", "repeatability", "reproducibility", "gauge", "part", "total", "share", "classes"];
    table::print(&head, &results.iter().map(row).collect::<Vec<_>>(), &[1, 2, 3, 4, 5, 6, 7]);
    println!("Standard deviations in µm. The two published methods differ; say which one you quote.");
    Ok(())
}

fn whole(rejected: &[Rejected], place: &str) -> Result<(), Refusal> {
    match rejected.first() {
        None => Ok(()),
        Some(first) => Err(Refusal::invalid(
            format!("Line {}: {}", first.line, first.reason),
            "Mend the line: a calibration counts whole.",
        )
        .at(place)),
    }
}
