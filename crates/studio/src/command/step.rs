//! Work on steps.

use super::book::still_open;
use crate::refusal::Refusal;
use crate::studio::{Before, Changes, Stamp, Studio, zone_of};
use jiff::Timestamp;
use job::{CarEvent, Job, JobEvent, JobId, LotUse, PlannedStep, Shop, ShopEvent, StepNo, StepState};

/// What is said when a step is finished.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Finished {
    /// A remark.
    pub note: String,
    /// Lots used.
    pub lots: Vec<LotUse>,
    /// What was looked at and found in order, in words.
    pub checked: Vec<String>,
}

impl Studio {
    /// Starts a step, or goes on with a paused one.
    ///
    /// # Errors
    /// When earlier steps are not over, a wait has not passed, consent is missing, or it is done already.
    pub fn start_step(&self, id: &JobId, stamp: &Stamp, no: StepNo) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, now, .. }| {
            still_open(job)?;
            let planned = job.planned(no).ok_or_else(|| no_step(no))?;
            match job.step_state(no) {
                StepState::Running => return Ok(Changes::default()),
                StepState::Done => {
                    return Err(Refusal::not_yet(
                        format!("'{}' is finished", planned.title),
                        "Undo the finish first.",
                    ));
                }
                StepState::Dropped(why) => {
                    return Err(Refusal::not_yet(
                        format!("'{}' was left out: {why}", planned.title),
                        "Set the route anew if it is needed after all.",
                    ));
                }
                StepState::Todo | StepState::Paused => {}
            }
            if let Some(change) = job.open_change() {
                return Err(Refusal::not_yet(
                    format!("Change order {} waits for the customer: {}", change.no, change.reason),
                    "Nothing is worked on before it is agreed or declined.",
                ));
            }
            let waits = needs(job, no, now);
            if !waits.is_empty() {
                return Err(Refusal::not_yet(
                    format!("'{}' cannot begin yet: {}", planned.title, waits.join("; ")),
                    "Finish what comes first.",
                ));
            }
            Ok(JobEvent::StepStarted { no, at: now, by: stamp.by.clone() }.into())
        })
    }

    /// Pauses a running step.
    ///
    /// # Errors
    /// When it does not run.
    pub fn pause_step(&self, id: &JobId, stamp: &Stamp, no: StepNo) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, now, .. }| match job.step_state(no) {
            StepState::Running => Ok(JobEvent::StepPaused { no, at: now }.into()),
            StepState::Paused => Ok(Changes::default()),
            _ => Err(Refusal::not_yet("This step does not run", "Start it first.")),
        })
    }

    /// Finishes a step, booking the lots used.
    ///
    /// # Errors
    /// When it was never started, or a lot is unknown or expired.
    pub fn finish_step(
        &self,
        id: &JobId,
        stamp: &Stamp,
        no: StepNo,
        done: &Finished,
    ) -> Result<u64, Refusal> {
        self.decide(id, stamp, |before| {
            let Before { job, shop, now, .. } = before;
            let planned = job.planned(no).ok_or_else(|| no_step(no))?;
            match job.step_state(no) {
                StepState::Running | StepState::Paused => {}
                StepState::Done => return Ok(Changes::default()),
                StepState::Todo | StepState::Dropped(_) => {
                    return Err(Refusal::not_yet(
                        format!("'{}' was not started", planned.title),
                        "Start it first.",
                    ));
                }
            }
            for used in &done.lots {
                check_lot(shop, used, now)?;
            }
            let mut changes = Changes::from(JobEvent::StepFinished {
                no,
                at: now,
                by: stamp.by.clone(),
                note: done.note.trim().to_owned(),
                lots: done.lots.clone(),
                checked: done.checked.clone(),
            });
            changes.shop.extend(done.lots.iter().map(|used| ShopEvent::ProductUsed {
                product: used.product.clone(),
                lot: used.lot.clone(),
                amount: used.amount,
                job: id.clone(),
            }));
            self.follow_from(before, id, planned, &mut changes);
            Ok(changes)
        })
    }

    /// Takes back the last start, pause or finish of a step: a slip of the hand.
    ///
    /// # Errors
    /// When nothing was done of it.
    pub fn undo_step(&self, id: &JobId, stamp: &Stamp, no: StepNo) -> Result<u64, Refusal> {
        self.decide(id, stamp, |Before { job, now, .. }| {
            if job.step_state(no) == StepState::Todo {
                return Err(Refusal::not_yet("Nothing was done of this step", ""));
            }
            let mut changes = Changes::from(JobEvent::StepUndone { no, at: now });
            // Lots that were booked with the finish go back on the shelf.
            if job.step_state(no) == StepState::Done {
                let lots = job.work.get(&no).map(|r| r.lots.as_slice()).unwrap_or_default();
                changes.shop.extend(lots.iter().map(|used| ShopEvent::ProductUsed {
                    product: used.product.clone(),
                    lot: used.lot.clone(),
                    amount: used.amount * -1.0,
                    job: id.clone(),
                }));
            }
            Ok(changes)
        })
    }

    /// Leaves a step out, with the reason.
    ///
    /// # Errors
    /// When no reason is given or it is done.
    pub fn drop_step(&self, id: &JobId, stamp: &Stamp, no: StepNo, why: &str) -> Result<u64, Refusal> {
        if why.trim().is_empty() {
            return Err(Refusal::invalid("No reason is given", "Say why the step is left out."));
        }
        self.decide(id, stamp, |Before { job, .. }| {
            job.planned(no).ok_or_else(|| no_step(no))?;
            if job.step_state(no) == StepState::Done {
                return Err(Refusal::not_yet("The step is finished", "Undo the finish first."));
            }
            Ok(JobEvent::StepDropped { no, why: why.trim().to_owned() }.into())
        })
    }
}

/// What must be over before a step may begin, in words; empty when it may.
pub(crate) fn needs(job: &Job, no: StepNo, now: Timestamp) -> Vec<String> {
    let Some(planned) = job.planned(no) else { return Vec::new() };
    let mut waits = Vec::new();
    for after in &planned.after {
        let title = || {
            let record = job.work.get(&after.step).map(|r| r.planned.title.clone());
            record.or_else(|| job.planned(after.step).map(|p| p.title.clone())).unwrap_or_default()
        };
        match job.step_state(after.step) {
            StepState::Done => {
                if let Some(end) = ended(job, after.step)
                    && let Ok(free) = end.checked_add(crate::engine::span(after.least))
                    && free > now
                {
                    let left = now.duration_until(free).as_secs_f64() / 60.0;
                    waits.push(format!(
                        "'{}' rests for another {}",
                        title(),
                        crate::engine::minutes_in_words(left)
                    ));
                }
            }
            StepState::Dropped(_) => {}
            StepState::Todo | StepState::Running | StepState::Paused => {
                // A step that is on no route any more holds nobody up.
                if job.planned(after.step).is_some() {
                    waits.push(format!("'{}' is not finished", title()));
                }
            }
        }
    }
    waits
}

impl Studio {
    /// What finishing a step means beyond its own record.
    fn follow_from(&self, before: Before<'_>, id: &JobId, planned: &PlannedStep, changes: &mut Changes) {
        let Before { shop, now, .. } = before;
        match planned.step.as_str() {
            "lay_film" => {
                // Without a cut plan there is no batch to book; the film page says so loudly.
                if let Ok(laid) = super::film::lay(&self.results, id, before, "", &planned.panels) {
                    changes.job.extend(laid.job);
                    changes.car.extend(laid.car);
                }
            }
            "remove_old_film" => {
                let on = now.to_zoned_datetime(zone_of(shop)).date();
                for panel in &planned.panels {
                    let why = "taken off".to_owned();
                    changes.car.push(CarEvent::FilmOff { panel: panel.clone(), on, why });
                }
            }
            _ => {}
        }
    }
}

/// When a finished step ended.
pub(crate) fn ended(job: &Job, no: StepNo) -> Option<Timestamp> {
    job.work.get(&no)?.spans.last()?.to
}

fn check_lot(shop: &Shop, used: &LotUse, now: Timestamp) -> Result<(), Refusal> {
    let product = shop.products.iter().find(|p| p.name == used.product);
    let lot = product.and_then(|p| p.lots.iter().find(|l| l.lot == used.lot)).ok_or_else(|| {
        Refusal::not_found(
            format!("Lot {} of {} is not on the shelf", used.lot, used.product),
            "Receive it under stock, or choose another lot.",
        )
    })?;
    let today = now.to_zoned_datetime(zone_of(shop)).date();
    if let Some(expires) = lot.expires
        && expires < today
    {
        return Err(Refusal::invalid(
            format!("Lot {} of {} expired on {expires}", used.lot, used.product),
            "Take another lot, and dispose of this one by local rules and its safety data sheet.",
        ));
    }
    Ok(())
}

fn no_step(no: StepNo) -> Refusal {
    Refusal::not_found(
        format!("There is no step {no} on the route"),
        "Open the route again: it may have been set anew.",
    )
}
