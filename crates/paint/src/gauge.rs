//! The gauge itself: calibration foils and gauge studies.

use crate::readings::{Reading, Rejected};
use crate::settings::{GaugeSettings, Spread};
use crate::table::{Table, thickness};
use serde::{Deserialize, Serialize};
use stats::{GaugeMethod, GaugeReading, StatsError, by_anova, by_average_range, summary};
use std::collections::BTreeMap;
use units::Thickness;

/// One reading of a calibration foil on bare metal.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Foil {
    /// Thickness written on the foil.
    pub nominal: Thickness,
    /// What the gauge said.
    pub read: Thickness,
}

/// What the foils say about a gauge.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct GaugeCheck {
    /// Offset of the gauge (it reads this much too high), with its standard error.
    pub offset: Spread,
    /// Standard deviation of repeats on one foil; of all differences where no foil was read twice.
    pub repeatability: Thickness,
    /// Number of foil readings.
    pub n: usize,
}

/// Offset and repeatability from readings of calibration foils.
///
/// # Errors
/// On fewer than three readings, or one that is not finite.
pub fn check_gauge(foils: &[Foil]) -> Result<GaugeCheck, StatsError> {
    if foils.len() < 3 {
        return Err(StatsError::TooFew { needed: 3, got: foils.len() });
    }
    let differences: Vec<f64> = foils.iter().map(|f| (f.read - f.nominal).as_um()).collect();
    let all = summary(&differences)?;
    // Repeats of one foil: their scatter is the gauge's; between foils the foils' own errors add.
    let mut by_foil: BTreeMap<u64, Vec<f64>> = BTreeMap::new();
    for foil in foils {
        by_foil.entry(foil.nominal.as_um().to_bits()).or_default().push(foil.read.as_um());
    }
    let (mut squares, mut df) = (0.0, 0usize);
    for repeats in by_foil.values().filter(|r| r.len() > 1) {
        let s = summary(repeats)?;
        squares += s.sd * s.sd * (s.n - 1) as f64;
        df += s.n - 1;
    }
    let repeatability = if df > 0 { (squares / df as f64).sqrt() } else { all.sd };
    Ok(GaugeCheck {
        offset: Spread::um(all.mean, all.sd / (all.n as f64).sqrt()),
        repeatability: Thickness::um(repeatability),
        n: all.n,
    })
}

/// An offset is never taken to be known better than this: the gauge drifts over a job. Common practice, no source.
const DRIFT_UM: f64 = 0.3;

impl GaugeCheck {
    /// The reading without the gauge's offset.
    pub fn corrected(&self, reading: &Reading) -> Reading {
        Reading { value: reading.value - self.offset.mean, ..reading.clone() }
    }

    /// The settings with what the foils showed: the offset's uncertainty, and a repeatability that is
    /// raised where the foils scatter more than the settings say (it is not lowered: foils lie on flat,
    /// bare metal, paint does not).
    pub fn applied(&self, gauge: &GaugeSettings) -> GaugeSettings {
        GaugeSettings {
            offset_sd: Thickness::um(self.offset.sd.as_um().hypot(DRIFT_UM)),
            fixed: gauge.fixed.max(self.repeatability),
            ..*gauge
        }
    }
}

/// One reading of a gauge study.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StudyReading {
    /// Who read.
    pub operator: String,
    /// What was read: a part, a foil, a marked spot.
    pub part: String,
    /// The reading.
    pub value: Thickness,
}

/// What a gauge study found by one method.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct StudyResult {
    /// The method, in words.
    pub method: String,
    /// Repeatability: one person, one spot, again (standard deviation).
    pub repeatability: Thickness,
    /// Reproducibility: person to person (standard deviation).
    pub reproducibility: Thickness,
    /// Both together.
    pub gauge: Thickness,
    /// Part to part.
    pub part: Thickness,
    /// Everything.
    pub total: Thickness,
    /// Gauge as a share of everything.
    pub share: f64,
    /// Number of classes of thickness the gauge can tell apart.
    pub categories: u32,
}

/// Evaluates a gauge study of any complete size by both published methods, which differ: analysis of
/// variance first, averages and ranges second.
///
/// # Errors
/// Unless every operator read every part the same number of times: at least 2 × 2 × 2.
pub fn gauge_study(readings: &[StudyReading]) -> Result<[StudyResult; 2], StatsError> {
    let plain: Vec<GaugeReading> = readings
        .iter()
        .map(|r| GaugeReading { operator: r.operator.clone(), part: r.part.clone(), value: r.value.as_um() })
        .collect();
    let result = |s: stats::GaugeStudy| StudyResult {
        method: match s.method {
            GaugeMethod::Anova => "analysis of variance, interaction kept",
            GaugeMethod::AnovaPooled => "analysis of variance, interaction pooled (p > 0.25)",
            GaugeMethod::AverageRange => "averages and ranges",
        }
        .to_owned(),
        repeatability: Thickness::um(s.repeatability),
        reproducibility: Thickness::um(s.reproducibility),
        gauge: Thickness::um(s.gauge),
        part: Thickness::um(s.part),
        total: Thickness::um(s.total),
        share: s.share,
        categories: s.categories as u32,
    };
    Ok([result(by_anova(&plain)?), result(by_average_range(&plain)?)])
}

/// Reads a CSV of calibration foils: columns `nominal_um` and `read_um` (or `_mil`), in any order, either decimal mark.
/// A bad row is named by its line and left out.
pub fn parse_foils(text: &str) -> (Vec<Foil>, Vec<Rejected>) {
    rows(text, "nominal_um,read_um", |table| {
        let (nominal, read) = (needed(table, "nominal")?, needed(table, "read")?);
        Ok(move |row: &csv::StringRecord| {
            Ok(Foil {
                nominal: thickness(row.get(nominal.0).unwrap_or(""), "nominal", nominal.1)?,
                read: thickness(row.get(read.0).unwrap_or(""), "read", read.1)?,
            })
        })
    })
}

/// Reads a CSV of a gauge study: columns `operator`, `part` and `reading_um` (or `reading_mil`), in any order, either
/// decimal mark. A bad row is named by its line and left out.
pub fn parse_study(text: &str) -> (Vec<StudyReading>, Vec<Rejected>) {
    rows(text, "operator,part,reading_um", |table| {
        let column =
            |name: &str| table.find(name).ok_or_else(|| format!("the header has no column `{name}`"));
        let (operator, part, reading) = (column("operator")?, column("part")?, needed(table, "reading")?);
        Ok(move |row: &csv::StringRecord| {
            let named = |at: usize, what: &str| match row.get(at).unwrap_or("") {
                "" => Err(format!("no {what} named")),
                name => Ok(name.to_owned()),
            };
            Ok(StudyReading {
                operator: named(operator, "operator")?,
                part: named(part, "part")?,
                value: thickness(row.get(reading.0).unwrap_or(""), "reading", reading.1)?,
            })
        })
    })
}

fn needed(table: &Table, name: &str) -> Result<(usize, f64), String> {
    table
        .thickness(name, None)?
        .ok_or_else(|| format!("the header has no column `{name}_um` or `{name}_mil`"))
}

/// Rows of a file by a reader that is made from its header.
fn rows<T, R: Fn(&csv::StringRecord) -> Result<T, String>>(
    text: &str,
    example: &str,
    reader: impl FnOnce(&Table) -> Result<R, String>,
) -> (Vec<T>, Vec<Rejected>) {
    let table = match Table::read(text, example) {
        Ok(table) => table,
        Err(rejected) => return (Vec::new(), vec![rejected]),
    };
    let read = match reader(&table) {
        Ok(read) => read,
        Err(reason) => return (Vec::new(), vec![Rejected { line: 1, reason }]),
    };
    let (mut kept, mut rejected) = (Vec::new(), table.rejected.clone());
    for (line, row) in &table.rows {
        match table.fits(row).and_then(|()| read(row)) {
            Ok(one) => kept.push(one),
            Err(reason) => rejected.push(Rejected { line: *line, reason }),
        }
    }
    rejected.sort_by_key(|r| r.line);
    (kept, rejected)
}
