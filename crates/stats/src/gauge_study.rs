//! Gauge repeatability and reproducibility (gauge R&R) of a crossed study.
//!
//! Two published methods give different figures on the same data: the result names its method.

use crate::StatsError;
use crate::anova::f_tail;
use crate::normal::{normal_cdf, normal_pdf};
use crate::quadrature::{integrate, stretches};
use crate::summary::sum;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// One reading of a study.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct GaugeReading {
    /// Who read.
    pub operator: String,
    /// What was read.
    pub part: String,
    /// The reading.
    pub value: f64,
}

/// How a study was evaluated.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum GaugeMethod {
    /// Analysis of variance, interaction kept.
    Anova,
    /// Analysis of variance, interaction pooled into the error because its p exceeds 0.25.
    AnovaPooled,
    /// Average and range.
    AverageRange,
}

/// Standard deviations that a study found, in the unit of its readings.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct GaugeStudy {
    /// How they were found.
    pub method: GaugeMethod,
    /// Repeatability (equipment variation, EV).
    pub repeatability: f64,
    /// Reproducibility (appraiser variation, AV; with the interaction where it is kept).
    pub reproducibility: f64,
    /// Both together (GRR).
    pub gauge: f64,
    /// Part to part (PV).
    pub part: f64,
    /// Everything (TV).
    pub total: f64,
    /// GRR as a share of TV.
    pub share: f64,
    /// Number of distinct categories, 1.41 PV / GRR before it is cut to a whole number.
    pub categories: f64,
    /// Sums of squares: operator, part, interaction, error, total; `None` by average and range.
    pub squares: Option<[f64; 5]>,
    /// F of the interaction against the error; `None` by average and range.
    pub interaction_f: Option<f64>,
}

impl GaugeStudy {
    fn new(method: GaugeMethod, repeatability: f64, reproducibility: f64, part: f64) -> Self {
        let gauge = repeatability.hypot(reproducibility);
        let total = gauge.hypot(part);
        Self {
            method,
            repeatability,
            reproducibility,
            gauge,
            part,
            total,
            share: gauge / total,
            categories: 1.41 * part / gauge,
            squares: None,
            interaction_f: None,
        }
    }
}

/// Evaluates a study by analysis of variance (AIAG, Measurement Systems Analysis, 4th ed. 2010,
/// chapter III). The interaction is pooled when its p exceeds 0.25.
///
/// # Errors
/// Unless every operator read every part the same number of times: at least 2 × 2 × 2.
pub fn by_anova(readings: &[GaugeReading]) -> Result<GaugeStudy, StatsError> {
    let study = Crossed::of(readings)?;
    let (o, p, t) = study.shape();
    let (of, pf, tf) = (o as f64, p as f64, t as f64);
    let grand = study.mean(|_, _| true);
    let square = |x: f64| (x - grand) * (x - grand);
    let operators = pf * tf * sum((0..o).map(|i| square(study.mean(|a, _| a == i))));
    let parts = of * tf * sum((0..p).map(|j| square(study.mean(|_, b| b == j))));
    let cells: Vec<f64> = (0..o * p).map(|c| study.mean(|a, b| a * p + b == c)).collect();
    let between = tf * sum(cells.iter().map(|m| square(*m)));
    let interaction = between - operators - parts;
    let error = sum(study.cells.iter().enumerate().flat_map(|(c, cell)| {
        let mean = cells[c];
        cell.iter().map(move |x| (x - mean) * (x - mean))
    }));
    let total = sum(study.cells.iter().flatten().map(|x| square(*x)));
    let (int_df, err_df) = ((of - 1.0) * (pf - 1.0), of * pf * (tf - 1.0));
    if error <= 0.0 {
        return Err(StatsError::NoSpread);
    }
    let (ms_o, ms_p) = (operators / (of - 1.0), parts / (pf - 1.0));
    let (ms_i, ms_e) = (interaction / int_df, error / err_df);
    let interaction_f = ms_i / ms_e;
    let pooled = f_tail(interaction_f, int_df, err_df) > 0.25;
    let part_of = |a: f64, b: f64, n: f64| ((a - b) / n).max(0.0);
    let mut found = if pooled {
        let ms = (interaction + error) / (int_df + err_df);
        let (operator, part) = (part_of(ms_o, ms, pf * tf), part_of(ms_p, ms, of * tf));
        GaugeStudy::new(GaugeMethod::AnovaPooled, ms.sqrt(), operator.sqrt(), part.sqrt())
    } else {
        let (operator, part) = (part_of(ms_o, ms_i, pf * tf), part_of(ms_p, ms_i, of * tf));
        let crossed = part_of(ms_i, ms_e, tf);
        GaugeStudy::new(GaugeMethod::Anova, ms_e.sqrt(), (operator + crossed).sqrt(), part.sqrt())
    };
    found.squares = Some([operators, parts, interaction, error, total]);
    found.interaction_f = Some(interaction_f);
    Ok(found)
}

/// Evaluates a study by averages and ranges (AIAG, Measurement Systems Analysis, 4th ed. 2010,
/// chapter III), with the constants K1, K2, K3 computed for the size of the study.
///
/// # Errors
/// As [`by_anova`].
pub fn by_average_range(readings: &[GaugeReading]) -> Result<GaugeStudy, StatsError> {
    let study = Crossed::of(readings)?;
    let (o, p, t) = study.shape();
    let range = |values: &[f64]| {
        values.iter().copied().fold(f64::NEG_INFINITY, f64::max)
            - values.iter().copied().fold(f64::INFINITY, f64::min)
    };
    let mean_range = study.cells.iter().map(|c| range(c)).sum::<f64>() / (o * p) as f64;
    let operators: Vec<f64> = (0..o).map(|i| study.mean(|a, _| a == i)).collect();
    let parts: Vec<f64> = (0..p).map(|j| study.mean(|_, b| b == j)).collect();
    let repeatability = mean_range / range_mean_and_sd(t).0;
    let operator = range(&operators) / single_range(o);
    let reproducibility =
        (operator * operator - repeatability * repeatability / (p * t) as f64).max(0.0).sqrt();
    if repeatability <= 0.0 {
        return Err(StatsError::NoSpread);
    }
    Ok(GaugeStudy::new(
        GaugeMethod::AverageRange,
        repeatability,
        reproducibility,
        range(&parts) / single_range(p),
    ))
}

/// Divisor of a single range: d2* = √(d2² + d3²) (Duncan 1986, Quality Control and Industrial Statistics, Table D3).
fn single_range(n: usize) -> f64 {
    let (d2, d3) = range_mean_and_sd(n);
    d2.hypot(d3)
}

/// Mean d2 and standard deviation d3 of the range of `n` standard normal values (Tippett 1925).
fn range_mean_and_sd(n: usize) -> (f64, f64) {
    // P(W ≤ w) = n ∫ φ(x) [Φ(x + w) − Φ(x)]^(n − 1) dx; E W = ∫ P(W > w) dw; E W² = 2 ∫ w P(W > w) dw
    let (over_x, over_w) = (stretches(-9.0, 9.0, 6), stretches(0.0, 14.0, 5));
    let beyond = |w: f64| {
        let at = |x: f64| normal_pdf(x) * (normal_cdf(x + w) - normal_cdf(x)).powi(n as i32 - 1);
        1.0 - n as f64 * integrate(at, &over_x)
    };
    let mean = integrate(beyond, &over_w);
    let second = 2.0 * integrate(|w| w * beyond(w), &over_w);
    (mean, (second - mean * mean).max(0.0).sqrt())
}

/// Readings by operator and part: cell = operator × parts + part.
struct Crossed {
    operators: usize,
    parts: usize,
    cells: Vec<Vec<f64>>,
}

impl Crossed {
    fn of(readings: &[GaugeReading]) -> Result<Self, StatsError> {
        if let Some(at) = readings.iter().position(|r| !r.value.is_finite()) {
            return Err(StatsError::NotFinite { at });
        }
        let mut table: BTreeMap<&str, BTreeMap<&str, Vec<f64>>> = BTreeMap::new();
        for r in readings {
            table.entry(&r.operator).or_default().entry(&r.part).or_default().push(r.value);
        }
        let parts: Vec<&str> =
            table.values().next().map(|row| row.keys().copied().collect()).unwrap_or_default();
        let cells: Vec<Vec<f64>> = table.values().flat_map(|row| row.values().cloned()).collect();
        let trials = cells.first().map_or(0, Vec::len);
        let complete =
            table.values().all(|row| row.keys().eq(parts.iter())) && cells.iter().all(|c| c.len() == trials);
        if !complete {
            return Err(StatsError::Parameter {
                name: "study",
                must: "must be complete: every operator reads every part the same number of times",
            });
        }
        if table.len() < 2 || parts.len() < 2 || trials < 2 {
            return Err(StatsError::TooFew { needed: 8, got: readings.len() });
        }
        Ok(Self { operators: table.len(), parts: parts.len(), cells })
    }

    fn shape(&self) -> (usize, usize, usize) {
        (self.operators, self.parts, self.cells[0].len())
    }

    /// Mean over the cells (operator, part) that are wanted.
    fn mean(&self, wanted: impl Fn(usize, usize) -> bool) -> f64 {
        let chosen = || {
            self.cells
                .iter()
                .enumerate()
                .filter(|(c, _)| wanted(c / self.parts, c % self.parts))
                .flat_map(|(_, cell)| cell.iter().copied())
        };
        sum(chosen()) / chosen().count() as f64
    }
}
