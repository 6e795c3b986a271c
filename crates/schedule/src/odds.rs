//! How likely a plan holds: the plan lived through many times, each time with durations drawn anew.

use crate::outcome::Outcome;
use crate::plan::Plan;
use crate::problem::{JobId, Price, Problem, State};
use crate::studio::{Search, Start};
use crate::time::Slot;
use effort::Effort;
use std::collections::BTreeMap;
use units::Seed;

/// How far work strays from what was planned: standard deviations of the logarithm of the ratio.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spread {
    /// Of each task by itself.
    pub task: f64,
    /// Of all tasks together: a slow week.
    pub shared: f64,
}

/// Lives through the plan `draws` times: work of what has not started is drawn log-normally around what was
/// planned, everything keeps the order of the plan and moves right as far as it must. One entry a draw:
/// when each job ends, or none where the work no longer fits before the horizon or between its limits.
///
/// Cures and rests keep their length. A task that may not pause but outgrows its shift goes on in the next.
pub fn simulate(
    problem: &Problem,
    plan: &Plan,
    spread: Spread,
    draws: u32,
    seed: Seed,
) -> Vec<Option<BTreeMap<JobId, Slot>>> {
    let mut chance = seed.sequence();
    let mut lived = problem.clone();
    lived.previous = Some(plan.clone());
    lived.price = Price { move_task: 0, move_slot: 0, upheaval: 0, ..problem.price };
    let mut ends = Vec::with_capacity(draws as usize);
    for _ in 0..draws {
        let pace = spread.shared * chance.normal();
        for (task, planned) in lived.tasks.iter_mut().zip(&problem.tasks) {
            let own = spread.task * chance.normal();
            if planned.crew.is_empty() || planned.work == 0 || !matches!(planned.state, State::Free) {
                continue;
            }
            let work = (f64::from(planned.work) * (own + pace).exp()).round().clamp(1.0, 100_000.0) as u32;
            task.work = work;
            task.splittable = planned.splittable || work > planned.work;
        }
        ends.push(match Search::new(&lived, seed).run(Start::Previous, &Effort::steps(0)) {
            Outcome::Plan(plan) => Some(job_ends(&lived, &plan)),
            Outcome::Infeasible(_) | Outcome::Unsettled(_) => None,
        });
    }
    ends
}

fn job_ends(problem: &Problem, plan: &Plan) -> BTreeMap<JobId, Slot> {
    let mut ends: BTreeMap<JobId, Slot> = BTreeMap::new();
    for (task, placement) in problem.tasks.iter().zip(&plan.placements) {
        let end = ends.entry(task.job).or_insert(placement.end);
        *end = (*end).max(placement.end);
    }
    ends
}
