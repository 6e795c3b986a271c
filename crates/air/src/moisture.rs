//! Is the surface dry enough for film or coating?

use crate::{AirError, Humidity, Kelvins, MoistAir, Reason, Ruling, Verdict};
use serde::{Deserialize, Serialize};
use units::{Explained, Temperature};

/// The conditions a product's data sheet asks for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ProductWindow {
    /// The product, as the shop calls it.
    pub product: String,
    /// Coolest and warmest air and surface.
    pub temperature: (Temperature, Temperature),
    /// Driest and dampest air.
    pub humidity: (Humidity, Humidity),
    /// Where these numbers come from.
    pub source: String,
}

impl ProductWindow {
    /// Where film is laid: 18 to 25 °C, 40 to 60 % (common practice, no source).
    pub fn film_room() -> Self {
        Self {
            product: "film".into(),
            temperature: (Temperature::celsius(18.0), Temperature::celsius(25.0)),
            humidity: (Humidity::whole_percent(40), Humidity::whole_percent(60)),
            source: "common practice, no source".into(),
        }
    }
}

/// Whether the surface is safely over the dew point and the air inside the product's window.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MoistureCheck {
    /// Of the room's air; `None` when the air is perfectly dry.
    pub dew_point: Option<Temperature>,
    /// The coolest surface that may be worked on.
    pub least_surface: Option<Temperature>,
    /// How far the surface lies over the dew point.
    pub margin: Option<Kelvins>,
    /// May the work go on?
    pub verdict: Verdict,
    /// How the figures were computed.
    pub explained: Vec<Explained>,
}

/// How far a surface must lie over the dew point, in kelvins.
const MARGIN: f64 = 3.0;
const MARGIN_SOURCE: &str =
    "ISO 8502-4:2017 (scope read in the standard's preview; the 3 °C in pages that quote it)";

/// Checks the surface against the dew point plus 3 °C, and air and surface against the product's window.
///
/// # Errors
/// When the surface temperature is outside −40 to 120 °C, or a window stands on its head.
pub fn check_moisture(
    air: &MoistAir,
    surface: Temperature,
    window: Option<&ProductWindow>,
) -> Result<MoistureCheck, AirError> {
    crate::error::within(
        "the surface temperature in °C",
        surface.as_celsius(),
        -40.0,
        120.0,
        "-40 to 120 °C",
    )?;
    let dew_point = air.dew_point();
    let least_surface = dew_point.map(|d| Temperature::celsius(d.as_celsius() + MARGIN));
    let margin = dew_point.map(|d| Kelvins::kelvins(surface.as_celsius() - d.as_celsius()));
    let mut reasons = vec![over_dew_point(surface, dew_point)];
    if let Some(window) = window {
        reasons.extend(inside_window(air, surface, window)?);
    }
    let figure =
        |t: Option<Temperature>| t.map_or("none: dry air".into(), |t| format!("{:.1} °C", t.as_celsius()));
    let explained = vec![
        Explained::new(
            "Dew point",
            "the temperature whose saturation pressure equals humidity × saturation pressure of the air",
            "ASHRAE Handbook, Fundamentals, chapter 1",
        )
        .with("air", format!("{:.1} °C", air.temperature.as_celsius()))
        .with("relative humidity", format!("{:.0} %", air.humidity.as_percent()))
        .with("pressure", format!("{:.0} Pa", air.pressure.as_pa()))
        .with("dew point", figure(dew_point)),
        Explained::new("Coolest surface", "dew point + 3 °C", MARGIN_SOURCE)
            .with("dew point", figure(dew_point))
            .with("surface", format!("{:.1} °C", surface.as_celsius())),
    ];
    Ok(MoistureCheck { dew_point, least_surface, margin, verdict: Verdict::of(reasons), explained })
}

fn over_dew_point(surface: Temperature, dew_point: Option<Temperature>) -> Reason {
    let Some(dew) = dew_point.map(Temperature::as_celsius) else {
        return Reason {
            ruling: Ruling::Fit,
            reason: "perfectly dry air has no dew point".into(),
            hint: String::new(),
            source: MARGIN_SOURCE.into(),
        };
    };
    let s = surface.as_celsius();
    let margin = s - dew;
    let (ruling, hint) = if margin >= MARGIN {
        (Ruling::Fit, String::new())
    } else {
        (
            Ruling::Unfit,
            format!(
                "Warm the panel to at least {:.1} °C, or dry the air; water may stand on it unseen.",
                round_up(dew + MARGIN)
            ),
        )
    };
    let reason =
        format!("surface {s:.1} °C, dew point {dew:.1} °C: {margin:.1} K over it, {MARGIN:.0} K wanted");
    Reason { ruling, reason, hint, source: MARGIN_SOURCE.into() }
}

/// To the next tenth of a degree, so that following the hint is enough.
fn round_up(celsius: f64) -> f64 {
    (celsius * 10.0).ceil() / 10.0
}

fn inside_window(
    air: &MoistAir,
    surface: Temperature,
    window: &ProductWindow,
) -> Result<[Reason; 3], AirError> {
    if window.temperature.0 > window.temperature.1 || window.humidity.0 > window.humidity.1 {
        return Err(AirError::Range {
            what: "the product's window",
            got: format!("turned round for {}", window.product),
            allowed: "the lower value first",
        });
    }
    let rule = |what: &str, unit: &str, value: f64, low: f64, high: f64, less: &str, more: &str| {
        let (ruling, hint) = if value < low {
            (Ruling::Unfit, format!("{more} to at least {low:.0} {unit}."))
        } else if value > high {
            (Ruling::Unfit, format!("{less} to at most {high:.0} {unit}."))
        } else {
            (Ruling::Fit, String::new())
        };
        Reason {
            ruling,
            reason: format!("{what} {value:.1} {unit}, {} wants {low:.0} to {high:.0}", window.product),
            hint,
            source: window.source.clone(),
        }
    };
    let (low, high) = (window.temperature.0.as_celsius(), window.temperature.1.as_celsius());
    let (dry, damp) = (window.humidity.0.as_percent(), window.humidity.1.as_percent());
    Ok([
        rule("air", "°C", air.temperature.as_celsius(), low, high, "Cool the room", "Heat the room"),
        rule("surface", "°C", surface.as_celsius(), low, high, "Let the panel cool", "Warm the panel"),
        rule("humidity", "%", air.humidity.as_percent(), dry, damp, "Dry the air", "Dampen the air"),
    ])
}
