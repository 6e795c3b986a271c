//! How long steps take in this shop: priors from the step table, and what finished tasks teach.

use crate::error::within;
use crate::{Law, PriceError, SharedSpread, Task};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use units::{Duration, Explained};

/// What the step table says about one kind of step, before the shop has any history.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TimePrior {
    /// What is counted: `car`, `panel`, `m²`.
    pub unit: String,
    /// Work on one unit in normal condition; half of all cases take less.
    pub per_unit: Duration,
    /// Standard deviation of the logarithm from one job to the next; 0.25 is about ±25 %.
    pub spread: f64,
    /// How many finished tasks the rate is worth, above 0; small to learn fast.
    pub weight: f64,
    /// How many finished tasks the spread is worth, above 2.
    pub spread_weight: f64,
    /// Where the numbers come from.
    pub source: String,
}

impl TimePrior {
    /// With the usual weights: the rate is worth 3 finished tasks, the spread 8.
    pub fn new(unit: impl Into<String>, per_unit: Duration, spread: f64, source: impl Into<String>) -> Self {
        Self { unit: unit.into(), per_unit, spread, weight: 3.0, spread_weight: 8.0, source: source.into() }
    }
}

/// A task of the shop's own past.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Finished {
    /// The kind of step.
    pub step: String,
    /// Units done.
    pub quantity: f64,
    /// Condition factor that was set: 1 normal, above 1 worse.
    pub condition: f64,
    /// Work it took, all people together.
    pub took: Duration,
}

/// What a rate rests on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Evidence {
    /// Finished tasks of this kind.
    pub finished: usize,
    /// Of these, so far from the others that they were drawn in: a clock left running, or a job of another sort.
    pub outliers: usize,
    /// Rate of the step table.
    pub prior: Duration,
    /// Rate as learnt.
    pub learned: Duration,
    /// Spread of the step table.
    pub prior_spread: f64,
    /// Spread as learnt, of one task around a known rate.
    pub learned_spread: f64,
    /// The shop's pace over all steps against the table: above 1 slower.
    pub pace: f64,
    /// How much of the rate comes from this kind's own tasks, 0 to 1.
    pub own_share: f64,
}

/// A step's time before it is done.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Forecast {
    /// Half of all cases take less.
    pub median: Duration,
    /// Mean, with all that is not known.
    pub mean: Duration,
    /// Log standard deviation of this task's own time.
    pub spread: f64,
    /// What is not known about the kind and the pace.
    pub shared: SharedSpread,
    /// What it rests on.
    pub evidence: Evidence,
    /// How it was computed.
    pub explained: Explained,
}

/// What is known about one kind of step.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
struct Known {
    prior: TimePrior,
    finished: usize,
    outliers: usize,
    /// Mean of ln(minutes per unit).
    mean: f64,
    /// Log standard deviation of one task, predictive.
    spread: f64,
    shared: SharedSpread,
    own_share: f64,
}

/// Times of all steps in this shop.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct TimeModel {
    steps: BTreeMap<String, Known>,
    pace: f64,
    pace_deviation: f64,
}

/// How far a shop's pace may lie from the table before anything is known: ±25 % as a log standard deviation, and
/// common practice has no source for it.
const PACE_SPREAD: f64 = 0.25;

/// Beyond how many of the table's spreads from the median a finished task is drawn in.
const OUTLIER: f64 = 4.0;

impl TimeModel {
    /// The step table alone: learning switched off.
    ///
    /// # Errors
    /// When a prior makes no sense.
    pub fn from_priors(priors: &BTreeMap<String, TimePrior>) -> Result<Self, PriceError> {
        Self::learn(priors, &[])
    }

    /// The step table and the shop's finished tasks.
    ///
    /// ln(time / quantity / condition) of a step is normal around table + pace + the step's own deviation. The pace has a
    /// normal prior and learns from all steps; each step then has a normal-gamma prior around table + pace (for instance
    /// Gelman et al., Bayesian Data Analysis, 3rd ed., section 3.3). The step's mean is exact under known spreads; the
    /// spread is the normal-gamma's, its long tail taken in by the predictive variance. From three tasks on, one that lies
    /// further than four of the table's spreads from their median is drawn in to there, and counted in the evidence.
    ///
    /// # Errors
    /// When a prior or a finished task makes no sense, or its step is not in the table.
    pub fn learn(priors: &BTreeMap<String, TimePrior>, finished: &[Finished]) -> Result<Self, PriceError> {
        let mut logs: BTreeMap<&str, Vec<f64>> = BTreeMap::new();
        for (step, prior) in priors {
            prior.check(step)?;
            logs.insert(step, Vec::new());
        }
        for task in finished {
            let values =
                logs.get_mut(task.step.as_str()).ok_or_else(|| PriceError::NoSuchStep(task.step.clone()))?;
            let place = format!("finished step '{}'", task.step);
            let quantity = within(&place, "the quantity", task.quantity, 1e-6, 1e6, "more than 0")?;
            let condition = within(&place, "the condition factor", task.condition, 0.05, 20.0, "0.05 to 20")?;
            let took = within(
                &place,
                "the time in minutes",
                task.took.as_minutes(),
                1e-3,
                1e7,
                "more than 0 and at most 10 000 000 minutes",
            )?;
            values.push((took / quantity / condition).ln());
        }
        let outliers: BTreeMap<&str, usize> =
            logs.iter_mut().map(|(step, values)| (*step, draw_in(values, priors[*step].spread))).collect();
        let (pace, pace_deviation) = pace(priors, &logs);
        let steps = priors
            .iter()
            .map(|(step, prior)| {
                let known = Known::learn(prior, &logs[step.as_str()], pace, pace_deviation);
                (step.clone(), Known { outliers: outliers[step.as_str()], ..known })
            })
            .collect();
        Ok(Self { steps, pace, pace_deviation })
    }

    /// The time of `quantity` units of a step in a condition (1 normal).
    ///
    /// # Errors
    /// When the step is not in the table, or quantity or condition make no sense.
    pub fn forecast(&self, step: &str, quantity: f64, condition: f64) -> Result<Forecast, PriceError> {
        let known = self.steps.get(step).ok_or_else(|| PriceError::NoSuchStep(step.to_owned()))?;
        let place = format!("step '{step}'");
        within(&place, "the quantity", quantity, 0.0, 1e6, "0 or more")?;
        within(&place, "the condition factor", condition, 0.05, 20.0, "0.05 to 20")?;
        let learned = Duration::minutes(known.mean.exp());
        let median = learned * (quantity * condition);
        let variance = known.spread.powi(2) + known.shared.kind.powi(2) + known.shared.pace.powi(2);
        let explained = Explained::new(
            format!("Time for {step}"),
            "rate × quantity × condition; rate from the step table, moved by the shop's finished tasks (normal-gamma on logarithms)",
            known.prior.source.clone(),
        )
        .with("rate in the table", format!("{:.0} min per {}", known.prior.per_unit.as_minutes(), known.prior.unit))
        .with("finished tasks of this kind", known.finished.to_string())
        .with("of these, drawn in as outliers", known.outliers.to_string())
        .with("pace of the shop", format!("{:.2} × the table", self.pace.exp()))
        .with("rate as learnt", format!("{:.0} min per {}", learned.as_minutes(), known.prior.unit))
        .with("quantity", format!("{quantity:.2} {}", known.prior.unit))
        .with("condition", format!("× {condition:.2}"));
        Ok(Forecast {
            median,
            mean: median * (0.5 * variance).exp(),
            spread: known.spread,
            shared: known.shared,
            evidence: self.told(known),
            explained,
        })
    }

    /// A task for the network, by the forecast; `people` share the work.
    ///
    /// # Errors
    /// As [`TimeModel::forecast`].
    pub fn task(
        &self,
        id: &str,
        step: &str,
        quantity: f64,
        condition: f64,
        people: u32,
    ) -> Result<Task, PriceError> {
        let forecast = self.forecast(step, quantity, condition)?;
        let median = forecast.median / f64::from(people.max(1));
        let law = Law::LogNormal { median, spread: forecast.spread };
        Ok(Task { people: people.max(1), law, ..Task::new(id, step, median, 0.0) })
    }

    /// What is not known about each kind, for [`crate::JobNetwork::shared`].
    pub fn shared(&self) -> BTreeMap<String, SharedSpread> {
        self.steps.iter().map(|(step, known)| (step.clone(), known.shared)).collect()
    }

    /// What each rate rests on, by step.
    pub fn evidence(&self) -> BTreeMap<String, Evidence> {
        self.steps.iter().map(|(step, known)| (step.clone(), self.told(known))).collect()
    }

    /// The shop's pace against the table, above 1 slower, and its log standard deviation.
    pub fn pace(&self) -> (f64, f64) {
        (self.pace.exp(), self.pace_deviation)
    }

    fn told(&self, known: &Known) -> Evidence {
        Evidence {
            finished: known.finished,
            outliers: known.outliers,
            prior: known.prior.per_unit,
            learned: Duration::minutes(known.mean.exp()),
            prior_spread: known.prior.spread,
            learned_spread: known.spread,
            pace: self.pace.exp(),
            own_share: known.own_share,
        }
    }
}

impl TimePrior {
    fn check(&self, step: &str) -> Result<(), PriceError> {
        let place = format!("step '{step}' of the step table");
        within(&place, "the time in minutes", self.per_unit.as_minutes(), 1e-3, 1e6, "more than 0 minutes")?;
        within(&place, "the spread", self.spread, 0.01, 1.5, "0.01 to 1.5")?;
        within(&place, "the weight", self.weight, 0.01, 1e6, "0.01 or more")?;
        within(&place, "the weight of the spread", self.spread_weight, 2.1, 1e6, "more than 2")?;
        Ok(())
    }
}

/// Draws values in to four of the table's spreads around their median, and counts how many it was.
fn draw_in(values: &mut [f64], spread: f64) -> usize {
    if values.len() < 3 {
        return 0;
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let median = crate::simulate::quantile(&sorted, 0.5);
    let (low, high) = (median - OUTLIER * spread, median + OUTLIER * spread);
    let outliers = values.iter().filter(|v| !(low..=high).contains(v)).count();
    values.iter_mut().for_each(|v| *v = v.clamp(low, high));
    outliers
}

/// Mean and standard deviation of the shop's log pace: a step with n tasks tells it with variance σ²(1/n + 1/weight).
fn pace(priors: &BTreeMap<String, TimePrior>, logs: &BTreeMap<&str, Vec<f64>>) -> (f64, f64) {
    let (mut precision, mut sum) = (PACE_SPREAD.powi(-2), 0.0);
    for (step, prior) in priors {
        let values = &logs[step.as_str()];
        if values.is_empty() {
            continue;
        }
        let n = values.len() as f64;
        let away = values.iter().sum::<f64>() / n - prior.per_unit.as_minutes().ln();
        let weight = 1.0 / (prior.spread.powi(2) * (1.0 / n + 1.0 / prior.weight));
        precision += weight;
        sum += weight * away;
    }
    (sum / precision, precision.powf(-0.5))
}

impl Known {
    fn learn(prior: &TimePrior, logs: &[f64], pace: f64, pace_deviation: f64) -> Self {
        let n = logs.len() as f64;
        let start = prior.per_unit.as_minutes().ln() + pace;
        let (kappa, alpha) = (prior.weight, prior.spread_weight / 2.0);
        let beta = alpha * prior.spread.powi(2);
        let own_mean = if logs.is_empty() { start } else { logs.iter().sum::<f64>() / n };
        let squares: f64 = logs.iter().map(|x| (x - own_mean).powi(2)).sum();
        let kappa_n = kappa + n;
        let alpha_n = alpha + n / 2.0;
        let beta_n = beta + 0.5 * squares + kappa * n * (own_mean - start).powi(2) / (2.0 * kappa_n);
        // variance of Student's t with 2α degrees of freedom over its squared scale is α / (α − 1)
        let variance = beta_n / (alpha_n - 1.0);
        Self {
            prior: prior.clone(),
            finished: logs.len(),
            outliers: 0,
            mean: (kappa * start + n * own_mean) / kappa_n,
            spread: variance.sqrt(),
            shared: SharedSpread {
                kind: (variance / kappa_n).sqrt(),
                pace: pace_deviation * kappa / kappa_n,
            },
            own_share: n / kappa_n,
        }
    }
}
