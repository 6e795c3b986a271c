//! The demo.

use super::plan;
use super::table;
use crate::web::Place;
use clap::Args as ClapArgs;
use jiff::{Timestamp, tz::TimeZone};
use std::path::PathBuf;
use std::sync::Arc;
use studio::{Clock, Refusal, Studio, Times};

/// Arguments of `demo`.
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// Folder of the demo studio; made anew when it is not there.
    #[arg(long, default_value = "demo-studio")]
    dir: PathBuf,
    /// Compute, write the documents, print the summary and stop.
    #[arg(long)]
    once: bool,
    /// Port on this machine.
    #[arg(long, default_value_t = 8480)]
    port: u16,
    /// The demo's present time, such as 2026-05-13T10:42:00Z; now when it is not given.
    #[arg(long)]
    now: Option<Timestamp>,
    /// The demo's time zone; this machine's when it is not given.
    #[arg(long)]
    time_zone: Option<String>,
}

/// Makes the demo, prints what came of it, and serves it.
pub fn run(args: &Args) -> Result<(), Refusal> {
    let now = args.now.unwrap_or_else(|| Clock::System.now());
    let zone = args.time_zone.clone().or_else(|| TimeZone::system().iana_name().map(str::to_owned));
    let zone = zone.unwrap_or_else(|| "UTC".to_owned());
    if !args.dir.join("journal.db").exists() {
        println!("Making an invented demo studio in {} …", args.dir.display());
        studio::demo::make(&args.dir, now, &zone)?;
    }
    let clock = args.now.map_or(Clock::System, Clock::at);
    let studio = Arc::new(Studio::open_at(&args.dir, clock)?);
    summary(&studio)?;
    if args.once {
        for entry in studio.jobs()? {
            let out = args.dir.join("documents").join(entry.id.as_str());
            plan::write_documents(&studio, &entry.id, &out)?;
            println!("Documents of job {} are in {}.", entry.id, out.display());
        }
        return Ok(());
    }
    println!("The demo's door stands open on this machine: choose at the top who is at it.");
    super::studio::serve_studio(studio, Place { port: args.port, lan: false, names: Vec::new(), open: true })
}

fn summary(studio: &Studio) -> Result<(), Refusal> {
    let shop = studio.shop()?;
    let times = Times::of(&shop);
    let when = |t: Option<Timestamp>| t.map_or_else(String::new, |t| times.moment(t));
    let calendar = studio.calendar_view(None, 14, true)?;
    let mut rows = Vec::new();
    for row in studio.cars("", true, 0, usize::MAX)?.rows {
        let job = studio.job(&row.car.id)?.job;
        let planned = calendar.promises.iter().find(|(tag, ..)| tag.id == row.car.id);
        let price = job.accepted().map(|o| o.quote.gross.display(shop.settings.prices.currency));
        rows.push(vec![
            row.car.id.to_string(),
            row.car.name,
            row.stage.title().to_owned(),
            job.standing().count().to_string(),
            job.readings.len().to_string(),
            price.unwrap_or_default(),
            when(job.promised),
            planned.map(|(_, _, end, _)| when(*end)).unwrap_or_default(),
            planned.and_then(|(.., late)| late.clone()).unwrap_or_default(),
            row.note,
        ]);
    }
    println!("{} (invented)", shop.settings.name);
    table::print(
        &[
            "Job",
            "Car",
            "Stage",
            "Findings",
            "Readings",
            "Agreed",
            "Promised",
            "Planned end",
            "Late",
            "Waits",
        ],
        &rows,
        &[3, 4, 5],
    );
    let report = studio.journal().verify().map_err(|e| Refusal::broken(e, ""))?;
    println!(
        "Record: {} events, {} pictures, {} flaws, seal {}.",
        report.rows,
        report.pictures,
        report.flaws.len(),
        report.seal
    );
    Ok(())
}
