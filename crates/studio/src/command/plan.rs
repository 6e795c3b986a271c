//! Keeping a plan, and changing it by hand: move, swap, pin, put off, and tell of a slip.

use super::book::still_open;
use crate::engine::schedule::{NotBefore, ShopPlan, plan_around};
use crate::refusal::{Refusal, RefusalKind};
use crate::studio::{Before, Stamp, Studio, zone_of};
use crate::view::{CalendarView, as_it_is};
use jiff::{Timestamp, ToSpan, civil::Date};
use job::{Booking, JobEvent, JobId, Shop, ShopEvent, StepNo, StepState};
use std::sync::Arc;
use units::Duration;

/// A change of the known plan by hand. Everything else is planned around it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PlanChange {
    /// To this time and, where one is named, this bay: pinned there. Who does it is chosen anew.
    Put {
        /// The job.
        job: JobId,
        /// The step.
        step: StepNo,
        /// Its new start.
        at: Timestamp,
        /// Its new bay; none keeps the bay open.
        bay: Option<String>,
    },
    /// Two steps change times and bays.
    Swap {
        /// One of them.
        one: (JobId, StepNo),
        /// The other.
        other: (JobId, StepNo),
    },
    /// Not before tomorrow.
    NotToday {
        /// The job.
        job: JobId,
        /// The step.
        step: StepNo,
    },
}

impl PlanChange {
    /// The steps that it is about.
    fn concerns(&self) -> Vec<(&JobId, StepNo)> {
        match self {
            Self::Put { job, step, .. } | Self::NotToday { job, step } => vec![(job, *step)],
            Self::Swap { one, other } => vec![(&one.0, one.1), (&other.0, other.1)],
        }
    }
}

impl Studio {
    /// Keeps the plan as it would be now: from now on people know it.
    ///
    /// # Errors
    /// When there is no plan.
    pub fn keep_plan(&self, stamp: &Stamp) -> Result<(), Refusal> {
        let plan = self.plan_now(&*self.shop()?, true)?;
        self.keep(stamp, &plan)
    }

    fn keep(&self, stamp: &Stamp, plan: &ShopPlan) -> Result<(), Refusal> {
        if let Some(problem) = &plan.problem {
            return Err(Refusal::new(RefusalKind::Impossible, "There is no plan to keep", problem.clone()));
        }
        self.decide_shop(stamp, |shop, now| {
            // What is over stays in the plan as it was done: the day board and the calendar show it.
            let jobs = self.jobs()?;
            let over = |b: &&Booking| {
                let entry = jobs.iter().find(|e| e.id == b.job);
                let done = entry.is_some_and(|e| {
                    matches!(e.job.step_state(b.step), StepState::Done | StepState::Dropped(_))
                });
                done && !plan.bookings.iter().any(|n| n.job == b.job && n.step == b.step)
                    && b.to > now.checked_sub(jiff::SignedDuration::from_hours(24 * 14)).unwrap_or(now)
            };
            let as_done = |b: &Booking| match jobs.iter().find(|e| e.id == b.job) {
                Some(entry) => as_it_is(b, &entry.job, now),
                None => b.clone(),
            };
            let mut bookings: Vec<Booking> = shop.plan.iter().filter(over).map(as_done).collect();
            bookings.extend(plan.bookings.iter().cloned());
            bookings.sort_by(|a, b| a.from.cmp(&b.from).then(a.job.cmp(&b.job)).then(a.step.cmp(&b.step)));
            Ok(vec![ShopEvent::PlanKept { at: now, plan: bookings }])
        })
    }

    /// Pins a step of the known plan to a time, or lets it go again.
    ///
    /// # Errors
    /// When the step is not in the plan.
    pub fn pin(
        &self,
        stamp: &Stamp,
        job: &JobId,
        step: StepNo,
        start: Option<Timestamp>,
    ) -> Result<(), Refusal> {
        self.decide_shop(stamp, |shop, now| {
            let mut plan = shop.plan.clone();
            let Some(booking) = plan.iter_mut().find(|b| b.job == *job && b.step == step) else {
                return Err(Refusal::not_found("This step is not in the known plan", "Keep a plan first."));
            };
            booking.pinned = start.is_some();
            if let Some(start) = start {
                let length = booking.to.duration_since(booking.from);
                booking.from = start;
                booking.to = start.checked_add(length).unwrap_or(start);
            }
            Ok(vec![ShopEvent::PlanKept { at: now, plan }])
        })
    }

    /// The plan as it would be with a change, some days of it, with what would move.
    ///
    /// # Errors
    /// When the step is not in the known plan.
    pub fn change_of_plan(
        &self,
        change: &PlanChange,
        from: Option<Date>,
        days: i32,
    ) -> Result<CalendarView, Refusal> {
        let shop = self.shop()?;
        let plan = self.changed_plan(&shop, change)?;
        self.calendar_of(&shop, &plan, from, days, false)
    }

    /// Changes the known plan and plans everything else around the change.
    ///
    /// # Errors
    /// When the step is not in the known plan, or nothing can be planned around it: with the reason.
    pub fn change_plan(&self, stamp: &Stamp, change: &PlanChange) -> Result<(), Refusal> {
        let mut plan = (*self.changed_plan(&*self.shop()?, change)?).clone();
        if let PlanChange::NotToday { job, step } = change
            && let Some(booking) = plan.bookings.iter_mut().find(|b| b.job == *job && b.step == *step)
        {
            // Nothing else remembers that it was put off.
            booking.pinned = true;
        }
        self.keep(stamp, &plan)
    }

    fn changed_plan(&self, shop: &Shop, change: &PlanChange) -> Result<Arc<ShopPlan>, Refusal> {
        let now = self.now();
        let mut changed = shop.clone();
        let mut not_before: Vec<NotBefore> = Vec::new();
        for (job, step) in change.concerns() {
            let entry = self.job(job)?;
            if entry.job.step_state(step) != StepState::Todo {
                return Err(Refusal::not_yet(
                    "This step has begun or is over",
                    "Move what is still to come, or say how long this one takes.",
                ));
            }
        }
        match change {
            PlanChange::Put { job, step, at, bay } => {
                let booking = booked(&mut changed.plan, job, *step)?;
                put(booking, *at, bay.clone().or_else(|| booking.bay.clone()));
            }
            PlanChange::Swap { one, other } => {
                let (a, b) = (
                    booked(&mut changed.plan, &one.0, one.1)?.clone(),
                    booked(&mut changed.plan, &other.0, other.1)?.clone(),
                );
                put(booked(&mut changed.plan, &one.0, one.1)?, b.from, b.bay);
                put(booked(&mut changed.plan, &other.0, other.1)?, a.from, a.bay);
            }
            PlanChange::NotToday { job, step } => {
                booked(&mut changed.plan, job, *step)?.pinned = false;
                let zone = zone_of(shop);
                let tomorrow = now.to_zoned_datetime(zone.clone()).date().checked_add(1.day());
                let morning = tomorrow.ok().and_then(|d| d.to_zoned_datetime(zone).ok());
                not_before.push((job.clone(), *step, morning.map_or(now, |z| z.timestamp())));
            }
        }
        let loads = self.loads(&changed)?;
        Ok(plan_around(self, &loads, &changed, now, true, &not_before))
    }

    /// Says that a step takes longer or shorter than planned: its planned work becomes `work` in all. The plan that
    /// people know stays until another is kept.
    ///
    /// # Errors
    /// When there is no such step on a set route, it is over, or the time makes no sense.
    pub fn slip(&self, id: &JobId, stamp: &Stamp, no: StepNo, work: Duration) -> Result<u64, Refusal> {
        if !(work.as_minutes() >= 5.0 && work.as_hours() <= 200.0) {
            return Err(Refusal::invalid(
                "This length makes no sense",
                "Enter 5 minutes to 200 hours in all.",
            ));
        }
        self.decide(id, stamp, |Before { job, .. }| {
            still_open(job)?;
            let mut route = job
                .route
                .clone()
                .ok_or_else(|| Refusal::not_yet("There is no route yet", "Set the route first."))?;
            let Some(step) = route.steps.iter_mut().find(|s| s.no == no) else {
                return Err(Refusal::not_found("This step is not on the route", "Open the route again."));
            };
            if matches!(job.step_state(no), StepState::Done | StepState::Dropped(_)) {
                return Err(Refusal::not_yet("This step is over", "Report what is under way or to come."));
            }
            step.work = work;
            // The route is as old as it was: what was found since still makes it out of date.
            Ok(JobEvent::RouteSet { route }.into())
        })
    }
}

fn booked<'a>(plan: &'a mut [Booking], job: &JobId, step: StepNo) -> Result<&'a mut Booking, Refusal> {
    plan.iter_mut()
        .find(|b| b.job == *job && b.step == step)
        .ok_or_else(|| Refusal::not_found("This step is not in the known plan", "Keep a plan first."))
}

fn put(booking: &mut Booking, at: Timestamp, bay: Option<String>) {
    let length = booking.to.duration_since(booking.from);
    booking.from = at;
    booking.to = at.checked_add(length).unwrap_or(at);
    booking.bay = bay;
    booking.people.clear();
    booking.pinned = true;
}
