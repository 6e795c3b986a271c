//! Moist air: ASHRAE Handbook, Fundamentals (2017), chapter 1.

use crate::error::within;
use crate::{AirError, Humidity, Pressure};
use serde::{Deserialize, Serialize};
use units::Temperature;

/// The air of a room.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct MoistAir {
    /// By a dry thermometer.
    pub temperature: Temperature,
    /// Relative humidity.
    pub humidity: Humidity,
    /// Of the atmosphere.
    pub pressure: Pressure,
}

/// Where water, ice and vapor meet, in °C.
const TRIPLE_POINT: f64 = 0.01;
/// Molar mass of water over that of dry air.
const MASS_RATIO: f64 = 0.621_945;

/// Pressure of water vapor over water, or over ice below the triple point (equations 5 and 6).
///
/// # Errors
/// Outside −100 to 200 °C, where the equations hold.
pub fn saturation_pressure(temperature: Temperature) -> Result<Pressure, AirError> {
    within("the temperature in °C", temperature.as_celsius(), -100.0, 200.0, "-100 to 200 °C")?;
    Ok(Pressure::pa(saturation_pa(temperature.as_celsius())))
}

impl MoistAir {
    /// Air at the standard atmosphere.
    ///
    /// # Errors
    /// Outside −40 to 80 °C, wider than any workshop.
    pub fn new(temperature: Temperature, humidity: Humidity) -> Result<Self, AirError> {
        Self::at_pressure(temperature, humidity, Pressure::STANDARD)
    }

    /// Air at a pressure read or taken from the altitude.
    ///
    /// # Errors
    /// Outside −40 to 80 °C or 50 to 110 kPa.
    pub fn at_pressure(
        temperature: Temperature,
        humidity: Humidity,
        pressure: Pressure,
    ) -> Result<Self, AirError> {
        within("the air temperature in °C", temperature.as_celsius(), -40.0, 80.0, "-40 to 80 °C")?;
        within("the air pressure in Pa", pressure.as_pa(), 50_000.0, 110_000.0, "50 000 to 110 000 Pa")?;
        Ok(Self { temperature, humidity, pressure })
    }

    /// Pressure of the water vapor in it (equation 22).
    pub fn vapor_pressure(&self) -> Pressure {
        Pressure::pa(self.humidity.as_fraction() * saturation_pa(self.temperature.as_celsius()))
    }

    /// Mass of water per mass of dry air, kg/kg (equation 20).
    pub fn humidity_ratio(&self) -> f64 {
        humidity_ratio(self.vapor_pressure().as_pa(), self.pressure.as_pa())
    }

    /// The temperature at which it would be saturated. Perfectly dry air has none: `None`.
    pub fn dew_point(&self) -> Option<Temperature> {
        let p = self.vapor_pressure().as_pa();
        if p <= saturation_pa(-100.0) {
            return None;
        }
        let (mut low, mut high) = (-100.0, self.temperature.as_celsius());
        while high - low > 1e-9 {
            let middle = 0.5 * (low + high);
            if saturation_pa(middle) < p { low = middle } else { high = middle }
        }
        Some(Temperature::celsius(0.5 * (low + high)))
    }

    /// What a wetted thermometer reads (equations 33 and 35, solved by bisection).
    pub fn wet_bulb(&self) -> Temperature {
        let t = self.temperature.as_celsius();
        let wanted = self.humidity_ratio();
        let (mut low, mut high) = (self.dew_point().map_or(-100.0, Temperature::as_celsius), t);
        while high - low > 1e-9 {
            let middle = 0.5 * (low + high);
            if self.ratio_of_wet_bulb(middle) < wanted { low = middle } else { high = middle }
        }
        Temperature::celsius(0.5 * (low + high))
    }

    fn ratio_of_wet_bulb(&self, wet: f64) -> f64 {
        let t = self.temperature.as_celsius();
        let saturated = humidity_ratio(saturation_pa(wet), self.pressure.as_pa());
        if wet >= 0.0 {
            ((2501.0 - 2.326 * wet) * saturated - 1.006 * (t - wet)) / (2501.0 + 1.86 * t - 4.186 * wet)
        } else {
            ((2830.0 - 0.24 * wet) * saturated - 1.006 * (t - wet)) / (2830.0 + 1.86 * t - 2.1 * wet)
        }
    }
}

fn humidity_ratio(vapor: f64, pressure: f64) -> f64 {
    MASS_RATIO * vapor / (pressure - vapor)
}

/// Equations 5 (ice) and 6 (water); °C in, Pa out.
fn saturation_pa(celsius: f64) -> f64 {
    let t = celsius + 273.15;
    let ln_p = if celsius <= TRIPLE_POINT {
        -5.674_535_9e3 / t
            + 6.392_524_7
            + t * (-9.677_843e-3 + t * (6.221_570_1e-7 + t * (2.074_782_5e-9 - 9.484_024e-13 * t)))
            + 4.163_501_9 * t.ln()
    } else {
        -5.800_220_6e3 / t
            + 1.391_499_3
            + t * (-4.864_023_9e-2 + t * (4.176_476_8e-5 - 1.445_209_3e-8 * t))
            + 6.545_967_3 * t.ln()
    };
    ln_p.exp()
}
