//! Tasks in which something went wrong: how many there are, and what the others say without them.

use crate::error::within;
use crate::{Mishaps, PriceError};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What is believed of mishaps before anything is finished.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct MishapPrior {
    /// In which share of tasks something goes wrong, 0 to 1.
    pub share: f64,
    /// How many finished tasks that share is worth.
    pub weight: f64,
    /// How many times as long such a task takes.
    pub times: f64,
}

impl Default for MishapPrior {
    /// One task in twenty-five takes twice as long; worth 50 finished tasks. Common practice, no source.
    fn default() -> Self {
        Self { share: 0.04, weight: 50.0, times: 2.0 }
    }
}

impl MishapPrior {
    pub(crate) fn check(&self) -> Result<(), PriceError> {
        let place = "belief in mishaps";
        within(place, "the share of tasks", self.share, 0.0, 0.5, "0 to 0.5")?;
        within(place, "the weight in tasks", self.weight, 0.1, 1e6, "0.1 or more")?;
        within(place, "how many times as long", self.times, 1.05, 10.0, "1.05 to 10")?;
        Ok(())
    }
}

/// Logs of times with mishaps taken out by their chance.
pub(crate) struct Cleaned<'a> {
    pub(crate) logs: BTreeMap<&'a str, Vec<f64>>,
    /// What taking out a mean hides of the squares.
    pub(crate) squares: BTreeMap<&'a str, f64>,
}

/// How many mishaps are suspected, as it is known so far.
pub(crate) struct Suspicion {
    prior: MishapPrior,
    share: f64,
    counted: f64,
}

impl Suspicion {
    pub(crate) fn new(prior: &MishapPrior) -> Self {
        Self { prior: *prior, share: prior.share, counted: 0.0 }
    }

    /// One round: each time is a mishap by its chance under the law of its step (mean and spread of the log), and moves
    /// back by that chance × ln `times`; the share is counted anew.
    pub(crate) fn clean<'a>(
        &mut self,
        logs: &BTreeMap<&'a str, Vec<f64>>,
        law: impl Fn(&str) -> Option<(f64, f64)>,
    ) -> Cleaned<'a> {
        let longer = self.prior.times.ln();
        let mut cleaned = Cleaned { logs: logs.clone(), squares: BTreeMap::new() };
        let (mut counted, mut all) = (0.0, 0.0);
        for (step, values) in &mut cleaned.logs {
            let Some((mean, spread)) = law(step) else { continue };
            let mut hidden = 0.0;
            for value in values {
                let height = |x: f64| (-0.5 * (x / spread).powi(2)).exp();
                let (usual, wrong) =
                    ((1.0 - self.share) * height(*value - mean), self.share * height(*value - mean - longer));
                // so far out that both vanish: on the far side it is a mishap, on the near side none
                let chance = if usual + wrong > 0.0 {
                    wrong / (usual + wrong)
                } else {
                    f64::from(u8::from(*value > mean + 0.5 * longer))
                };
                *value -= chance * longer;
                hidden += chance * (1.0 - chance) * longer * longer;
                counted += chance;
                all += 1.0;
            }
            cleaned.squares.insert(step, hidden);
        }
        self.counted = counted;
        self.share = (self.prior.share * self.prior.weight + counted) / (self.prior.weight + all);
        cleaned
    }

    pub(crate) fn mishaps(&self) -> Mishaps {
        Mishaps { chance: self.share, times: self.prior.times }
    }

    pub(crate) fn counted(&self) -> f64 {
        self.counted
    }
}
