//! What a particle counter says about a room: air changes and mixing from a decay.

use crate::error::within;
use crate::{AirError, Density, PerCubicMeter, PerHour, Room, settling};
use serde::{Deserialize, Serialize};
use units::{Duration, Explained, Thickness};

/// One reading of a particle counter.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Count {
    /// Since the dusty work ended.
    pub at: Duration,
    /// Lower bound of the counted sizes.
    pub size: Thickness,
    /// Counted at that size and above.
    pub count: PerCubicMeter,
}

/// The decay of one size.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct SizeFit {
    /// Lower bound of the counted sizes.
    pub size: Thickness,
    /// Readings used.
    pub readings: usize,
    /// Fitted count when the work ended.
    pub at_start: PerCubicMeter,
    /// Fitted decay.
    pub rate: PerHour,
    /// Its standard error.
    pub error: PerHour,
    /// The part of the rate that is ventilation, once settling is taken off.
    pub ventilation: PerHour,
}

/// What the counts say about the room.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RoomFit {
    /// Each size on its own.
    pub sizes: Vec<SizeFit>,
    /// Ventilation over all sizes, each weighed by its precision: air changes × filter × mixing.
    pub ventilation: PerHour,
    /// Its standard error.
    pub error: PerHour,
    /// That, over the room's stated air changes and filter: the mixing factor, or `None` without air changes.
    pub mixing: Option<f64>,
    /// What makes the fit doubtful.
    pub cautions: Vec<String>,
    /// How it was computed.
    pub explained: Explained,
}

const LITERS_PER_CUBIC_FOOT: f64 = 28.316_846_592;

/// Reads a counter's file: comma-separated, a heading with `minutes`, `size_um`, and one of `per_m3`, `per_l`,
/// `per_ft3`; lines that begin with `#` are notes.
///
/// # Errors
/// At the first line that cannot be read, with its number and what was expected.
pub fn read_counts(text: &str) -> Result<Vec<Count>, AirError> {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .trim(csv::Trim::All)
        .flexible(true)
        .from_reader(text.as_bytes());
    let heading = reader.headers().map_err(|e| AirError::Line { line: 1, what: e.to_string() })?.clone();
    let column =
        |name: &str| heading.iter().position(|h| h.trim_start_matches('\u{feff}').eq_ignore_ascii_case(name));
    let missing = |name: &str| AirError::Line {
        line: 1,
        what: format!("no column '{name}': give minutes, size_um and one of per_m3, per_l, per_ft3"),
    };
    let minutes = column("minutes").ok_or_else(|| missing("minutes"))?;
    let size = column("size_um").ok_or_else(|| missing("size_um"))?;
    let (count, per_m3) = [("per_m3", 1.0), ("per_l", 1000.0), ("per_ft3", 1000.0 / LITERS_PER_CUBIC_FOOT)]
        .into_iter()
        .find_map(|(name, factor)| column(name).map(|c| (c, factor)))
        .ok_or_else(|| missing("per_m3"))?;
    let mut counts = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|e| AirError::Line {
            line: e.position().map_or(0, csv::Position::line),
            what: "not text in columns: save it as comma-separated UTF-8".into(),
        })?;
        let line = record.position().map_or(0, csv::Position::line);
        let number = |c: usize, name: &str| {
            let text = record.get(c).unwrap_or("");
            match text.parse::<f64>() {
                Ok(v) if v.is_finite() && v >= 0.0 => Ok(v),
                _ => Err(AirError::Line {
                    line,
                    what: format!("'{text}' in column {name}: write a number of 0 or more with a point"),
                }),
            }
        };
        counts.push(Count {
            at: Duration::minutes(number(minutes, "minutes")?),
            size: Thickness::um(number(size, "size_um")?),
            count: PerCubicMeter::per_m3(number(count, &heading[count])? * per_m3),
        });
    }
    Ok(counts)
}

/// Fits the decay of each size by least squares on ln(count − background), and takes settling off.
///
/// A count of "size and above" is taken to fall as particles of that size do, which understates settling.
///
/// # Errors
/// When no size has three readings above the background at different times.
pub fn fit_room(
    counts: &[Count],
    background: PerCubicMeter,
    room: &Room,
    density: Density,
) -> Result<RoomFit, AirError> {
    room.check()?;
    within("the background count", background.as_per_m3(), 0.0, 1e12, "0 or more per m³")?;
    let mut sizes: Vec<Thickness> = counts.iter().map(|c| c.size).collect();
    sizes.sort_by(Thickness::total_cmp);
    sizes.dedup();
    let mut cautions = Vec::new();
    let mut fits = Vec::new();
    for size in sizes {
        let falls = settling(size, density)?.speed.as_m_per_s() * 3600.0 / room.height.as_m();
        let all: Vec<_> = counts.iter().filter(|c| c.size == size).collect();
        let points: Vec<(f64, f64)> = all
            .iter()
            .filter(|c| c.count > background)
            .map(|c| (c.at.as_hours(), (c.count.as_per_m3() - background.as_per_m3()).ln()))
            .collect();
        if points.len() < all.len() {
            cautions.push(format!(
                "{} of {} readings at {} µm are not above the background and were left out",
                all.len() - points.len(),
                all.len(),
                size.as_um()
            ));
        }
        let Some((start, slope, error)) = line(&points) else {
            cautions
                .push(format!("{} µm: fewer than three readings at different times, left out", size.as_um()));
            continue;
        };
        fits.push(SizeFit {
            size,
            readings: points.len(),
            at_start: PerCubicMeter::per_m3(start.exp()),
            rate: PerHour::per_hour(-slope),
            error: PerHour::per_hour(error),
            ventilation: PerHour::per_hour(-slope - falls),
        });
    }
    if fits.is_empty() {
        return Err(AirError::TooFew {
            what:
                "no size has three readings above the background at different times: count for at least ten \
                   minutes, every minute"
                    .into(),
        });
    }
    Ok(summary(fits, cautions, room))
}

fn summary(sizes: Vec<SizeFit>, mut cautions: Vec<String>, room: &Room) -> RoomFit {
    // an exact fit has no error of its own; a floor keeps its weight finite
    let weight = |f: &SizeFit| 1.0 / f.error.as_per_hour().max(1e-6).powi(2);
    let total: f64 = sizes.iter().map(weight).sum();
    let ventilation = sizes.iter().map(|f| weight(f) * f.ventilation.as_per_hour()).sum::<f64>() / total;
    let error = total.powf(-0.5);
    let stated = room.changes.as_per_hour() * room.filter;
    let mixing = (stated > 0.0).then(|| ventilation / stated);
    if ventilation <= 0.0 {
        cautions
            .push("the counts do not fall faster than by settling alone: is dust still being made?".into());
    }
    if mixing.is_some_and(|m| m > 1.05) {
        cautions
            .push("the air clears faster than the stated air changes allow: check the stated figure".into());
    }
    let explained = Explained::new(
        "Measured ventilation",
        "slope of ln(count − background) over time, less settling speed / height",
        "least squares on the shop's own counts",
    )
    .with("sizes", sizes.iter().map(|f| format!("{} µm", f.size.as_um())).collect::<Vec<_>>().join(", "))
    .with("readings", sizes.iter().map(|f| f.readings).sum::<usize>().to_string())
    .with("height", format!("{:.1} m", room.height.as_m()));
    RoomFit {
        sizes,
        ventilation: PerHour::per_hour(ventilation),
        error: PerHour::per_hour(error),
        mixing,
        cautions,
        explained,
    }
}

/// Intercept, slope and the slope's standard error of a least-squares line.
fn line(points: &[(f64, f64)]) -> Option<(f64, f64, f64)> {
    let n = points.len() as f64;
    let (mx, my) = (points.iter().map(|p| p.0).sum::<f64>() / n, points.iter().map(|p| p.1).sum::<f64>() / n);
    let sxx: f64 = points.iter().map(|p| (p.0 - mx).powi(2)).sum();
    if points.len() < 3 || sxx <= 0.0 {
        return None;
    }
    let slope = points.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum::<f64>() / sxx;
    let start = my - slope * mx;
    let rest: f64 = points.iter().map(|p| (p.1 - start - slope * p.0).powi(2)).sum();
    Some((start, slope, (rest / (n - 2.0) / sxx).sqrt()))
}
