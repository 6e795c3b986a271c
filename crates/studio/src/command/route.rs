//! Setting the route, and changing it by hand.

use super::book::still_open;
use crate::engine::route::Judgment;
use crate::engine::{self, Case};
use crate::refusal::{Refusal, RefusalKind};
use crate::studio::{Before, Changes, Stamp, Studio};
use job::{
    After, Job, JobEvent, JobId, Override, PanelId, PlannedStep, RouteSheet, Signature, StepNo, StepState,
};

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
            let sheet = reordered(job, route, order, now)?;
            let case = Case { studio: self, job, history, shop };
            by_hand(case, sheet, Signature { name: String::new(), at: now }, take_on)
        })
    }

    /// What another order of the open steps would break, and the nearest that holds; changes nothing.
    ///
    /// # Errors
    /// When there is no set route, or the numbers are not those of its open steps.
    pub fn judge_order(&self, id: &JobId, order: &[StepNo]) -> Result<Judgment, Refusal> {
        let job = self.job(id)?.job;
        let (history, shop) = (self.history(&job.car.plate)?, self.shop()?);
        let route = job
            .route
            .as_ref()
            .ok_or_else(|| Refusal::not_yet("There is no route yet", "Set the route first."))?;
        let sheet = reordered(&job, route, order, self.now())?;
        engine::route::judge(Case { studio: self, job: &job, history: &history, shop: &shop }, &sheet)
    }

    /// Puts a step of the library onto the route, before an open step or at the end. A broken rule is refused with its
    /// harm, or taken on by name with a reason that stays in the record.
    ///
    /// # Errors
    /// When there is no such step, or a rule is broken and nobody takes it on.
    pub fn add_to_route(
        &self,
        id: &JobId,
        stamp: &Stamp,
        (step, panels): (&str, &[PanelId]),
        before: Option<StepNo>,
        take_on: Option<(&str, &str)>,
    ) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, history, shop, now }| {
            still_open(job)?;
            let Some(route) = &job.route else {
                return Err(Refusal::not_yet("There is no route yet", "Set the route first."));
            };
            let case = Case { studio: self, job, history, shop };
            let mut added = engine::route::single(case, step, panels, job.next_step())?;
            let mut steps = route.steps.clone();
            let at = before.and_then(|no| steps.iter().position(|s| s.no == no)).unwrap_or(steps.len());
            // Where it breaks a rule and somebody takes that on, it stands where it was put.
            if let Some(last) = at.checked_sub(1).and_then(|i| steps.get(i)) {
                added.after = vec![After { step: last.no, least: last.wait, most: None }];
            }
            steps.insert(at, added);
            let sheet = RouteSheet { at: now, steps, overrides: route.overrides.clone() };
            by_hand(case, sheet, Signature { name: String::new(), at: now }, take_on)
        })
    }

    /// Takes a step that has not begun off the route. When that leaves a rule broken or something ordered undone it is
    /// refused, or taken on by name with a reason that stays in the record.
    ///
    /// # Errors
    /// When the step is not open, or something is broken by it and nobody takes it on.
    pub fn take_off_route(
        &self,
        id: &JobId,
        stamp: &Stamp,
        no: StepNo,
        take_on: Option<(&str, &str)>,
    ) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, history, shop, now }| {
            still_open(job)?;
            let Some(route) = &job.route else {
                return Err(Refusal::not_yet("There is no route yet", "Set the route first."));
            };
            let Some(at) = route.steps.iter().position(|s| s.no == no) else {
                return Err(Refusal::not_found("This step is not on the route", "Open the route again."));
            };
            if job.step_state(no) != StepState::Todo {
                return Err(Refusal::not_yet("This step has begun", "Finish it, or undo its start first."));
            }
            let mut steps = route.steps.clone();
            let gone = steps.remove(at);
            for step in &mut steps {
                // What waited for it waits for what it waited for.
                if step.after.iter().any(|a| a.step == no) {
                    step.after.retain(|a| a.step != no);
                    let known: Vec<StepNo> = step.after.iter().map(|a| a.step).collect();
                    step.after.extend(gone.after.iter().filter(|a| !known.contains(&a.step)).cloned());
                }
            }
            let sheet = RouteSheet { at: now, steps, overrides: route.overrides.clone() };
            let case = Case { studio: self, job, history, shop };
            by_hand(case, sheet, Signature { name: String::new(), at: now }, take_on)
        })
    }
}

/// The route with its open steps in another order.
fn reordered(
    job: &Job,
    route: &RouteSheet,
    order: &[StepNo],
    now: jiff::Timestamp,
) -> Result<RouteSheet, Refusal> {
    let mut open: Vec<StepNo> = job.open_steps().map(|s| s.no).collect();
    let mut given = order.to_vec();
    open.sort_unstable();
    given.sort_unstable();
    if open != given {
        let numbers: Vec<String> = job.open_steps().map(|s| s.no.to_string()).collect();
        return Err(Refusal::invalid(
            "These are not the open steps of the route",
            format!("Name each of these once: {}.", numbers.join(",")),
        ));
    }
    let done = route.steps.iter().filter(|s| !order.contains(&s.no)).cloned();
    let moved = order.iter().filter_map(|no| job.planned(*no)).cloned();
    Ok(RouteSheet { at: now, steps: done.chain(moved).collect(), overrides: route.overrides.clone() })
}

/// A route changed by hand: as it is when it holds, with overrides when somebody takes on what it breaks.
fn by_hand(
    case: Case<'_>,
    mut sheet: RouteSheet,
    signed: Signature,
    take_on: Option<(&str, &str)>,
) -> Result<Changes, Refusal> {
    let found = engine::route::judge(case, &sheet)?;
    if !found.breaches.is_empty() {
        let Some((name, reason)) = take_on.filter(|(n, r)| !n.trim().is_empty() && !r.trim().is_empty())
        else {
            let nearest =
                if found.nearest.is_empty() { String::new() } else { format!("{} Or: ", found.nearest) };
            return Err(Refusal::new(
                RefusalKind::Impossible,
                format!("This order does harm. {}", found.breaches.join(" ")),
                format!(
                    "{nearest}Keep the derived order, or take it on by name with a reason: it stays in the record."
                ),
            ));
        };
        sheet.overrides.extend(found.breaches.into_iter().map(|rule| Override {
            rule,
            reason: reason.trim().to_owned(),
            signed: Signature { name: name.trim().to_owned(), ..signed.clone() },
        }));
    }
    let positions: Vec<StepNo> = sheet.steps.iter().map(|s| s.no).collect();
    let job = case.job;
    for (i, step) in sheet.steps.iter_mut().enumerate() {
        match found.open.iter().flatten().find(|(no, ..)| *no == step.no) {
            // Links anew from the order as it stands; waits after what is done stay.
            Some((_, after, why)) => {
                step.after.retain(|a| matches!(job.step_state(a.step), StepState::Done));
                step.after.extend(after.iter().cloned());
                step.why.clone_from(why);
            }
            // What was waited for by rule is waited for no longer by those steps that were moved by decision.
            None => step.after.retain(|a| positions.iter().position(|p| *p == a.step).is_none_or(|j| j < i)),
        }
    }
    Ok(JobEvent::RouteSet { route: sheet }.into())
}

/// How far a route may go as things stand: before consent only cleaning and survey.
pub(crate) fn until(job: &Job) -> engine::route::Until {
    if job.acceptance.is_some() { engine::route::Until::HandedOver } else { engine::route::Until::Surveyed }
}

fn overrides(job: &Job) -> Vec<Override> {
    job.route.as_ref().map(|r| r.overrides.clone()).unwrap_or_default()
}

/// Steps that are under way keep their number and record, also where they now cover more panels or fewer: the new plan
/// takes them over. One that the new plan has no use for stays at its head as it was begun: what somebody has in hand is
/// never gone from under it.
fn with_begun(job: &Job, mut steps: Vec<PlannedStep>) -> Vec<PlannedStep> {
    let mut renamed: Vec<(StepNo, StepNo)> = Vec::new();
    let mut kept = Vec::new();
    for (no, record) in &job.work {
        if !matches!(record.state, StepState::Running | StepState::Paused) {
            continue;
        }
        let begun = &record.planned;
        let free = |s: &&mut PlannedStep| s.step == begun.step && renamed.iter().all(|(_, to)| *to != s.no);
        let nearest = steps.iter_mut().filter(free).filter(|s| in_common(begun, s) > 0);
        // of several that are as near the first
        match nearest.rev().max_by_key(|s| (s.panels == begun.panels, in_common(begun, s))) {
            Some(step) => {
                renamed.push((step.no, *no));
                step.no = *no;
            }
            None => kept.push(PlannedStep { no: *no, after: Vec::new(), ..begun.clone() }),
        }
    }
    for after in steps.iter_mut().flat_map(|s| &mut s.after) {
        if let Some((_, to)) = renamed.iter().find(|(from, _)| *from == after.step) {
            after.step = *to;
        }
    }
    kept.append(&mut steps);
    kept
}

/// Panels that two steps share; work on the whole car shares any.
fn in_common(a: &PlannedStep, b: &PlannedStep) -> usize {
    if a.panels.is_empty() || b.panels.is_empty() {
        return 1;
    }
    a.panels.iter().filter(|p| b.panels.contains(p)).count()
}
