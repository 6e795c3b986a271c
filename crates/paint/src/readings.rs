//! Readings of the gauge, typed or read from CSV.

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
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut imported = Imported::default();
    let Some(header) = text.lines().find(|l| !l.trim().is_empty()) else {
        imported.reject(1, "the file is empty; it needs a header such as panel,u,v,reading_um".into());
        return imported;
    };
    let mut rows = csv::ReaderBuilder::new()
        .delimiter(separator(header))
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut columns: Option<Columns> = None;
    for (index, record) in rows.records().enumerate() {
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                let line = error.position().map_or(index as u64 + 1, csv::Position::line);
                imported.reject(line, format!("cannot be read: {error}"));
                continue;
            }
        };
        let line = record.position().map_or(index as u64 + 1, csv::Position::line);
        match &columns {
            None => match Columns::of(&record, defaults) {
                Ok(found) => columns = Some(found),
                Err(reason) => {
                    imported.reject(line, reason);
                    return imported;
                }
            },
            Some(_) if record.iter().all(str::is_empty) => {}
            Some(columns) => match columns.reading(&record, defaults) {
                Ok(reading) => imported.readings.push(reading),
                Err(reason) => imported.reject(line, reason),
            },
        }
    }
    imported
}

impl Imported {
    fn reject(&mut self, line: u64, reason: String) {
        self.rejected.push(Rejected { line, reason });
    }
}

/// The separator of a header: the one of tab, semicolon, comma that occurs in it, in this order.
/// A comma comes last because it may be a decimal mark further down.
fn separator(header: &str) -> u8 {
    [b'\t', b';'].into_iter().find(|s| header.bytes().any(|b| b == *s)).unwrap_or(b',')
}

/// Where each column stands.
struct Columns {
    width: usize,
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
    fn of(header: &csv::StringRecord, defaults: &Defaults) -> Result<Self, String> {
        let names: Vec<String> =
            header.iter().map(|name| name.to_lowercase().replace([' ', '-'], "_")).collect();
        if let Some(twice) = names.iter().enumerate().find(|(i, n)| !n.is_empty() && names[..*i].contains(n))
        {
            return Err(format!("column `{}` stands twice in the header; keep one of them", twice.1));
        }
        let find = |name: &str| names.iter().position(|n| n == name);
        let default_um = match defaults.unit {
            Unit::Micrometers => 1.0,
            Unit::Mils => UM_PER_MIL,
        };
        let one_of = |candidates: [(&str, f64); 3]| -> Result<Option<(usize, f64)>, String> {
            let found: Vec<_> = candidates.iter().filter_map(|(n, um)| find(n).map(|at| (at, *um))).collect();
            match found[..] {
                [] => Ok(None),
                [one] => Ok(Some(one)),
                _ => Err(format!("`{}` is given in more than one unit; keep one column", candidates[0].0)),
            }
        };
        let panel = find("panel")
            .ok_or("the header has no column `panel`; it needs at least panel,u,v,reading_um")?;
        let reading = one_of([("reading", default_um), ("reading_um", 1.0), ("reading_mil", UM_PER_MIL)])?
            .ok_or("the header has no column `reading_um` or `reading_mil`")?;
        let clear = one_of([("clear", default_um), ("clear_um", 1.0), ("clear_mil", UM_PER_MIL)])?;
        let place = match (find("u"), find("v")) {
            (Some(u), Some(v)) => Some((u, v)),
            (None, None) => None,
            _ => return Err("the header has only one of the columns `u` and `v`; give both or none".into()),
        };
        Ok(Self {
            width: names.len(),
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
        if row.len() > self.width {
            return Err(format!(
                "{} fields under {} columns; with decimal commas separate the columns by semicolons, or quote the numbers",
                row.len(),
                self.width
            ));
        }
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

/// One mil in micrometers, exact.
const UM_PER_MIL: f64 = 25.4;

/// Thickest reading taken for a reading: gauges for paint end below it.
const THICKEST_UM: f64 = 5000.0;

fn number(text: &str, name: &str) -> Result<f64, String> {
    if text.is_empty() {
        return Err(format!("no {name}"));
    }
    match text.replace(',', ".").parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => Err(format!("{name} `{text}` is not a number")),
    }
}

fn share(text: &str, name: &str) -> Result<f64, String> {
    let value = number(text, name)?;
    if !(0.0..=1.0).contains(&value) {
        return Err(format!("{name} {value} is not between 0 and 1, the edges of the panel's drawing"));
    }
    Ok(value)
}

fn thickness(text: &str, name: &str, um: f64) -> Result<Thickness, String> {
    let value = number(text, name)? * um;
    if value <= 0.0 {
        return Err(format!("{name} {text} is not above zero"));
    }
    if value > THICKEST_UM {
        return Err(format!(
            "{name} {text} is {value:.0} µm, more than paint can be; check the unit in the header"
        ));
    }
    Ok(Thickness::um(value))
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
