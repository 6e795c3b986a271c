//! The clear coat over a panel's drawing.

use crate::estimate::{posterior, usable};
use crate::posterior::{Part, Posterior};
use crate::readings::Reading;
use crate::settings::{Settings, SettingsError};
use crate::survey::PanelInfo;
use serde::{Deserialize, Serialize};
use units::{Length, Thickness};

/// Clear coat and total thickness over a panel's drawing, on a regular grid.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PanelMap {
    /// The panel.
    pub panel: String,
    /// Width of the drawing.
    pub width: Length,
    /// Height of the drawing.
    pub height: Length,
    /// Number of grid points across (`u` = 0 to 1 inclusive).
    pub columns: usize,
    /// Number of grid points down (`v` = 0 to 1 inclusive).
    pub rows: usize,
    /// Mean total thickness, row by row from the top.
    pub total_mean: Vec<Thickness>,
    /// Standard deviation of the total thickness.
    pub total_sd: Vec<Thickness>,
    /// Mean clear coat.
    pub clear_mean: Vec<Thickness>,
    /// Standard deviation of the clear coat.
    pub clear_sd: Vec<Thickness>,
    /// Where readings were taken (u, v) and what they said.
    pub spots: Vec<((f64, f64), Thickness)>,
    /// Correlation length used (the likeliest).
    pub length: Length,
    /// Standard deviation over the panel used (the likeliest).
    pub within: Thickness,
}

/// Grid points of a map, about.
const POINTS: f64 = 384.0;
/// Parts of the mixture drawn: the heaviest, up to this share of the weight and this number.
const ENOUGH: f64 = 0.9;
const MOST_PARTS: usize = 4;

/// The map of a panel; `None` when there is no reading with a place or the gauge cannot read the substrate.
///
/// # Errors
/// When the settings cannot be used.
pub fn map(
    readings: &[Reading],
    panel: &PanelInfo,
    settings: &Settings,
) -> Result<Option<PanelMap>, SettingsError> {
    settings.validate()?;
    let used: Vec<&Reading> = usable(readings, panel).into_iter().map(|(_, r)| r).collect();
    let (posterior, _) = posterior(&used, panel, settings);
    Ok(drawn(&posterior, panel, &used))
}

/// The map from a mixture at hand; `None` without a reading that has a place.
pub(crate) fn drawn(posterior: &Posterior, panel: &PanelInfo, used: &[&Reading]) -> Option<PanelMap> {
    if used.iter().all(|r| r.at.is_none()) {
        return None;
    }
    Mapper { posterior, panel, used }.draw()
}

struct Mapper<'a> {
    posterior: &'a Posterior,
    panel: &'a PanelInfo,
    used: &'a [&'a Reading],
}

/// Running weighted mean and square of one grid point.
type Moments = (f64, f64);

impl Mapper<'_> {
    fn draw(&self) -> Option<PanelMap> {
        let sheet = &self.posterior.sheet;
        let columns = (POINTS * sheet.width / sheet.height).sqrt().round().clamp(6.0, 48.0) as usize;
        let rows = ((POINTS / columns as f64).round() as usize).max(6);
        let grid = sheet.grid(columns, rows);
        let heavy = self.heaviest();
        let first = *heavy.first()?;
        let whole: f64 = heavy.iter().map(|p| p.weight).sum();
        let (mut total, mut clear) = (vec![(0.0, 0.0); grid.len()], vec![(0.0, 0.0); grid.len()]);
        for part in heavy {
            for (i, at) in grid.iter().enumerate() {
                let share = part.weight / whole;
                let (link, clear_link) = part.both_at(self.posterior, *at);
                let prior = part.total_prior(sheet, *at, *at);
                add(
                    &mut total[i],
                    share,
                    link.mean(&part.levels),
                    link.covariance(&link, prior, &part.levels),
                );
                let link = clear_link;
                let prior = part.clear_prior(sheet, *at, *at);
                add(
                    &mut clear[i],
                    share,
                    link.mean(&part.levels),
                    link.covariance(&link, prior, &part.levels),
                );
            }
        }
        let means = |m: &[Moments]| m.iter().map(|x| Thickness::um(x.0)).collect();
        let sds =
            |m: &[Moments]| m.iter().map(|x| Thickness::um((x.1 - x.0 * x.0).max(0.0).sqrt())).collect();
        Some(PanelMap {
            panel: self.panel.id.clone(),
            width: Length::mm(sheet.width),
            height: Length::mm(sheet.height),
            columns,
            rows,
            total_mean: means(&total),
            total_sd: sds(&total),
            clear_mean: means(&clear),
            clear_sd: sds(&clear),
            spots: self.used.iter().filter_map(|r| r.at.map(|at| (at, r.value))).collect(),
            length: Length::mm(first.length),
            within: Thickness::um(first.within),
        })
    }

    /// The heaviest parts, heaviest first.
    fn heaviest(&self) -> Vec<&Part> {
        let mut parts: Vec<&Part> = self.posterior.parts.iter().collect();
        parts.sort_by(|a, b| b.weight.total_cmp(&a.weight));
        let mut sum = 0.0;
        let enough = parts.iter().position(|p| {
            sum += p.weight;
            sum >= ENOUGH
        });
        parts.truncate(enough.map_or(MOST_PARTS, |i| (i + 1).min(MOST_PARTS)));
        parts
    }
}

fn add(to: &mut Moments, share: f64, mean: f64, variance: f64) {
    to.0 += share * mean;
    to.1 += share * (variance.max(0.0) + mean * mean);
}
