//! The work behind a survey.

use crate::finish::KindProbabilities;
use crate::flag::Flag;
use crate::least::{LeastClear, over_panel};
use crate::ledger::{History, LimitedBy, Removable, removable};
use crate::map::{PanelMap, drawn};
use crate::next_spot::next_spot;
use crate::posterior::Posterior;
use crate::prior::{Expected, expected};
use crate::readings::{Reading, Substrate};
use crate::settings::Settings;
use crate::spots::observations;
use crate::survey::{
    Interval, MoreReadings, Outlier, PanelEstimate, PanelInfo, Survey, ToleranceBound, TotalEstimate,
};
use crate::{evidence, field::Sheet};
use stats::{GrubbsSide, Summary, grubbs, mean_interval_of, one_sided_factor, student_t_quantile, summary};
use units::{Seed, Thickness};

/// Readings below which no bound is worth much.
const FEW: usize = 5;
/// A kind of finish is flagged from this probability on.
const PROBABLE: f64 = 0.5;
/// Most further readings ever asked for.
const MOST_MORE: usize = 200;

/// Estimates every panel, and draws its map where that is wanted and can be done.
pub(crate) fn survey(
    readings: &[Reading],
    panels: &[PanelInfo],
    settings: &Settings,
    with_maps: bool,
) -> (Survey, Vec<Option<PanelMap>>) {
    let (estimates, maps) =
        panels.iter().map(|panel| Estimator::new(readings, panel, settings).estimate(with_maps)).unzip();
    let mut unknown_panels: Vec<String> = Vec::new();
    for reading in readings {
        if !panels.iter().any(|p| p.id == reading.panel) && !unknown_panels.contains(&reading.panel) {
            unknown_panels.push(reading.panel.clone());
        }
    }
    (Survey { panels: estimates, unknown_panels }, maps)
}

/// Readings of a panel that a gauge can have taken, each with its place in the list handed in.
pub(crate) fn usable<'a>(readings: &'a [Reading], panel: &PanelInfo) -> Vec<(usize, &'a Reading)> {
    let sound = |r: &Reading| r.value.is_finite() && r.value > Thickness::ZERO;
    readings
        .iter()
        .enumerate()
        .filter(|(_, r)| r.panel == panel.id && sound(r) && readable(panel, r))
        .collect()
}

/// Whether a gauge can have taken a reading; the panel's substrate counts where it is known.
fn readable(panel: &PanelInfo, reading: &Reading) -> bool {
    match panel.substrate {
        Substrate::Unknown => reading.substrate.can_be_read(),
        known => known.can_be_read(),
    }
}

/// The mixture for a panel.
pub(crate) fn posterior(
    used: &[&Reading],
    panel: &PanelInfo,
    settings: &Settings,
) -> (Posterior, [Expected; 4]) {
    // A drawing without size still has a mean; a square meter stands in for it.
    let side = |mm: f64| if mm.is_finite() && mm > 0.0 { mm } else { 1000.0 };
    let (width, height) = (side(panel.width.as_mm()), side(panel.height.as_mm()));
    let outline = panel.outline.iter().map(|(u, v)| (u * width, v * height)).collect();
    let sheet = Sheet { width, height, outline };
    let expected = expected(settings, panel.history);
    let observations = observations(used, &sheet, &settings.gauge);
    (Posterior::new(sheet, observations, &expected, &settings.field, &settings.gauge), expected)
}

struct Estimator<'a> {
    panel: &'a PanelInfo,
    settings: &'a Settings,
    used: Vec<(usize, &'a Reading)>,
    /// Readings of this panel that the gauge cannot have taken.
    left_out: usize,
}

impl<'a> Estimator<'a> {
    fn new(readings: &'a [Reading], panel: &'a PanelInfo, settings: &'a Settings) -> Self {
        let used = usable(readings, panel);
        let left_out = readings.iter().filter(|r| r.panel == panel.id && !readable(panel, r)).count();
        Self { panel, settings, used, left_out }
    }

    fn estimate(&self, with_map: bool) -> (PanelEstimate, Option<PanelMap>) {
        let values: Vec<f64> = self.used.iter().map(|(_, r)| r.value.as_um()).collect();
        let seen = summary(&values).ok();
        let only: Vec<&Reading> = self.used.iter().map(|(_, r)| *r).collect();
        let (posterior, expected) = posterior(&only, self.panel, self.settings);
        let over = over_panel(&posterior, Seed::default());
        let least_clear = LeastClear::of(over.least, self.settings.confidence);
        let removable = self.removable(&least_clear);
        let [factory, refinished, filled, thinned] = posterior.kinds;
        let kind = KindProbabilities {
            factory,
            refinished,
            filled,
            thinned,
            evidence: evidence::words(seen.as_ref(), &expected, self.panel, self.settings),
        };
        let outliers = self.outliers(&values);
        let readable = self.panel.substrate.can_be_read();
        let flags = self.flags(seen.as_ref(), &kind, &least_clear, &removable, &outliers);
        let map = if with_map { drawn(&posterior, self.panel, &only) } else { None };
        let estimate = PanelEstimate {
            panel: self.panel.id.clone(),
            n: values.len(),
            total: seen.as_ref().map(|s| self.total(s)),
            outliers,
            kind,
            clear: over.clear,
            more: MoreReadings {
                next_at: readable
                    .then(|| next_spot(&posterior, &over.thinnest, &self.settings.gauge))
                    .flatten(),
                ..self.more(seen.as_ref())
            },
            least_clear,
            removable,
            flags,
        };
        (estimate, map)
    }

    fn total(&self, s: &Summary) -> TotalEstimate {
        let at = |um: f64| Thickness::um(um);
        let (coverage, confidence) = (self.settings.coverage, self.settings.confidence);
        let wide = self.settings.interval_confidence;
        TotalEstimate {
            mean: at(s.mean),
            sd: (s.n > 1).then(|| at(s.sd)),
            interval: mean_interval_of(s, wide).ok().map(|b| Interval {
                low: at(b.low),
                high: at(b.high),
                confidence: wide,
            }),
            bound: one_sided_factor(s.n, coverage, confidence).ok().map(|factor| ToleranceBound {
                value: at(s.mean - factor * s.sd),
                factor,
                coverage,
                confidence,
            }),
        }
    }

    /// Grubbs' test, repeated without the outlier found, for at most a tenth of the readings.
    fn outliers(&self, values: &[f64]) -> Vec<Outlier> {
        let mut left: Vec<(usize, f64)> =
            self.used.iter().map(|(i, _)| *i).zip(values.iter().copied()).collect();
        let mut found = Vec::new();
        while found.len() < values.len().div_ceil(10) {
            let rest: Vec<f64> = left.iter().map(|x| x.1).collect();
            let Ok(test) = grubbs(&rest, GrubbsSide::Both, self.settings.outlier_alpha) else { break };
            let Ok(s) = summary(&rest) else { break };
            if !test.is_outlier() {
                break;
            }
            let (reading, value) = left.remove(test.at);
            found.push(Outlier {
                reading,
                value: Thickness::um(value),
                g: test.g,
                critical: test.critical,
                low: value < s.mean,
            });
        }
        found
    }

    fn removable(&self, least: &LeastClear) -> Removable {
        let taken = match self.panel.history {
            History::Known { removed } => removed,
            History::Unknown => self.settings.unknown_history.mean,
        };
        let mut removable = removable(least.lower, self.settings.floor, self.settings.allowance, taken);
        if self.panel.matte {
            removable.amount = Thickness::ZERO;
            removable.limited_by = LimitedBy::Matte;
        }
        removable
    }

    fn flags(
        &self,
        seen: Option<&Summary>,
        kind: &KindProbabilities,
        least: &LeastClear,
        removable: &Removable,
        outliers: &[Outlier],
    ) -> Vec<Flag> {
        let readable = self.panel.substrate.can_be_read();
        let n = self.used.len();
        let mut flags = Vec::new();
        let mut set = |flag: Flag, when: bool| {
            if when {
                flags.push(flag);
            }
        };
        set(Flag::Matte, self.panel.matte);
        set(Flag::NoReadingPossible, !readable || (n == 0 && self.left_out > 0));
        set(Flag::ReadingsOnUnreadable, self.left_out > 0);
        set(Flag::NoReadings, readable && n == 0 && self.left_out == 0);
        set(Flag::TooFewReadings, (1..FEW).contains(&n));
        set(Flag::Thin, n > 0 && least.lower < self.settings.floor);
        let repainted = kind.refinished + kind.filled;
        set(Flag::Filled, n > 0 && kind.filled >= PROBABLE);
        set(Flag::Refinished, n > 0 && kind.filled < PROBABLE && repainted >= PROBABLE);
        set(Flag::Thinned, n > 0 && kind.thinned >= PROBABLE);
        set(Flag::Uneven, seen.is_some_and(|s| evidence::uneven(s, self.settings)));
        set(Flag::Outliers, !outliers.is_empty());
        set(Flag::NoPlaces, n > 0 && self.used.iter().all(|(_, r)| r.at.is_none()));
        set(Flag::SingleStage, self.panel.single_stage);
        set(Flag::UnknownHistory, self.panel.history == History::Unknown);
        set(Flag::AllowanceSpent, removable.allowance_left <= Thickness::ZERO);
        flags
    }

    /// Readings still worth taking, by the half-width of the t interval of the mean.
    fn more(&self, seen: Option<&Summary>) -> MoreReadings {
        let enough = |why: &str| MoreReadings { readings: 0, why: why.to_owned(), next_at: None };
        if !self.panel.substrate.can_be_read() {
            return enough("The gauge cannot read this panel.");
        }
        let n = self.used.len();
        let Some(s) = seen.filter(|s| s.n > 1) else {
            return MoreReadings {
                readings: FEW - n.min(FEW),
                why: "Five readings spread over the panel are the least for a bound.".into(),
                next_at: None,
            };
        };
        let wanted = self.settings.wanted_half_width.as_um();
        let p = 0.5 * (1.0 + self.settings.interval_confidence);
        let half = |n: usize| student_t_quantile(p, (n - 1) as f64) * s.sd / (n as f64).sqrt();
        let needed = (n.max(2)..n + MOST_MORE).find(|m| half(*m) <= wanted).unwrap_or(n + MOST_MORE).max(FEW);
        let more = needed - n.min(needed);
        if more == 0 {
            return enough(&format!(
                "The mean is known to ± {:.1} µm, and ± {wanted:.1} µm was wanted.",
                half(n)
            ));
        }
        MoreReadings {
            readings: more,
            why: format!(
                "The mean is known to ± {:.1} µm; {more} more would bring it to ± {wanted:.1} µm.",
                half(n)
            ),
            next_at: None,
        }
    }
}
