//! The command line: the same work as the web app, without the web.

mod air;
mod demo;
mod dispose;
mod flatten;
mod gauge;
mod heap;
mod nest;
mod paint;
mod plan;
mod price;
mod route;
mod schedule;
mod studio;
mod table;

use ::studio::{Refusal, RefusalKind};
use clap::{Parser, Subcommand};
use std::path::PathBuf;
use std::process::ExitCode;

/// One program for a paint-protection studio: from booking to handover and the visits after it.
#[derive(Debug, Parser)]
#[command(name = "shutline", version, about)]
pub struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Make an invented demo studio, compute everything, and serve it.
    Demo(demo::Args),
    /// Serve the web app of a studio on this machine.
    Serve(studio::ServeArgs),
    /// Compute a whole job folder: documents, cut file, calendar and results in FOLDER/out.
    Plan(plan::Args),
    /// Readings to statistics, clear coat and what may be removed.
    Paint(paint::Args),
    /// Calibration foils or a gauge study: what the thickness gauge can tell.
    Gauge(gauge::Args),
    /// A scanned panel, or tape measures, to a flat piece of film with the stretch it takes.
    Flatten(flatten::Args),
    /// Pieces onto rolls and offcuts.
    Nest(nest::Args),
    /// The steps of a job folder, in order and with reasons.
    Route(route::Args),
    /// Tasks onto people, rooms and time.
    Schedule(schedule::Args),
    /// Dew point, clearing time, vapor, dilution.
    Air(air::Args),
    /// The options of a job folder with their prices.
    Price(price::Args),
    /// Take a job folder into a studio.
    Import(studio::ImportArgs),
    /// Write a job of a studio out as a job folder.
    Export(studio::ExportArgs),
    /// Take a lot of the stock off the shelf that will not be used.
    Dispose(dispose::Args),
    /// Copy a studio to another folder while it is in use.
    Backup(studio::BackupArgs),
    /// Bring a backup back into a new folder.
    Restore(studio::RestoreArgs),
    /// Look for any changed, missing or reordered row and any changed picture.
    Verify(studio::VerifyArgs),
}

/// Runs a command; refusals go to the error output with the way on.
pub fn run(cli: Cli) -> ExitCode {
    if matches!(cli.command, Command::Demo(_) | Command::Serve(_)) {
        heap::one_for_all();
    }
    let result = match cli.command {
        Command::Demo(args) => demo::run(&args),
        Command::Serve(args) => studio::serve(&args),
        Command::Plan(args) => plan::run(&args),
        Command::Paint(args) => paint::run(&args),
        Command::Gauge(args) => gauge::run(&args),
        Command::Flatten(args) => flatten::run(&args),
        Command::Nest(args) => nest::run(&args),
        Command::Route(args) => route::run(&args),
        Command::Schedule(args) => schedule::run(&args),
        Command::Air(args) => air::run(&args),
        Command::Price(args) => price::run(&args),
        Command::Import(args) => studio::import(&args),
        Command::Export(args) => studio::export(&args),
        Command::Dispose(args) => dispose::run(&args),
        Command::Backup(args) => studio::backup(&args),
        Command::Restore(args) => studio::restore(&args),
        Command::Verify(args) => studio::verify(&args),
    };
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(refusal) => {
            #[allow(clippy::print_stderr)]
            {
                eprintln!("{refusal}");
            }
            ExitCode::from(match refusal.kind {
                RefusalKind::Invalid => 2,
                RefusalKind::NotFound => 3,
                RefusalKind::Impossible | RefusalKind::NotYet => 4,
                RefusalKind::Conflict => 5,
                RefusalKind::TooMany | RefusalKind::Forbidden => 6,
                RefusalKind::Broken => 1,
            })
        }
    }
}

/// Reads a text file.
fn read(path: &PathBuf) -> Result<String, Refusal> {
    let bytes = std::fs::read(path)
        .map_err(|e| Refusal::not_found(e.to_string(), "Check the path.").at(path.display().to_string()))?;
    String::from_utf8(bytes).map_err(|_| {
        Refusal::invalid("The file is not UTF-8 text", "Save it as UTF-8.").at(path.display().to_string())
    })
}

/// Writes a file.
fn write(path: &std::path::Path, bytes: &[u8]) -> Result<(), Refusal> {
    std::fs::write(path, bytes)
        .map_err(|e| Refusal::broken(e, "Check who may write there.").at(path.display().to_string()))
}

/// Prints a value as JSON.
fn print_json(value: &serde_json::Value) -> Result<(), Refusal> {
    let text = serde_json::to_string_pretty(value).map_err(|e| Refusal::broken(e, ""))?;
    println!("{text}");
    Ok(())
}

/// CPU seconds that this process has used, by the operating system's own count where there is one.
fn cpu_seconds() -> f64 {
    // utime and stime are fields 14 and 15 of /proc/self/stat, in ticks of which Linux shows 100 a second.
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after_name = stat.rsplit_once(") ").map_or("", |(_, rest)| rest);
    let ticks: Vec<f64> = after_name.split(' ').skip(11).take(2).filter_map(|t| t.parse().ok()).collect();
    if ticks.len() == 2 { (ticks[0] + ticks[1]) / 100.0 } else { wall_seconds() }
}

/// Seconds since the program began, where the system does not count CPU time.
fn wall_seconds() -> f64 {
    use std::sync::OnceLock;
    use std::time::Instant;
    static START: OnceLock<Instant> = OnceLock::new();
    // The command line measures; engines do not.
    #[allow(clippy::disallowed_methods)]
    let now = Instant::now;
    START.get_or_init(now).elapsed().as_secs_f64()
}
