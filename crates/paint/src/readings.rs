//! Readings of the gauge, typed or read from CSV.

use crate::table::{Table, UM_PER_MIL, number, thickness};
use serde::{Deserialize, Serialize};
use units::Thickness;

/// What the paint lies on: decides whether a gauge can read at all.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Substrate {
    /// Steel: magnetic gauges read it.
    Steel,
    /// Aluminum: eddy-current gauges read it.
    Aluminum,
    /// Plastic: no electronic gauge for metal reads it.
    Plastic,
    /// Fiber composite: as plastic.
    Composite,
    /// Not stated.
    #[default]
    Unknown,
}

impl Substrate {
    /// Whether a magnetic or eddy-current gauge can read total thickness on it.
    pub fn can_be_read(self) -> bool {
        !matches!(self, Self::Plastic | Self::Composite)
    }
}

/// One reading of total thickness, perhaps with a layered (ultrasonic) reading of the clear coat.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// The panel it was taken on.
    pub panel: String,
    /// Place on the panel's drawing: `u` across, `v` down, both 0 to 1. `None`: somewhere on the panel.
    pub at: Option<(f64, f64)>,
    /// Total thickness read.
    pub value: Thickness,
    /// Name of the spot; readings of one spot are repeats.
    #[serde(default)]
    pub spot: Option<String>,
    /// Number of the repeat at its spot.
    #[serde(default)]
    pub repeat: Option<u32>,
    /// Name of the gauge.
    #[serde(default)]
    pub gauge: Option<String>,
    /// When it was taken, as written in the file.
    #[serde(default)]
    pub time: Option<String>,
    /// What lies beneath.
    #[serde(default)]
    pub substrate: Substrate,
    /// Clear coat alone, where a layered (ultrasonic) gauge gave it.
    #[serde(default)]
    pub clear: Option<Thickness>,
}

/// The unit of a `reading` column that does not name its own.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Unit {
    /// Micrometers.
    #[default]
    Micrometers,
    /// Mils, thousandths of an inch.
    Mils,
}

/// What holds for a row that does not say otherwise.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Defaults {
    /// Unit of a bare `reading` column.
    pub unit: Unit,
    /// Substrate of a row without one.
    pub substrate: Substrate,
    /// Gauge of a row without one.
    pub gauge: Option<String>,
}

/// A row that was left out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Rejected {
    /// Line of the file, the header being line 1.
    pub line: u64,
    /// What is wrong and what to do.
    pub reason: String,
}

/// What a file of readings holds.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Imported {
    /// Rows kept, in the order of the file.
    pub readings: Vec<Reading>,
    /// The line of each row kept, the header being line 1.
    pub lines: Vec<u64>,
    /// Rows left out, each with its line and reason.
    pub rejected: Vec<Rejected>,
}

/// Reads a CSV of readings.
///
/// A header in any order names the columns: `panel`, `u`, `v`, and one of `reading_um`, `reading_mil`
/// or `reading` (in the default unit); optional `spot`, `repeat`, `gauge`, `time`, `substrate`,
/// `clear_um` or `clear_mil`. Separator comma, semicolon or tab; decimal point or comma. `u` and `v`
/// may be empty together. A bad row is named by its line and left out; the rest is kept.
pub fn parse_csv(text: &str, defaults: &Defaults) -> Imported {
    let mut imported = Imported::default();
    let table = match Table::read(text, "panel,u,v,reading_um") {
        Ok(table) => table,
        Err(rejected) => {
            imported.rejected.push(rejected);
            return imported;
        }
    };
    imported.rejected.extend(table.rejected.iter().cloned());
    let columns = match Columns::of(&table, defaults) {
        Ok(columns) => columns,
        Err(reason) => {
            imported.rejected.push(Rejected { line: 1, reason });
            return imported;
        }
    };
    for (line, row) in &table.rows {
        match table.fits(row).and_then(|()| columns.reading(row, defaults)) {
            Ok(reading) => {
                imported.readings.push(reading);
                imported.lines.push(*line);
            }
            Err(reason) => imported.rejected.push(Rejected { line: *line, reason }),
        }
    }
    imported.rejected.sort_by_key(|r| r.line);
    imported
}

/// Where each column stands.
struct Columns {
    panel: usize,
    place: Option<(usize, usize)>,
    reading: (usize, f64),
    clear: Option<(usize, f64)>,
    spot: Option<usize>,
    repeat: Option<usize>,
    gauge: Option<usize>,
    time: Option<usize>,
    substrate: Option<usize>,
}

impl Columns {
    fn of(table: &Table, defaults: &Defaults) -> Result<Self, String> {
        let find = |name: &str| table.find(name);
        let default_um = match defaults.unit {
            Unit::Micrometers => 1.0,
            Unit::Mils => UM_PER_MIL,
        };
        let panel = find("panel")
            .ok_or("the header has no column `panel`; it needs at least panel,u,v,reading_um")?;
        let reading = table
            .thickness("reading", Some(default_um))?
            .ok_or("the header has no column `reading_um` or `reading_mil`")?;
        let clear = table.thickness("clear", Some(default_um))?;
        let place = match (find("u"), find("v")) {
            (Some(u), Some(v)) => Some((u, v)),
            (None, None) => None,
            _ => return Err("the header has only one of the columns `u` and `v`; give both or none".into()),
        };
        Ok(Self {
            panel,
            place,
            reading,
            clear,
            spot: find("spot"),
            repeat: find("repeat"),
            gauge: find("gauge"),
            time: find("time"),
            substrate: find("substrate"),
        })
    }

    fn reading(&self, row: &csv::StringRecord, defaults: &Defaults) -> Result<Reading, String> {
        let text = |at: usize| row.get(at).unwrap_or("");
        let optional = |at: Option<usize>| at.map(text).filter(|t| !t.is_empty()).map(str::to_owned);
        let panel = text(self.panel);
        if panel.is_empty() {
            return Err("no panel named".into());
        }
        let at = match self.place {
            Some((u, v)) if !(text(u).is_empty() && text(v).is_empty()) => {
                Some((share(text(u), "u")?, share(text(v), "v")?))
            }
            _ => None,
        };
        let value = thickness(text(self.reading.0), "reading", self.reading.1)?;
        let clear = match self.clear {
            Some((at, um)) if !text(at).is_empty() => Some(thickness(text(at), "clear", um)?),
            _ => None,
        };
        if clear.is_some_and(|c| c > value) {
            return Err("clear coat thicker than the total; check the two columns".into());
        }
        let repeat = match optional(self.repeat) {
            Some(t) => Some(t.parse().map_err(|_| format!("repeat `{t}` is not a whole number"))?),
            None => None,
        };
        let substrate = match optional(self.substrate) {
            Some(t) => substrate(&t)?,
            None => defaults.substrate,
        };
        Ok(Reading {
            panel: panel.to_owned(),
            at,
            value,
            spot: optional(self.spot),
            repeat,
            gauge: optional(self.gauge).or_else(|| defaults.gauge.clone()),
            time: optional(self.time),
            substrate,
            clear,
        })
    }
}

fn share(text: &str, name: &str) -> Result<f64, String> {
    let value = number(text, name)?;
    if !(0.0..=1.0).contains(&value) {
        return Err(format!("{name} {value} is not between 0 and 1, the edges of the panel's drawing"));
    }
    Ok(value)
}

fn substrate(text: &str) -> Result<Substrate, String> {
    match text.to_lowercase().as_str() {
        "steel" | "fe" | "ferrous" => Ok(Substrate::Steel),
        "aluminum" | "aluminium" | "al" | "nfe" | "non-ferrous" => Ok(Substrate::Aluminum),
        "plastic" => Ok(Substrate::Plastic),
        "composite" | "carbon" | "grp" | "cfrp" => Ok(Substrate::Composite),
        "unknown" | "?" => Ok(Substrate::Unknown),
        _ => Err(format!("substrate `{text}` is none of steel, aluminum, plastic, composite, unknown")),
    }
}
