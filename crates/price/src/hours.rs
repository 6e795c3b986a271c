//! How long steps take in this shop: priors from the step table, and what finished tasks teach.

use crate::error::within;
use crate::mishaps::{MishapPrior, Suspicion};
use crate::{Law, Mishaps, PriceError, SharedSpread, Task};
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
    mishaps: Option<Mishaps>,
    /// How many of the finished tasks count as mishaps, each by its chance.
    suspected: f64,
}

/// What is believed before anything is finished, beyond the step table.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Belief {
    /// How far a shop's pace may lie from the table, as a log standard deviation.
    pub pace: f64,
    /// What goes wrong now and then; `None` when nothing but the spread is reckoned with.
    pub mishaps: Option<MishapPrior>,
}

impl Default for Belief {
    /// Pace ±25 %, no mishaps.
    fn default() -> Self {
        Self { pace: PACE_SPREAD, mishaps: None }
    }
}

/// How far a shop's pace may lie from the table before anything is known: ±25 % as a log standard deviation, and
/// common practice has no source for it.
const PACE_SPREAD: f64 = 0.25;

/// Rounds of expectation and maximization: the share of mishaps moves by less than a thousandth after the sixth.
const ROUNDS: usize = 10;

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
        Self::learn_with(priors, finished, &Belief::default())
    }

    /// As [`TimeModel::learn`] under another belief.
    ///
    /// With mishaps, ln time is a mixture of two normals of one spread, the second moved by ln `times`; the share of the
    /// second has a Beta prior. Means, spreads and share are found by expectation and maximization, ten rounds (Dempster,
    /// Laird and Rubin 1977): each finished task is a mishap by its chance, and teaches the rate only what is left.
    ///
    /// # Errors
    /// As [`TimeModel::learn`], or when the belief makes no sense.
    pub fn learn_with(
        priors: &BTreeMap<String, TimePrior>,
        finished: &[Finished],
        belief: &Belief,
    ) -> Result<Self, PriceError> {
        within("belief", "the spread of the pace", belief.pace, 0.0, 2.0, "0 to 2")?;
        if let Some(prior) = &belief.mishaps {
            prior.check()?;
        }
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
        let Some(prior) = &belief.mishaps else {
            return Ok(Self::fitted(priors, &logs, &BTreeMap::new(), belief.pace));
        };
        let mut suspicion = Suspicion::new(prior);
        let mut model = Self::fitted(priors, &logs, &BTreeMap::new(), belief.pace);
        for _ in 0..if finished.is_empty() { 0 } else { ROUNDS } {
            let law = |step: &str| model.steps.get(step).map(|k| (k.mean, k.spread));
            let cleaned = suspicion.clean(&logs, law);
            model = Self::fitted(priors, &cleaned.logs, &cleaned.squares, belief.pace);
        }
        Ok(Self { mishaps: Some(suspicion.mishaps()), suspected: suspicion.counted(), ..model })
    }

    /// The model of logs of times; `squares` are to be added to the sum of squares of a step.
    fn fitted(
        priors: &BTreeMap<String, TimePrior>,
        logs: &BTreeMap<&str, Vec<f64>>,
        squares: &BTreeMap<&str, f64>,
        pace_spread: f64,
    ) -> Self {
        let mut logs = logs.clone();
        let outliers: BTreeMap<&str, usize> =
            logs.iter_mut().map(|(step, values)| (*step, draw_in(values, priors[*step].spread))).collect();
        let (pace, pace_deviation) = pace(priors, &logs, pace_spread);
        let steps = priors
            .iter()
            .map(|(step, prior)| {
                let more = squares.get(step.as_str()).copied().unwrap_or(0.0);
                let known = Known::learn(prior, &logs[step.as_str()], more, pace, pace_deviation);
                (step.clone(), Known { outliers: outliers[step.as_str()], ..known })
            })
            .collect();
        Self { steps, pace, pace_deviation, mishaps: None, suspected: 0.0 }
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
            mean: median * (0.5 * variance).exp() * crate::course::lengthened(self.mishaps),
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

    /// What goes wrong beyond the spread, for [`crate::JobNetwork::mishaps`].
    pub fn mishaps(&self) -> Option<Mishaps> {
        self.mishaps
    }

    /// How many of the finished tasks count as mishaps, each by its chance.
    pub fn suspected(&self) -> f64 {
        self.suspected
    }

    /// Bounds on the rate of a step that hold it with the given chance (0 to 1), what is not known about kind and pace
    /// counted; `None` for a step that is not in the table or a chance that is none.
    pub fn interval(&self, step: &str, chance: f64) -> Option<(Duration, Duration)> {
        let known = self.steps.get(step)?;
        if !(chance > 0.0 && chance < 1.0) {
            return None;
        }
        let z = stats::normal_quantile(0.5 + chance / 2.0);
        let deviation = known.shared.kind.hypot(known.shared.pace);
        let at = |by: f64| Duration::minutes((known.mean + by).exp());
        Some((at(-z * deviation), at(z * deviation)))
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
fn pace(priors: &BTreeMap<String, TimePrior>, logs: &BTreeMap<&str, Vec<f64>>, spread: f64) -> (f64, f64) {
    // a pace that is surely the table's stays so
    let (mut precision, mut sum) = (spread.max(1e-6).powi(-2), 0.0);
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
    fn learn(prior: &TimePrior, logs: &[f64], more_squares: f64, pace: f64, pace_deviation: f64) -> Self {
        let n = logs.len() as f64;
        let start = prior.per_unit.as_minutes().ln() + pace;
        let (kappa, alpha) = (prior.weight, prior.spread_weight / 2.0);
        let beta = alpha * prior.spread.powi(2);
        let own_mean = if logs.is_empty() { start } else { logs.iter().sum::<f64>() / n };
        let squares: f64 = logs.iter().map(|x| (x - own_mean).powi(2)).sum::<f64>() + more_squares;
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
