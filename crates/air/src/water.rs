//! Water for washing and for film: hardness in its many units, and whether distilled water is what it says.

use crate::error::within;
use crate::{AirError, Reason, Ruling, Verdict};
use serde::{Deserialize, Serialize};

/// Hardness of water; kept as milligrams of calcium carbonate a liter.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Hardness(f64);

/// Molar masses of calcium carbonate, calcium oxide, calcium and magnesium, g/mol.
const CACO3: f64 = 100.0869;
const CAO: f64 = 56.0774;
const CA: f64 = 40.078;
const MG: f64 = 24.305;
/// A grain in mg and a US gallon in L (NIST SP 811, exact).
const GRAIN: f64 = 64.798_91;
const US_GALLON: f64 = 3.785_411_784;

impl Hardness {
    /// From mg/L of calcium carbonate, also written ppm.
    pub const fn mg_per_l(value: f64) -> Self {
        Self(value)
    }
    /// As mg/L of calcium carbonate.
    pub const fn as_mg_per_l(self) -> f64 {
        self.0
    }
    /// From grains a US gallon.
    pub const fn grains(value: f64) -> Self {
        Self(value * GRAIN / US_GALLON)
    }
    /// As grains a US gallon.
    pub const fn as_grains(self) -> f64 {
        self.0 * US_GALLON / GRAIN
    }
    /// From German degrees: 10 mg of calcium oxide a liter each.
    pub const fn german(value: f64) -> Self {
        Self(value * 10.0 * CACO3 / CAO)
    }
    /// As German degrees.
    pub const fn as_german(self) -> f64 {
        self.0 * CAO / CACO3 / 10.0
    }
    /// From French degrees: 10 mg of calcium carbonate a liter each.
    pub const fn french(value: f64) -> Self {
        Self(value * 10.0)
    }
    /// From an analysis: mg of calcium and of magnesium a liter.
    pub const fn ions_mg_per_l(calcium: f64, magnesium: f64) -> Self {
        Self(calcium * CACO3 / CA + magnesium * CACO3 / MG)
    }

    /// The class by the US Geological Survey: soft to 60, moderately hard to 120, hard to 180, very hard above.
    pub fn class(self) -> &'static str {
        match self.0 {
            h if h <= 60.0 => "soft",
            h if h <= 120.0 => "moderately hard",
            h if h <= 180.0 => "hard",
            _ => "very hard",
        }
    }
}

/// Electric conductivity of water at 25 °C; kept in microsiemens a centimeter.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Conductivity(f64);

impl Conductivity {
    /// From µS/cm.
    pub const fn us_per_cm(value: f64) -> Self {
        Self(value)
    }
    /// As µS/cm.
    pub const fn as_us_per_cm(self) -> f64 {
        self.0
    }
}

/// Whether water is as pure as distilled water should be: at most 5 µS/cm, ISO 3696 grade 3 and ASTM D1193 type IV.
/// Up to 20 is a caution (common practice, no source): residue dries to spots under film.
///
/// # Errors
/// When the reading is negative or above 100 000 µS/cm.
pub fn check_distilled(reading: Conductivity) -> Result<Verdict, AirError> {
    let c = within("the conductivity in µS/cm", reading.0, 0.0, 1e5, "0 to 100 000 µS/cm")?;
    let (ruling, hint) = match c {
        c if c <= 5.0 => (Ruling::Fit, ""),
        c if c <= 20.0 => {
            (Ruling::Caution, "Take a fresh bottle, or rinse sprayer and bucket and measure again.")
        }
        _ => (Ruling::Unfit, "This is not distilled water: take another before mixing slip solution."),
    };
    Ok(Verdict::of(vec![Reason {
        ruling,
        reason: format!("{c:.1} µS/cm, at most 5 wanted"),
        hint: hint.into(),
        source: "ASTM D1193 (scope page read), ISO 3696:1987 (quoted)".into(),
    }]))
}
