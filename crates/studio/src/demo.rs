//! A demo studio: people, bays, shelf and cars, all of our own invention. Every figure in it is computed by the program.

mod cars;
mod shelf;
mod story;

use crate::clock::Clock;
use crate::refusal::Refusal;
use crate::studio::{Stamp, Studio};
use jiff::{SignedDuration, Timestamp};
use std::path::Path;

/// Who sets the demo up.
const OWNER: &str = "Nadia";

/// The demo's shop as `shop.toml`, for job folders that bring none.
///
/// # Errors
/// Never with the built-in shop.
pub fn shop_text(time_zone: &str, now: Timestamp) -> Result<String, Refusal> {
    crate::folder::shop_toml(&shelf::shop(time_zone, now))
}

/// Makes a demo studio in a folder: a year of it, up to `now`.
///
/// # Errors
/// When the folder holds a journal already, or cannot be written.
pub fn make(folder: &Path, now: Timestamp, time_zone: &str) -> Result<(), Refusal> {
    if folder.join("journal.db").exists() {
        return Err(Refusal::invalid(
            "There is a studio in this folder already",
            "Name another folder, or remove this one to make the demo anew.",
        )
        .at(folder.display().to_string()));
    }
    let clock = Clock::at(now - SignedDuration::from_hours(24 * 371));
    let studio = Studio::open_at(folder, clock)?;
    let by = Stamp::by(OWNER);
    let file = shelf::shop(time_zone, now);
    studio.set_up(&by, &crate::folder::shop_toml(&file)?)?;
    cars::tell(&studio, now)
}
