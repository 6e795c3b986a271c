//! A lot of the stock that leaves the shelf unused.

use clap::Args as Arguments;
use std::path::PathBuf;
use studio::{Refusal, Stamp, Studio};

/// Arguments of `dispose`.
#[derive(Debug, Arguments)]
pub struct Args {
    /// The product, as the stock page names it.
    product: String,
    /// The lot.
    lot: String,
    /// Why it leaves the shelf: expired, spoilt, given away.
    #[arg(long)]
    why: String,
    /// Folder of the studio.
    #[arg(long, default_value = "studio")]
    dir: PathBuf,
    /// Who does it.
    #[arg(long, default_value = "command line")]
    by: String,
}

/// Takes the lot off the shelf.
pub fn run(args: &Args) -> Result<(), Refusal> {
    let studio = Studio::open(&args.dir)?;
    studio.dispose_lot(&Stamp::by(&args.by), &args.product, &args.lot, &args.why)?;
    println!("Lot {} of {} is off the shelf.", args.lot, args.product);
    println!("Dispose of it by its safety data sheet and local rules; not into the drain.");
    Ok(())
}
