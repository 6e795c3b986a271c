//! A CSV file as rows under named columns, each row with its line.

use crate::readings::Rejected;
use units::Thickness;

/// Rows under a header.
pub(crate) struct Table {
    /// Names of the columns, in lower case with underscores.
    pub names: Vec<String>,
    /// Rows with the line they start on; blank ones are left out.
    pub rows: Vec<(u64, csv::StringRecord)>,
    /// Rows that are no CSV.
    pub rejected: Vec<Rejected>,
}

impl Table {
    /// Reads a file: separator comma, semicolon or tab, whichever the header has; `example` is a header to be shown
    /// when there is none.
    ///
    /// # Errors
    /// With the line when there is no header, or a column stands in it twice.
    pub fn read(text: &str, example: &str) -> Result<Self, Rejected> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let Some(header) = text.lines().find(|l| !l.trim().is_empty()) else {
            let reason = format!("the file is empty; it needs a header such as {example}");
            return Err(Rejected { line: 1, reason });
        };
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(separator(header))
            .has_headers(false)
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let mut lines = Lines { text: text.as_bytes(), at: 0, line: 1 };
        let mut names: Option<Vec<String>> = None;
        let (mut rows, mut rejected) = (Vec::new(), Vec::new());
        for record in reader.records() {
            let record = match record {
                Ok(record) => record,
                Err(error) => {
                    let line = lines.of(error.position());
                    rejected.push(Rejected { line, reason: format!("cannot be read: {error}") });
                    continue;
                }
            };
            let line = lines.of(record.position());
            if names.is_none() {
                names = Some(named(&record).map_err(|reason| Rejected { line, reason })?);
            } else if !record.iter().all(str::is_empty) {
                rows.push((line, record));
            }
        }
        Ok(Self { names: names.unwrap_or_default(), rows, rejected })
    }

    /// Where a column stands.
    pub fn find(&self, name: &str) -> Option<usize> {
        self.names.iter().position(|n| n == name)
    }

    /// Where a thickness stands and what one of it is in micrometers: under `name_um` or `name_mil`, or under the bare
    /// name when `bare` says what that means.
    ///
    /// # Errors
    /// When it stands in more than one unit.
    pub fn thickness(&self, name: &str, bare: Option<f64>) -> Result<Option<(usize, f64)>, String> {
        let units = [(String::new(), bare), ("_um".into(), Some(1.0)), ("_mil".into(), Some(UM_PER_MIL))];
        let found: Vec<_> =
            units.into_iter().filter_map(|(unit, um)| self.find(&format!("{name}{unit}")).zip(um)).collect();
        match found[..] {
            [] => Ok(None),
            [one] => Ok(Some(one)),
            _ => Err(format!("`{name}` is given in more than one unit; keep one column")),
        }
    }

    /// Refuses a row with more fields than the header has columns.
    pub fn fits(&self, row: &csv::StringRecord) -> Result<(), String> {
        if row.len() <= self.names.len() {
            return Ok(());
        }
        Err(format!(
            "{} fields under {} columns; with decimal commas separate the columns by semicolons, or quote the numbers",
            row.len(),
            self.names.len()
        ))
    }
}

/// Lines of a text, asked for in rising order. The reader's own count puts a row that follows blank lines on the first of
/// them.
struct Lines<'a> {
    text: &'a [u8],
    at: usize,
    line: u64,
}

impl Lines<'_> {
    /// The line of the first character at or after a position that ends no line.
    fn of(&mut self, position: Option<&csv::Position>) -> u64 {
        let from = position.map_or(self.at, |p| p.byte() as usize);
        while let Some(byte) = self.text.get(self.at) {
            if self.at >= from && !matches!(byte, b'\r' | b'\n') {
                break;
            }
            self.line += u64::from(*byte == b'\n');
            self.at += 1;
        }
        self.line
    }
}

fn named(header: &csv::StringRecord) -> Result<Vec<String>, String> {
    let names: Vec<String> = header.iter().map(|name| name.to_lowercase().replace([' ', '-'], "_")).collect();
    match names.iter().enumerate().find(|(i, n)| !n.is_empty() && names[..*i].contains(n)) {
        Some((_, twice)) => Err(format!("column `{twice}` stands twice in the header; keep one of them")),
        None => Ok(names),
    }
}

/// The separator of a header: the one of tab, semicolon, comma that occurs in it, in this order.
/// A comma comes last because it may be a decimal mark further down.
fn separator(header: &str) -> u8 {
    [b'\t', b';'].into_iter().find(|s| header.bytes().any(|b| b == *s)).unwrap_or(b',')
}

/// One mil in micrometers, exact.
pub(crate) const UM_PER_MIL: f64 = 25.4;

/// Thickest reading taken for a reading: gauges for paint end below it.
const THICKEST_UM: f64 = 5000.0;

/// A number with either decimal mark.
pub(crate) fn number(text: &str, name: &str) -> Result<f64, String> {
    if text.is_empty() {
        return Err(format!("no {name}"));
    }
    match text.replace(',', ".").parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => Err(format!("{name} `{text}` is not a number")),
    }
}

/// A thickness above zero, `um` micrometers to one of its unit.
pub(crate) fn thickness(text: &str, name: &str, um: f64) -> Result<Thickness, String> {
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
