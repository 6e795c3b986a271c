//! Serving, moving and checking a studio.

use crate::web;
use clap::Args;
use job::JobId;
use journal::Journal;
use std::net::{Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;
use studio::{Refusal, Stamp, Studio};

/// Arguments of `serve`.
#[derive(Debug, Args)]
pub struct ServeArgs {
    /// Folder of the studio; made when it is not there.
    #[arg(long, default_value = "studio")]
    dir: PathBuf,
    /// Port on this machine.
    #[arg(long, default_value_t = 8480)]
    port: u16,
}

/// Arguments of `import`.
#[derive(Debug, Args)]
pub struct ImportArgs {
    /// The job folder.
    folder: PathBuf,
    /// Folder of the studio.
    #[arg(long, default_value = "studio")]
    dir: PathBuf,
    /// Who does it.
    #[arg(long, default_value = "command line")]
    by: String,
}

/// Arguments of `export`.
#[derive(Debug, Args)]
pub struct ExportArgs {
    /// Number of the job.
    job: String,
    /// Where to; a new or empty folder.
    folder: PathBuf,
    /// Folder of the studio.
    #[arg(long, default_value = "studio")]
    dir: PathBuf,
}

/// Arguments of `backup`.
#[derive(Debug, Args)]
pub struct BackupArgs {
    /// Where to.
    to: PathBuf,
    /// Folder of the studio.
    #[arg(long, default_value = "studio")]
    dir: PathBuf,
}

/// Arguments of `restore`.
#[derive(Debug, Args)]
pub struct RestoreArgs {
    /// The backup.
    from: PathBuf,
    /// Folder of the studio to be; new or empty.
    #[arg(long, default_value = "studio")]
    dir: PathBuf,
}

/// Arguments of `verify`.
#[derive(Debug, Args)]
pub struct VerifyArgs {
    /// Folder of the studio.
    #[arg(long, default_value = "studio")]
    dir: PathBuf,
}

/// Serves a studio until it is interrupted.
pub fn serve(args: &ServeArgs) -> Result<(), Refusal> {
    serve_studio(Arc::new(Studio::open(&args.dir)?), args.port)
}

/// Serves an open studio on loopback.
pub fn serve_studio(studio: Arc<Studio>, port: u16) -> Result<(), Refusal> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(|e| Refusal::broken(e, "Free memory or raise the limit on threads."))?;
    // The first look at the calendar derives routes for cars that have none yet: that is done before somebody waits.
    let early = studio.clone();
    std::thread::spawn(move || drop(early.calendar_view(None, 7, true)));
    let address = SocketAddr::from((Ipv4Addr::LOCALHOST, port));
    runtime.block_on(web::serve(studio, address, |at| {
        println!("Open http://{at}/ in a browser. Stop with Ctrl-C.")
    }))
}

/// Takes a job folder in.
pub fn import(args: &ImportArgs) -> Result<(), Refusal> {
    let studio = Studio::open(&args.dir)?;
    let imported = studio.import(&Stamp::by(&args.by), &args.folder)?;
    for warning in &imported.warnings {
        println!("Left out: {warning}");
    }
    println!("Job {} is in the studio.", imported.id);
    Ok(())
}

/// Writes a job out.
pub fn export(args: &ExportArgs) -> Result<(), Refusal> {
    let studio = Studio::open(&args.dir)?;
    studio.export(&JobId(args.job.clone()), &args.folder)?;
    println!("Job {} is in {}.", args.job, args.folder.display());
    Ok(())
}

/// Copies a studio.
pub fn backup(args: &BackupArgs) -> Result<(), Refusal> {
    let studio = Studio::open(&args.dir)?;
    let report = studio.journal().backup(&args.to).map_err(|e| Refusal::broken(e, ""))?;
    println!(
        "{} events and {} pictures are in {}. Seal {}.",
        report.rows,
        report.pictures,
        args.to.display(),
        report.seal
    );
    Ok(())
}

/// Brings a backup back.
pub fn restore(args: &RestoreArgs) -> Result<(), Refusal> {
    let report = Journal::restore(&args.from, &args.dir).map_err(|e| Refusal::broken(e, ""))?;
    println!(
        "{} events and {} pictures are in {}. Seal {}.",
        report.rows,
        report.pictures,
        args.dir.display(),
        report.seal
    );
    Ok(())
}

/// Checks a studio.
pub fn verify(args: &VerifyArgs) -> Result<(), Refusal> {
    let report = Journal::verify_folder(&args.dir, &[]).map_err(|e| Refusal::broken(e, ""))?;
    println!("{} events and {} pictures looked at. Seal {}.", report.rows, report.pictures, report.seal);
    for note in &report.notes {
        println!("{note}");
    }
    if report.is_sound() {
        println!("Nothing was changed, is missing or out of order.");
        return Ok(());
    }
    for flaw in &report.flaws {
        println!("{flaw}");
    }
    Err(Refusal::broken(
        format!("{} flaws found", report.flaws.len()),
        "Restore the newest backup that verifies.",
    ))
}
