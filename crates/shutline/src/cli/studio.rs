//! Serving, moving and checking a studio.

use crate::web::{self, Place, Ready};
use clap::Args;
use job::JobId;
use journal::Journal;
use std::path::PathBuf;
use std::sync::Arc;
use studio::folder::Pictures;
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
    /// Also for tablets and phones of the shop's network, over HTTPS with a certificate of the shop's own.
    #[arg(long)]
    lan: bool,
    /// With --lan: a name of this machine on the network, such as studio.local. May be given several times.
    #[arg(long = "name", requires = "lan")]
    names: Vec<String>,
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
    /// Pictures as they came, with the camera's notes, which say where they were taken. Without it copies are written
    /// that say nothing.
    #[arg(long)]
    originals: bool,
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
    /// Leave out the links that customers hold.
    #[arg(long)]
    without_links: bool,
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
    let place = Place { port: args.port, lan: args.lan, names: args.names.clone(), open: false };
    serve_studio(Arc::new(Studio::open(&args.dir)?), place)
}

/// Serves an open studio.
pub fn serve_studio(studio: Arc<Studio>, place: Place) -> Result<(), Refusal> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
        .map_err(|e| Refusal::broken(e, "Free memory or raise the limit on threads."))?;
    // The first look at the calendar derives routes for cars that have none yet: that is done before somebody waits.
    let early = studio.clone();
    std::thread::spawn(move || drop(early.calendar_view(None, 7, true)));
    let doors = studio.clone();
    runtime.block_on(web::serve(studio, place, move |ready| tell(&doors, &ready)))
}

/// Says where the program can be reached.
fn tell(studio: &Studio, ready: &Ready) {
    println!("Open {} in a browser. Stop with Ctrl-C.", ready.here);
    let Some((reach, fingerprint)) = ready.reach.as_ref().zip(ready.fingerprint.as_ref()) else { return };
    println!();
    println!("Tablets and phones of the shop's network: {reach}");
    println!(
        "They warn of a certificate that they do not know: this program made it. Its SHA-256 fingerprint is"
    );
    println!("{fingerprint}");
    println!("Compare it on the device before going on.");
    if ready.fresh {
        println!("The certificate was made just now: devices that knew an earlier one ask again.");
    }
    match studio.has_owner() {
        Ok(false) => {
            println!("Nobody is the owner yet: open the first address on this machine and begin there.");
            return;
        }
        Ok(true) => {}
        Err(e) => return println!("{e}"),
    }
    // Whoever starts the program on this machine may let a device in.
    match studio.invite_device("command line") {
        Ok(token) => {
            let link = format!("{reach}door/join/{}", token.as_str());
            println!("To let one device in, scan this within a quarter of an hour:");
            println!("{}", scannable(&link));
            println!("{link}");
        }
        Err(e) => println!("{e}"),
    }
}

/// A text as a code of blocks, dark on light whatever the terminal's colors: two rows of it in one line.
fn scannable(text: &str) -> String {
    use qrcode::render::unicode::Dense1x2;
    qrcode::QrCode::new(text.as_bytes()).map_or_else(
        |e| e.to_string(),
        |code| {
            // Terminals write light on dark: the colors are exchanged.
            code.render::<Dense1x2>().dark_color(Dense1x2::Light).light_color(Dense1x2::Dark).build()
        },
    )
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
    let pictures = if args.originals { Pictures::Originals } else { Pictures::WithoutNotes };
    studio.export(&JobId(args.job.clone()), &args.folder, pictures)?;
    println!("Job {} is in {}.", args.job, args.folder.display());
    Ok(())
}

/// Copies a studio.
pub fn backup(args: &BackupArgs) -> Result<(), Refusal> {
    let studio = Studio::open(&args.dir)?;
    let report = studio.back_up(&args.to)?;
    println!(
        "{} events and {} pictures are in {}. Seal {}.",
        report.rows,
        report.pictures,
        args.to.display(),
        report.seal
    );
    println!("Links of customers go along; passphrase, PINs and devices that were let in do not.");
    Ok(())
}

/// Brings a backup back.
pub fn restore(args: &RestoreArgs) -> Result<(), Refusal> {
    let (report, links) = Studio::bring_back(&args.from, &args.dir, !args.without_links)?;
    println!(
        "{} events and {} pictures are in {}. Seal {}.",
        report.rows,
        report.pictures,
        args.dir.display(),
        report.seal
    );
    println!(
        "Start it with `shutline serve` on this machine: the owner begins anew, and PINs are set again."
    );
    if links > 0 {
        println!(
            "Links that customers hold: {links} work again. A backup does not know of links that were withdrawn after \
             it; withdraw them again at their cars, or restore with --without-links."
        );
    }
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

#[cfg(test)]
mod tests {
    use super::scannable;

    /// What a reader of codes (rqrr, which shares nothing with what draws them) sees on a dark terminal.
    #[test]
    fn the_code_on_the_terminal_is_read_by_a_reader_of_codes() {
        let link = "https://192.168.17.40:8480/door/join/3kPq9ZzT0a1b2c3d4e5f6g7h8i9j0k1l";
        let drawn = scannable(link);
        let rows: Vec<Vec<char>> = drawn.lines().map(|l| l.chars().collect()).collect();
        let (wide, tall) = (rows[0].len(), 2 * rows.len());
        const SCALE: usize = 4;
        let light = |x: usize, y: usize| match rows[y / 2][x] {
            ' ' => false,
            '█' => true,
            '▀' => y.is_multiple_of(2),
            '▄' => !y.is_multiple_of(2),
            c => panic!("'{c}' in the code"),
        };
        let mut seen = rqrr::PreparedImage::prepare_from_greyscale(wide * SCALE, tall * SCALE, |x, y| {
            if light(x / SCALE, y / SCALE) { 255 } else { 0 }
        });
        let codes = seen.detect_grids();
        assert_eq!(codes.len(), 1);
        assert_eq!(codes[0].decode().unwrap().1, link);
    }
}
