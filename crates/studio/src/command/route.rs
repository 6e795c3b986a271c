//! Setting the route, and changing it by hand.

use super::book::still_open;
use crate::engine;
use crate::refusal::{Refusal, RefusalKind};
use crate::studio::{Before, Stamp, Studio};
use job::{Job, JobEvent, JobId, Override, PlannedStep, RouteSheet, Signature, StepNo, StepState};

impl Studio {
    /// Sets the route to what is derived now; steps that are done stay done.
    ///
    /// # Errors
    /// When no valid route exists.
    pub fn set_route(&self, id: &JobId, stamp: &Stamp) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, history, shop, now }| {
            still_open(job)?;
            let draft = engine::route::derive(self, job, history, shop, &job.order, until(job))?;
            if let Some(problem) = draft.problem {
                return Err(Refusal::new(RefusalKind::Impossible, "There is no valid route", problem));
            }
            let route =
                RouteSheet { at: now, steps: with_begun(job, draft.steps), overrides: overrides(job) };
            Ok(JobEvent::RouteSet { route }.into())
        })
    }

    /// Puts the open steps of the route in another order. A broken rule is refused with its harm, or taken on by name
    /// with a reason that stays in the record.
    ///
    /// # Errors
    /// When the numbers are not those of the open steps, or a rule is broken and nobody takes it on.
    pub fn reorder_route(
        &self,
        id: &JobId,
        stamp: &Stamp,
        order: &[StepNo],
        take_on: Option<(&str, &str)>,
    ) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, history, shop, now }| {
            still_open(job)?;
            let Some(route) = &job.route else {
                return Err(Refusal::not_yet("There is no route yet", "Set the route first."));
            };
            let mut open: Vec<StepNo> = job.open_steps().map(|s| s.no).collect();
            let mut given = order.to_vec();
            open.sort_unstable();
            given.sort_unstable();
            if open != given {
                return Err(Refusal::invalid("These are not the open steps of the route", "Open the route again."));
            }
            let done = route.steps.iter().filter(|s| !order.contains(&s.no)).cloned();
            let moved = order.iter().filter_map(|no| job.planned(*no)).cloned();
            let mut sheet = RouteSheet { at: now, steps: done.chain(moved).collect(), overrides: route.overrides.clone() };
            let broken = engine::route::breaches(self, job, history, shop, &sheet)?;
            if !broken.is_empty() {
                let Some((name, reason)) = take_on.filter(|(n, r)| !n.trim().is_empty() && !r.trim().is_empty()) else {
                    return Err(Refusal::new(
                        RefusalKind::Impossible,
                        format!("This order does harm. {}", broken.join(" ")),
                        "Keep the derived order, or take it on by name with a reason: it stays in the record.",
                    ));
                };
                sheet.overrides.extend(broken.into_iter().map(|rule| Override {
                    rule,
                    reason: reason.trim().to_owned(),
                    signed: Signature { name: name.trim().to_owned(), at: now },
                }));
                // What was waited for by rule is waited for no longer by those steps that were moved by decision.
                let positions: Vec<StepNo> = sheet.steps.iter().map(|s| s.no).collect();
                for (i, step) in sheet.steps.iter_mut().enumerate() {
                    step.after.retain(|a| positions.iter().position(|p| *p == a.step).is_none_or(|j| j < i));
                }
            }
            Ok(JobEvent::RouteSet { route: sheet }.into())
        })
    }
}

/// How far a route may go as things stand: before consent only cleaning and survey.
pub(crate) fn until(job: &Job) -> engine::route::Until {
    if job.acceptance.is_some() { engine::route::Until::HandedOver } else { engine::route::Until::Surveyed }
}

fn overrides(job: &Job) -> Vec<Override> {
    job.route.as_ref().map(|r| r.overrides.clone()).unwrap_or_default()
}

/// Steps that are under way keep their number and record: the new plan takes them over.
fn with_begun(job: &Job, mut steps: Vec<PlannedStep>) -> Vec<PlannedStep> {
    let mut renamed = Vec::new();
    for step in &mut steps {
        let begun = job.work.iter().find(|(_, r)| {
            matches!(r.state, StepState::Running | StepState::Paused)
                && r.planned.step == step.step
                && r.planned.panels == step.panels
        });
        if let Some((no, _)) = begun {
            renamed.push((step.no, *no));
            step.no = *no;
        }
    }
    for after in steps.iter_mut().flat_map(|s| &mut s.after) {
        if let Some((_, to)) = renamed.iter().find(|(from, _)| *from == after.step) {
            after.step = *to;
        }
    }
    steps
}
