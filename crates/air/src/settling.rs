//! How fast dust falls.

use crate::error::within;
use crate::{AirError, Density, Speed};
use serde::{Deserialize, Serialize};
use units::Thickness;

/// Air at 20 °C and one atmosphere, as aerosol tables take it.
const VISCOSITY: f64 = 1.81e-5;
const AIR_DENSITY: f64 = 1.20;
const MEAN_FREE_PATH_UM: f64 = 0.066;
const GRAVITY: f64 = 9.81;

/// How a particle falls through still air.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Settling {
    /// Cunningham slip factor: above 1, matters below 1 µm.
    pub slip: f64,
    /// Stokes' law with slip.
    pub stokes: Speed,
    /// With the drag of larger particles; the one to use.
    pub speed: Speed,
    /// Reynolds number at `speed`.
    pub reynolds: f64,
}

/// Terminal speed of a sphere in still air of 20 °C.
///
/// Slip: Hinds, Aerosol Technology, 2nd ed., eq. 3.20. Drag: Clift and Gauvin (1971), solved by bisection.
///
/// # Errors
/// Outside 0.001 to 1000 µm or 1 to 20 000 kg/m³.
pub fn settling(diameter: Thickness, density: Density) -> Result<Settling, AirError> {
    let um = within("the particle's diameter in µm", diameter.as_um(), 1e-3, 1e3, "0.001 to 1000 µm")?;
    let rho = within(
        "the particle's density in kg/m³",
        density.as_kg_per_m3(),
        1.0,
        2e4,
        "1 to 20 000 kg/m³ (water 1000)",
    )?;
    let d = um * 1e-6;
    let ratio = MEAN_FREE_PATH_UM / um;
    let slip = 1.0 + ratio * (2.34 + 1.05 * (-0.39 / ratio).exp());
    let stokes = rho * d * d * GRAVITY * slip / (18.0 * VISCOSITY);
    let weight = rho * std::f64::consts::PI / 6.0 * d.powi(3) * GRAVITY;
    let drag = |v: f64| {
        let re = AIR_DENSITY * v * d / VISCOSITY;
        let cd = 24.0 / re * (1.0 + 0.15 * re.powf(0.687)) + 0.42 / (1.0 + 42_500.0 * re.powf(-1.16));
        cd * 0.5 * AIR_DENSITY * v * v * std::f64::consts::FRAC_PI_4 * d * d / slip
    };
    let (mut low, mut high) = (0.0, stokes);
    for _ in 0..100 {
        let middle = 0.5 * (low + high);
        if drag(middle) < weight { low = middle } else { high = middle }
    }
    let speed = 0.5 * (low + high);
    Ok(Settling {
        slip,
        stokes: Speed::m_per_s(stokes),
        speed: Speed::m_per_s(speed),
        reynolds: AIR_DENSITY * speed * d / VISCOSITY,
    })
}
