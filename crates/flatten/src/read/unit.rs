//! The unit a file is in: guessed with a reason, never silently.

use super::Format;
use serde::{Deserialize, Serialize};

/// A unit of length of mesh files.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Unit {
    /// Millimeters.
    Mm,
    /// Centimeters.
    Cm,
    /// Meters.
    M,
    /// Inches.
    Inch,
}

impl Unit {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::Mm, Self::Cm, Self::M, Self::Inch];

    /// Millimeters in one of it.
    pub const fn in_mm(self) -> f64 {
        match self {
            Self::Mm => 1.0,
            Self::Cm => 10.0,
            Self::M => 1000.0,
            Self::Inch => 25.4,
        }
    }

    /// Its name on the command line and in files.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Mm => "mm",
            Self::Cm => "cm",
            Self::M => "m",
            Self::Inch => "inch",
        }
    }

    /// By its name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|u| u.name() == name.trim().to_ascii_lowercase())
    }
}

/// The likeliest unit of a file, and why.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct UnitGuess {
    /// The unit.
    pub unit: Unit,
    /// Whether a person should be asked: nothing but the size speaks for it.
    pub ask: bool,
    /// Why, in a sentence.
    pub reason: String,
}

/// Largest extents that panels and cars have, mm: from a mirror to a van. Common practice, no source.
const PLAUSIBLE: std::ops::RangeInclusive<f64> = 120.0..=8000.0;

/// glTF is in meters by its standard (Khronos, glTF 2.0, section 3.4). Elsewhere the first unit is taken by which the
/// scan is as large as a panel or a car: millimeters, then meters (phones scan in them), centimeters, inches.
pub(super) fn guess(format: Format, vertices: &[[f64; 3]]) -> UnitGuess {
    if format == Format::Gltf {
        return UnitGuess {
            unit: Unit::M,
            ask: false,
            reason: "glTF files are in meters by their standard.".into(),
        };
    }
    let extent = extent(vertices);
    let fits: Vec<Unit> = [Unit::Mm, Unit::M, Unit::Cm, Unit::Inch]
        .into_iter()
        .filter(|u| PLAUSIBLE.contains(&(extent * u.in_mm())))
        .collect();
    let size = |u: Unit| {
        let mm = extent * u.in_mm();
        if mm < 10_000.0 { format!("{mm:.0} mm") } else { format!("{:.0} m", mm / 1000.0) }
    };
    match fits.first() {
        Some(&unit) => {
            let others: Vec<String> =
                fits[1..].iter().map(|u| format!("{} if it is in {}", size(*u), words(*u))).collect();
            let rest = if others.is_empty() { String::new() } else { format!("; {}", others.join("; ")) };
            let reason =
                format!("The file names no unit. In {} the scan is {} long{rest}.", words(unit), size(unit));
            UnitGuess { unit, ask: true, reason }
        }
        None => UnitGuess {
            unit: Unit::Mm,
            ask: true,
            reason: format!(
                "The file names no unit, and in none is it as large as a panel: {} long in millimeters.",
                size(Unit::Mm)
            ),
        },
    }
}

const fn words(unit: Unit) -> &'static str {
    match unit {
        Unit::Mm => "millimeters",
        Unit::Cm => "centimeters",
        Unit::M => "meters",
        Unit::Inch => "inches",
    }
}

/// Longest side of the upright box.
fn extent(vertices: &[[f64; 3]]) -> f64 {
    (0..3)
        .map(|k| {
            let low = vertices.iter().map(|v| v[k]).fold(f64::INFINITY, f64::min);
            let high = vertices.iter().map(|v| v[k]).fold(f64::NEG_INFINITY, f64::max);
            high - low
        })
        .fold(0.0, f64::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(format: Format, extent: f64, unit: Unit, ask: bool) {
        let guess = guess(format, &[[0.0; 3], [extent, 0.0, 0.0]]);
        assert_eq!((guess.unit, guess.ask), (unit, ask), "{extent}: {}", guess.reason);
    }

    #[test]
    fn the_unit_follows_from_the_size() {
        check(Format::Obj, 1200.0, Unit::Mm, true);
        check(Format::Ply, 1.2, Unit::M, true);
        check(Format::Stl, 47.0, Unit::Cm, true);
        check(Format::Obj, 12.0, Unit::Cm, true);
        check(Format::Obj, 1e-6, Unit::Mm, true);
        check(Format::Gltf, 1200.0, Unit::M, false);
    }

    #[test]
    fn what_else_it_could_be_is_said() {
        // 200: a mirror in millimeters, a hood of 2 m in centimeters, a car of 5 m in inches
        let guess = guess(Format::Obj, &[[0.0; 3], [200.0, 0.0, 0.0]]);
        assert_eq!(guess.unit, Unit::Mm);
        assert!(guess.reason.contains("2000 mm if it is in centimeters"), "{}", guess.reason);
        assert!(guess.reason.contains("5080 mm if it is in inches"), "{}", guess.reason);
    }
}
