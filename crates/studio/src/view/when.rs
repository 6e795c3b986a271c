//! When a car that is not here yet could be ready, with odds.

use crate::engine::{
    self, minutes_in_words,
    route::Until,
    schedule::{Load, Odds},
};
use crate::figure::Figure;
use crate::refusal::Refusal;
use crate::studio::Studio;
use crate::view::CarTag;
use jiff::Timestamp;
use job::{Car, CarHistory, Job, JobId, Order};
use std::sync::Arc;
use units::Duration;

/// The number under which a car that is only asked about is planned.
const ASKED: &str = "9999";

/// Shares of all draws for which a time is told.
const SHARES: [f64; 3] = [0.5, 0.8, 0.95];

/// An answer to "when could this be done?".
#[derive(Clone, Debug, Default)]
pub struct WhenView {
    /// Steps that it would take.
    pub steps: usize,
    /// Work in them.
    pub work: Duration,
    /// When the plan has it ready, if everything takes as long as planned.
    pub planned: Option<Timestamp>,
    /// By when it is ready in which share of all draws; none when so many came to no end within the days planned.
    pub odds: Vec<(f64, Option<Timestamp>)>,
    /// Cars that would be later than without it, and by how much in words.
    pub delayed: Vec<(CarTag, String)>,
    /// How the odds were found.
    pub account: Option<Figure>,
    /// Why there is no answer, with the way out.
    pub problem: Option<String>,
}

impl Studio {
    /// When a car could be ready that comes at `from` for this order, all open jobs planned beside it.
    ///
    /// # Errors
    /// When the journal or the step library cannot be read.
    pub fn when_view(&self, car: &Car, order: &Order, from: Option<Timestamp>) -> Result<WhenView, Refusal> {
        let shop = self.shop()?;
        let now = self.now();
        let asked = JobId(ASKED.to_owned());
        let job = Job { car: car.clone(), order: order.clone(), expected: from, ..Job::default() };
        let route =
            engine::route::derive(self, &job, &CarHistory::default(), &shop, order, Until::HandedOver)?;
        let mut view = WhenView {
            steps: route.steps.len(),
            work: route.steps.iter().map(|s| s.work).sum(),
            problem: route.problem,
            ..WhenView::default()
        };
        if view.problem.is_some() {
            return Ok(view);
        }
        let mut loads = self.loads(&shop)?;
        let without = engine::schedule::plan(self, &loads, &shop, now, true);
        loads.push(Load { id: asked.clone(), job: Arc::new(job), steps: route.steps });
        let plan = engine::schedule::plan(self, &loads, &shop, now, true);
        view.problem.clone_from(&plan.problem);
        view.planned = plan.ends.get(&asked).copied();
        for entry in self.open_jobs()? {
            if let Some((before, after)) = without.ends.get(&entry.id).zip(plan.ends.get(&entry.id))
                && after > before
            {
                let minutes = after.duration_since(*before).as_secs() as f64 / 60.0;
                view.delayed.push((CarTag::of(&entry.id, &entry.job), minutes_in_words(minutes)));
            }
        }
        if view.planned.is_some() {
            let odds = engine::schedule::odds(self, &loads, &shop, now, &asked);
            view.odds = SHARES.iter().map(|share| (*share, odds.by(*share))).collect();
            view.account = Some(account(&odds));
        }
        Ok(view)
    }
}

fn account(odds: &Odds) -> Figure {
    Figure::new("Odds", odds.draws.to_string(), "draws")
        .by(
            "the plan lived through again and again; each step takes its planned time × a log-normal factor with median 1, \
             spread 0.22 by itself and 0.16 for all steps together; order kept, everything moves right as far as it must",
            "Simulation; spreads are common practice, no source, until the shop has its own history",
        )
        .from("Draws that came to an end", odds.ends.len().to_string())
}
