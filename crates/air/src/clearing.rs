//! How long until the air of a room is clean again.

use crate::error::within;
use crate::{AirError, PerHour, Speed};
use serde::{Deserialize, Serialize};
use units::{Duration, Explained, Length, Volume};

/// A room and its ventilation.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Room {
    /// Of air.
    pub volume: Volume,
    /// From floor to ceiling.
    pub height: Length,
    /// Air changes an hour: fresh or filtered air over the room's volume.
    pub changes: PerHour,
    /// How well the air mixes, above 0 up to 1 (1: perfectly).
    pub mixing: f64,
    /// Share of particles that one pass through the filter takes out, above 0 up to 1 (1 for fresh clean air).
    pub filter: f64,
}

impl Room {
    /// A room whose air mixes perfectly and is replaced by clean air.
    pub fn ideal(volume: Volume, height: Length, changes: PerHour) -> Self {
        Self { volume, height, changes, mixing: 1.0, filter: 1.0 }
    }

    /// # Errors
    /// When a value makes no sense for a room.
    pub(crate) fn check(&self) -> Result<(), AirError> {
        within("the room's volume in m³", self.volume.as_m3(), 1.0, 1e6, "1 to 1 000 000 m³")?;
        within("the room's height in m", self.height.as_m(), 1.0, 50.0, "1 to 50 m")?;
        within("the air changes an hour", self.changes.as_per_hour(), 0.0, 1000.0, "0 to 1000 an hour")?;
        within("the mixing factor", self.mixing, 0.01, 1.0, "0.01 to 1")?;
        within("the filter's share", self.filter, 0.01, 1.0, "0.01 to 1")?;
        Ok(())
    }

    /// At what rate particles leave the air, per hour: by ventilation and by settling.
    pub(crate) fn removal(&self, settling: Option<Speed>) -> f64 {
        let falls = settling.map_or(0.0, |v| v.as_m_per_s() * 3600.0 / self.height.as_m());
        self.changes.as_per_hour() * self.filter * self.mixing + falls
    }
}

/// The answer to "when is the air clean?".
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Clearing {
    /// Until the wanted share is gone; `None` when nothing takes particles out.
    pub time: Option<Duration>,
    /// At which particles leave the air.
    pub rate: PerHour,
    /// What to tell whoever reads the time.
    pub caution: String,
    /// How it was computed.
    pub explained: Explained,
}

/// Time until `removed` (0 to 1) of the particles are gone: t = ln(C₁/C₂) / (ACH·η·m + v/H).
///
/// Source: CDC/HICPAC, Guidelines for Environmental Infection Control in Health-Care Facilities (2003), appendix B,
/// table B.1, without settling; its notes give the conditions repeated in `caution`.
///
/// # Errors
/// When the room makes no sense or `removed` is not below 1.
pub fn clearing_time(room: &Room, settling: Option<Speed>, removed: f64) -> Result<Clearing, AirError> {
    room.check()?;
    within("the share removed", removed, 0.0, 1.0 - 1e-12, "0 to below 1, such as 0.99")?;
    let rate = room.removal(settling);
    let time = (rate > 0.0).then(|| Duration::hours(-(1.0 - removed).ln() / rate));
    let mut explained = Explained::new(
        "Clearing time",
        "ln(1 / (1 − share removed)) / (air changes × filter × mixing + settling speed / height)",
        "CDC/HICPAC guidelines (2003), appendix B, table B.1",
    )
    .with("share removed", format!("{:.2} %", removed * 100.0))
    .with("air changes", format!("{:.1} an hour", room.changes.as_per_hour()))
    .with("filter", format!("{:.0} %", room.filter * 100.0))
    .with("mixing factor", format!("{:.2}", room.mixing));
    if let Some(v) = settling {
        explained = explained
            .with("settling speed", format!("{:.2} mm/s", v.as_m_per_s() * 1e3))
            .with("height", format!("{:.1} m", room.height.as_m()));
    }
    let caution = "Holds for an empty room with no source of dust left and the stated mixing; corners and \
                   behind the car clear later. Count particles before trusting it."
        .into();
    Ok(Clearing { time, rate: PerHour::per_hour(rate), caution, explained })
}

/// Share of the particles still in the air after a time, 0 to 1.
///
/// # Errors
/// When the room makes no sense or the time is negative.
pub fn remaining(room: &Room, settling: Option<Speed>, after: Duration) -> Result<f64, AirError> {
    room.check()?;
    within("the time in minutes", after.as_minutes(), 0.0, 1e7, "0 or more")?;
    Ok((-room.removal(settling) * after.as_hours()).exp())
}
