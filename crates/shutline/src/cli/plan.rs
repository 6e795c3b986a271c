//! A job folder computed whole.

use clap::Args as ClapArgs;
use jiff::Timestamp;
use job::JobId;
use serde_json::json;
use std::path::{Path, PathBuf};
use studio::engine::film::CutFormat;
use studio::ics::Whose;
use studio::{Clock, Refusal, Stamp, Studio};

/// Arguments of `plan`.
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// The job folder.
    folder: PathBuf,
    /// Where the results go; FOLDER/out when it is not given.
    #[arg(long)]
    out: Option<PathBuf>,
    /// Reckon as if it were this time.
    #[arg(long)]
    now: Option<Timestamp>,
    /// Print all results as JSON.
    #[arg(long)]
    json: bool,
}

/// A job folder in a studio of its own.
pub struct Table {
    /// The studio; its folder goes when this goes.
    pub studio: Studio,
    /// The job.
    pub id: JobId,
    /// What was left out or taken for granted.
    pub notes: Vec<String>,
    _folder: tempfile::TempDir,
}

/// Who plans from the command line.
const PLANNER: &str = "planner";

/// Reads a job folder into a studio of its own, with the folder's own shop or the built-in example.
pub fn open(folder: &Path, now: Option<Timestamp>) -> Result<Table, Refusal> {
    let own = tempfile::tempdir()
        .map_err(|e| Refusal::broken(e, "Free space in the folder for temporary files."))?;
    let studio = Studio::open_at(own.path(), now.map_or(Clock::System, Clock::at))?;
    let stamp = Stamp::by(PLANNER);
    let mut notes = Vec::new();
    let shop = folder.join("shop.toml");
    if shop.exists() {
        studio.set_up(&stamp, &super::read(&shop)?)?;
    } else {
        notes.push("There is no shop.toml: reckoned with the invented shop of the demo.".to_owned());
        studio.set_up(&stamp, &studio::demo::shop_text("UTC", studio.now())?)?;
    }
    let imported = studio.import(&stamp, folder)?;
    notes.extend(imported.warnings.into_iter().map(|w| format!("Left out: {w}")));
    Ok(Table { studio, id: imported.id, notes, _folder: own })
}

/// Computes the folder and writes everything.
pub fn run(args: &Args) -> Result<(), Refusal> {
    let mut table = open(&args.folder, args.now)?;
    table.notes.extend(table.studio.rehearse(&table.id, &Stamp::by(PLANNER))?);
    let out = args.out.clone().unwrap_or_else(|| args.folder.join("out"));
    let files = write_documents(&table.studio, &table.id, &out)?;
    if args.json {
        return super::print_json(&results(&table.studio, &table.id, &table.notes)?);
    }
    for note in &table.notes {
        println!("{note}");
    }
    println!("Written to {}: {}.", out.display(), files.join(", "));
    Ok(())
}

/// Writes documents, cut file, calendar and results of a job.
pub fn write_documents(studio: &Studio, id: &JobId, out: &Path) -> Result<Vec<String>, Refusal> {
    std::fs::create_dir_all(out)
        .map_err(|e| Refusal::broken(e, "Check who may write there.").at(out.display().to_string()))?;
    let car = studio.car_view(id)?;
    let album = |picture: &job::PictureId| studio.picture_shown(picture, 1280).ok();
    let survey = studio.survey_view(id)?;
    let film = studio.film_view(id)?;
    let mut files = Vec::new();
    let mut put = |name: &str, bytes: &[u8]| {
        files.push(name.to_owned());
        super::write(&out.join(name), bytes)
    };
    let pdf = |document: report::Document| {
        document.pdf().map_err(|e| Refusal::broken(e, "Report this with the job folder."))
    };
    put("arrival.pdf", &pdf(report::documents::arrival(&car, &survey, &album))?)?;
    put("offer.pdf", &pdf(report::documents::offer(&car, &studio.offer_view(id)?))?)?;
    put("route.pdf", &pdf(report::documents::route(&car, &studio.route_view(id)?))?)?;
    put("cut.pdf", &pdf(report::documents::cut(&car, &film))?)?;
    put(
        "handover.pdf",
        &pdf(report::documents::handover(&car, &studio.handover_view(id)?, &survey, &album))?,
    )?;
    let calendar = studio.calendar_view(None, 14, true)?;
    put("schedule.pdf", &pdf(report::documents::schedule(&car.shop, &calendar, &car.seal))?)?;
    if let Some(change) = car.job.changes.last() {
        put("change.pdf", &pdf(report::documents::change(&car, change, &[], &album))?)?;
    }
    for number in 1..=film.drawings.len() {
        for format in CutFormat::ALL {
            let name = format!("cut-{number}.{}", format.ending());
            put(&name, studio.cut_file(id, number, format)?.as_bytes())?;
        }
    }
    put("calendar.ics", studio.calendar_file(&Whose::Job(id.clone()))?.as_bytes())?;
    let results =
        serde_json::to_vec_pretty(&results(studio, id, &[])?).map_err(|e| Refusal::broken(e, ""))?;
    put("results.json", &results)?;
    Ok(files)
}

/// All results of a job as JSON; quantities carry their unit in the name.
pub fn results(studio: &Studio, id: &JobId, notes: &[String]) -> Result<serde_json::Value, Refusal> {
    let car = studio.car_view(id)?;
    let survey = studio.survey_view(id)?;
    let route = studio.route_view(id)?;
    let film = studio.film_view(id)?;
    let offer = studio.offer_view(id)?;
    let plan: Vec<_> = car.shop.plan.iter().filter(|b| b.job == *id).collect();
    Ok(json!({
        "job": id,
        "notes": notes,
        "stage": car.job.stage(),
        "findings": car.job.findings,
        "survey": survey.panels.iter().map(|p| json!({
            "panel": p.id,
            "area_m2": p.area,
            "figures": p.figures,
            "warnings": p.warnings.iter().map(|(what, _)| what).collect::<Vec<_>>(),
            "estimate": p.estimate,
            "correction": p.correction,
        })).collect::<Vec<_>>(),
        "survey_missing": survey.missing,
        "options": offer.draft.iter().map(|d| json!({
            "option": d.option, "figures": d.figures, "problem": d.problem,
        })).collect::<Vec<_>>(),
        "not_attempted": offer.not_attempted,
        "route": route.steps.iter().map(|s| &s.planned).collect::<Vec<_>>(),
        "route_problem": route.problem,
        "route_breaches": route.breaches,
        "film": { "plan": film.plan, "figures": film.figures, "problem": film.problem, "warnings": film.warnings },
        "schedule": plan,
        "ready": car.ready,
        "promised": car.job.promised,
        "seal": car.seal,
    }))
}
