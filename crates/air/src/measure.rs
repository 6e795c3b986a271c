//! Quantities that only the air knows. Each field is private and every door names its unit.

use crate::AirError;
use crate::error::within;
use serde::{Deserialize, Serialize};

macro_rules! measure {
    ($(#[$meta:meta])* $name:ident, $from:ident, $to:ident, $unit:literal) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(f64);

        #[allow(clippy::self_named_constructors, reason = "the door is named by its unit")]
        impl $name {
            #[doc = concat!("From a number of ", $unit, ".")]
            pub const fn $from(value: f64) -> Self {
                Self(value)
            }

            #[doc = concat!("As a number of ", $unit, ".")]
            pub const fn $to(self) -> f64 {
                self.0
            }
        }
    };
}

measure!(
    /// A pressure; kept in pascals.
    Pressure, pa, as_pa, "pascals"
);
measure!(
    /// A part by volume in the air; kept in parts per million.
    Ppm, ppm, as_ppm, "parts per million by volume"
);
measure!(
    /// A rate; kept per hour. For rooms: air changes an hour.
    PerHour, per_hour, as_per_hour, "times an hour"
);
measure!(
    /// A speed; kept in meters a second.
    Speed, m_per_s, as_m_per_s, "meters a second"
);
measure!(
    /// A count of particles in the air; kept per cubic meter.
    PerCubicMeter, per_m3, as_per_m3, "particles a cubic meter"
);
measure!(
    /// A count of particles on a surface; kept per square meter.
    PerSquareMeter, per_m2, as_per_m2, "particles a square meter"
);
measure!(
    /// A mass per volume; kept in kilograms a cubic meter.
    Density, kg_per_m3, as_kg_per_m3, "kilograms a cubic meter"
);
measure!(
    /// A mass of vapor in the air; kept in milligrams a cubic meter.
    MassConcentration, mg_per_m3, as_mg_per_m3, "milligrams a cubic meter"
);
measure!(
    /// A mass per mole; kept in grams.
    MolarMass, g_per_mol, as_g_per_mol, "grams a mole"
);
measure!(
    /// A difference of temperature; kept in kelvins.
    Kelvins, kelvins, as_kelvins, "kelvins"
);
measure!(
    /// An activation energy; kept in joules a mole.
    JoulesPerMole, j_per_mol, as_j_per_mol, "joules a mole"
);

impl Pressure {
    /// The standard atmosphere, 101 325 Pa.
    pub const STANDARD: Self = Self(101_325.0);

    /// The standard atmosphere's pressure at a height over the sea: ASHRAE Handbook, Fundamentals, chapter 1, eq. 3.
    ///
    /// # Errors
    /// Outside −5000 m to 11 000 m, where the formula holds.
    pub fn at_altitude(height: units::Length) -> Result<Self, AirError> {
        let z = within(
            "the altitude in meters",
            height.as_m(),
            -5000.0,
            11_000.0,
            "a height from -5000 to 11 000 m",
        )?;
        Ok(Self(101_325.0 * (1.0 - 2.255_77e-5 * z).powf(5.2559)))
    }
}

impl Density {
    /// Water, and the "unit density" of aerosol tables.
    pub const UNIT: Self = Self(1000.0);
}

/// Relative humidity, 0 to 1.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Humidity(f64);

impl Humidity {
    /// From a whole number of percent; more than 100 counts as 100. For constants.
    pub const fn whole_percent(percent: u8) -> Self {
        Self(if percent > 100 { 1.0 } else { percent as f64 / 100.0 })
    }

    /// From a fraction, 0 to 1.
    ///
    /// # Errors
    /// Outside that.
    pub fn fraction(value: f64) -> Result<Self, AirError> {
        within("the relative humidity", value, 0.0, 1.0, "0 to 1 (0 to 100 %)").map(Self)
    }

    /// From percent, 0 to 100.
    ///
    /// # Errors
    /// Outside that.
    pub fn percent(value: f64) -> Result<Self, AirError> {
        within("the relative humidity in percent", value, 0.0, 100.0, "0 to 100 %").map(|p| Self(p / 100.0))
    }

    /// As a fraction.
    pub const fn as_fraction(self) -> f64 {
        self.0
    }

    /// As percent.
    pub const fn as_percent(self) -> f64 {
        self.0 * 100.0
    }
}

impl TryFrom<f64> for Humidity {
    type Error = AirError;
    fn try_from(value: f64) -> Result<Self, AirError> {
        Self::fraction(value)
    }
}

impl From<Humidity> for f64 {
    fn from(humidity: Humidity) -> f64 {
        humidity.0
    }
}
