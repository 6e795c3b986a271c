//! When film or coating is ready: the data sheet's table rules, the model only interpolates.

use crate::error::within;
use crate::{AirError, Humidity, JoulesPerMole, MoistAir, Reason, Ruling, Verdict};
use serde::{Deserialize, Serialize};
use units::{Duration, Explained, Temperature};

/// Gas constant, J/(mol·K): CODATA 2018, exact.
const GAS_CONSTANT: f64 = 8.314_462_618;

/// What to say beside "10 °C halves the time".
pub const Q10_CAUTION: &str =
    "\"10 °C warmer halves the time\" is a rule of thumb, no property of the product.";

/// How many times faster a reaction runs at `to` than at `from` (Arrhenius).
///
/// # Errors
/// When the activation energy is negative or a temperature is at or below −100 °C.
pub fn arrhenius_ratio(
    activation: JoulesPerMole,
    from: Temperature,
    to: Temperature,
) -> Result<f64, AirError> {
    let e = within(
        "the activation energy in J/mol",
        activation.as_j_per_mol(),
        0.0,
        1e6,
        "0 to 1 000 000 J/mol",
    )?;
    within("the first temperature in °C", from.as_celsius(), -100.0, 2000.0, "-100 to 2000 °C")?;
    within("the second temperature in °C", to.as_celsius(), -100.0, 2000.0, "-100 to 2000 °C")?;
    Ok((e / GAS_CONSTANT * (1.0 / from.as_kelvin() - 1.0 / to.as_kelvin())).exp())
}

/// One row of a data sheet.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct CureRow {
    /// Of the panel.
    pub temperature: Temperature,
    /// For products that cure by moisture.
    pub humidity: Option<Humidity>,
    /// Until the stage is reached.
    pub time: Duration,
}

/// A stage (dry to touch, first cure, fit for the road) by the data sheet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CureTable {
    /// The stage.
    pub stage: String,
    /// The sheet's rows.
    pub rows: Vec<CureRow>,
    /// Which sheet.
    pub source: String,
}

/// When the stage is reached.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CureTime {
    /// `None` when the sheet does not reach these conditions.
    pub time: Option<Duration>,
    /// May it be relied on?
    pub verdict: Verdict,
    /// How it was computed.
    pub explained: Explained,
}

/// Time until the stage under the room's air, by the sheet's rows: ln(time) runs straight in 1/T between rows, which
/// is Arrhenius with the sheet's own activation energy; for moisture-cured products ln(time) runs straight in
/// ln(humidity ratio) first. Outside the rows there is no answer: the sheet rules.
///
/// # Errors
/// When the table is empty, mixes rows with and without humidity, has two rows for the same conditions, or a time
/// that is not positive.
pub fn cure_time(table: &CureTable, air: &MoistAir) -> Result<CureTime, AirError> {
    let sheet = Sheet::read(table, air)?;
    let mut explained = Explained::new(
        format!("Time to {}", table.stage),
        if sheet.moist {
            "between the sheet's rows: ln time straight in ln humidity ratio, then in 1/T"
        } else {
            "between the sheet's rows: ln time straight in 1/T"
        },
        table.source.clone(),
    )
    .with("temperature", format!("{:.1} °C", air.temperature.as_celsius()));
    if sheet.moist {
        explained = explained
            .with("humidity ratio", format!("{:.2} g/kg", air.humidity_ratio() * 1e3))
            .with("relative humidity", format!("{:.0} %", air.humidity.as_percent()));
    }
    let (time, reason) = match sheet.time(air) {
        Ok(minutes) => {
            (Some(Duration::minutes(minutes)), (Ruling::Fit, "inside the sheet's rows".to_owned(), ""))
        }
        Err(why) => (None, (Ruling::Unfit, why, "Bring the room inside the sheet's rows, or ask the maker.")),
    };
    let verdict = Verdict::of(vec![Reason {
        ruling: reason.0,
        reason: reason.1,
        hint: reason.2.into(),
        source: table.source.clone(),
    }]);
    Ok(CureTime { time, verdict, explained })
}

/// Rows by temperature; within each, by humidity ratio.
struct Sheet {
    moist: bool,
    /// Temperature in °C; (ln humidity ratio, ln minutes), sorted.
    levels: Vec<(f64, Vec<(f64, f64)>)>,
}

impl Sheet {
    fn read(table: &CureTable, air: &MoistAir) -> Result<Self, AirError> {
        let wrong =
            |what: String| AirError::TooFew { what: format!("the table for {}: {what}", table.stage) };
        let first = table
            .rows
            .first()
            .ok_or_else(|| wrong("it has no rows: copy them from the data sheet".into()))?;
        let moist = first.humidity.is_some();
        let mut levels: Vec<(f64, Vec<(f64, f64)>)> = Vec::new();
        for row in &table.rows {
            if row.humidity.is_some() != moist {
                return Err(wrong("give a humidity in every row or in none".into()));
            }
            within(
                "a time of the cure table in minutes",
                row.time.as_minutes(),
                1e-3,
                1e7,
                "a time above 0",
            )?;
            let wetness = match row.humidity {
                Some(humidity) => MoistAir::at_pressure(row.temperature, humidity, air.pressure)?
                    .humidity_ratio()
                    .max(1e-7)
                    .ln(),
                None => 0.0,
            };
            let point = (wetness, row.time.as_minutes().ln());
            let t = row.temperature.as_celsius();
            within("a temperature of the cure table in °C", t, -40.0, 80.0, "-40 to 80 °C")?;
            match levels.iter_mut().find(|l| l.0 == t) {
                Some(level) if level.1.iter().any(|p| p.0 == wetness) => {
                    return Err(wrong(format!("two rows for the same conditions at {t:.0} °C: keep one")));
                }
                Some(level) => level.1.push(point),
                None => levels.push((t, vec![point])),
            }
        }
        levels.sort_by(|a, b| a.0.total_cmp(&b.0));
        for level in &mut levels {
            level.1.sort_by(|a, b| a.0.total_cmp(&b.0));
        }
        Ok(Self { moist, levels })
    }

    fn time(&self, air: &MoistAir) -> Result<f64, String> {
        let t = air.temperature.as_celsius();
        let wetness = air.humidity_ratio().max(1e-7).ln();
        let inverse = |celsius: f64| -1.0 / (celsius + 273.15);
        let [below, above] = bracket(&self.levels, t).ok_or_else(|| {
            format!(
                "{t:.1} °C is outside the sheet's {:.0} to {:.0} °C",
                self.levels[0].0,
                self.levels[self.levels.len() - 1].0
            )
        })?;
        let at = |level: &(f64, Vec<(f64, f64)>)| -> Result<f64, String> {
            if !self.moist {
                return Ok(level.1[0].1);
            }
            let [a, b] = bracket(&level.1, wetness).ok_or_else(|| {
                format!(
                    "the air's {:.1} g/kg of water is outside the sheet's rows at {:.0} °C",
                    wetness.exp() * 1e3,
                    level.0
                )
            })?;
            Ok(between((a.0, a.1), (b.0, b.1), wetness))
        };
        let (low, high) = (at(below)?, at(above)?);
        Ok(between((inverse(below.0), low), (inverse(above.0), high), inverse(t)).exp())
    }
}

/// The rows on both sides of `x` (the same row twice when it is hit); `None` outside.
fn bracket<T>(rows: &[(f64, T)], x: f64) -> Option<[&(f64, T); 2]> {
    // a hair of room, so that a row's own conditions count as inside after conversion
    let hair = 1e-9;
    let below = rows.iter().rev().find(|r| r.0 <= x + hair)?;
    let above = rows.iter().find(|r| r.0 >= x - hair)?;
    Some([below, above])
}

fn between(a: (f64, f64), b: (f64, f64), x: f64) -> f64 {
    if (b.0 - a.0).abs() < 1e-15 { a.1 } else { a.1 + (b.1 - a.1) * (x - a.0) / (b.0 - a.0) }
}
