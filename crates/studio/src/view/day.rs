//! The day board: what stands in which bay, what is next, what is late.

use crate::command::step::{ended, needs};
use crate::engine::{
    self, minutes_in_words,
    schedule::{Load, ShopPlan},
};
use crate::figure::Figure;
use crate::refusal::Refusal;
use crate::studio::{JobEntry, Studio, zone_of};
use crate::times::Times;
use crate::view::{CarTag, DueReminder};
use jiff::{Timestamp, tz::TimeZone};
use job::{Booking, Job, JobId, Shop, Stage, StepNo, StepState};
use std::sync::Arc;
use units::Duration;

/// The step that is under way in a bay.
#[derive(Clone, Debug, PartialEq)]
pub struct StepNow {
    /// The step.
    pub no: StepNo,
    /// What is done.
    pub title: String,
    /// Who.
    pub who: Vec<String>,
    /// Since when it runs, or from when it is planned.
    pub since: Timestamp,
    /// When it should be done.
    pub until: Timestamp,
    /// Whether somebody is at it now.
    pub running: bool,
}

/// A bay as it is now.
#[derive(Clone, Debug, PartialEq)]
pub struct BayNow {
    /// Its name.
    pub bay: String,
    /// What it is for, in words.
    pub kinds: String,
    /// `dusty`, `clean`, `wet` or empty.
    pub air: String,
    /// The car in it.
    pub car: Option<CarTag>,
    /// The step under way or next.
    pub step: Option<StepNow>,
    /// What comes after, or until when it is empty.
    pub then: String,
    /// Air measured there, with the dew point and what it allows.
    pub climate: Vec<Figure>,
    /// Something to mind: dew point too near, air not settled.
    pub warning: Option<String>,
}

/// Something that will not be when it was promised or planned.
#[derive(Clone, Debug, PartialEq)]
pub struct LateNote {
    /// The car.
    pub car: CarTag,
    /// By how much, in words.
    pub by: String,
    /// What is late.
    pub what: String,
    /// What follows from it and what can be done.
    pub way_on: String,
}

/// What is next.
#[derive(Clone, Debug, PartialEq)]
pub struct NextRow {
    /// When.
    pub start: Timestamp,
    /// The car.
    pub car: CarTag,
    /// The step.
    pub no: StepNo,
    /// What.
    pub title: String,
    /// Where.
    pub bay: String,
    /// Who.
    pub who: Vec<String>,
    /// How long.
    pub work: Duration,
    /// What must be over first.
    pub needs: String,
    /// Whether it could be started now.
    pub ready: bool,
}

/// A question that waits for somebody.
#[derive(Clone, Debug, PartialEq)]
pub struct Waiting {
    /// The car.
    pub car: CarTag,
    /// The question.
    pub question: String,
    /// Since when.
    pub since: Timestamp,
}

/// A car that cures or rests.
#[derive(Clone, Debug, PartialEq)]
pub struct Curing {
    /// The car.
    pub car: CarTag,
    /// What cures.
    pub what: String,
    /// Until when.
    pub until: Timestamp,
}

/// The day board.
#[derive(Clone, Debug)]
pub struct DayView {
    /// Name of the shop.
    pub shop: String,
    /// Whether everything is invented.
    pub demo: bool,
    /// Now.
    pub now: Timestamp,
    /// The shop's time zone.
    pub zone: TimeZone,
    /// Working hours of today in words, or that the shop is closed.
    pub shift: String,
    /// Who is in today.
    pub people: Vec<String>,
    /// What is late.
    pub late: Vec<LateNote>,
    /// Bays.
    pub bays: Vec<BayNow>,
    /// What is next.
    pub next: Vec<NextRow>,
    /// Questions.
    pub waiting: Vec<Waiting>,
    /// Cars that cure or rest.
    pub curing: Vec<Curing>,
    /// Customers to be reminded of something.
    pub remind: Vec<DueReminder>,
    /// Cars expected or not yet put into the plan.
    pub expected: Vec<CarTag>,
    /// Why there is no sound plan, if there is none, with the way out.
    pub unsound: Option<String>,
}

/// Rows of what is next.
const NEXT: usize = 12;

impl Studio {
    /// The day board.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn day_view(&self) -> Result<DayView, Refusal> {
        let shop = self.shop()?;
        let now = self.now();
        let zone = zone_of(&shop);
        let times = Times::of(&shop);
        let open = self.open_jobs()?;
        let today = now.to_zoned_datetime(zone.clone()).date();
        let shift = &shop.settings.shift;
        let closed = shop.settings.closed.contains(&today)
            || !shift.days.contains(&today.weekday().to_monday_one_offset());
        let people = shop
            .settings
            .people
            .iter()
            .filter(|p| {
                let own = shop.shift_of(p);
                !shop.settings.closed.contains(&today)
                    && own.days.contains(&today.weekday().to_monday_one_offset())
                    && !p.off.contains(&today)
            })
            .map(|p| p.name.clone())
            .collect();
        Ok(DayView {
            shop: shop.settings.name.clone(),
            demo: shop.settings.demo,
            shift: if closed {
                "Closed today.".into()
            } else {
                format!("Shift {} to {}.", times.time(shift.from), times.time(shift.to))
            },
            people,
            late: late(&open, &shop, now),
            bays: shop.settings.bays.iter().map(|b| bay(b, &open, &shop, now)).collect(),
            next: next(&open, &shop, now),
            waiting: waiting(&open),
            curing: curing(&open, now),
            remind: self.reminders_due(&shop)?,
            expected: open
                .iter()
                .filter(|e| e.job.arrival.is_none() || !shop.plan.iter().any(|b| b.job == e.id))
                .map(|e| CarTag::of(&e.id, &e.job))
                .collect(),
            unsound: (shop.plan.is_empty() && open.iter().any(|e| e.job.open_steps().next().is_some()))
                .then(|| "No plan is kept yet. Open the calendar, look at the plan and keep it.".into()),
            now,
            zone,
        })
    }

    /// All open jobs with their steps: the route as set, or as it would be set now.
    pub(crate) fn loads(&self, shop: &Shop) -> Result<Vec<Load>, Refusal> {
        let mut loads = Vec::new();
        for entry in self.open_jobs()? {
            loads.push(Load {
                id: entry.id.clone(),
                job: entry.job.clone(),
                steps: self.steps_for_plan(&entry.job, shop)?,
            });
        }
        Ok(loads)
    }

    fn steps_for_plan(&self, job: &Job, shop: &Shop) -> Result<Vec<job::PlannedStep>, Refusal> {
        let washing = job.open_steps().next().is_some();
        if let Some(route) = job.route.as_ref().filter(|_| job.route_follows_consent() || washing) {
            return Ok(route.steps.clone());
        }
        // Before consent the plan keeps room for what the customer asked for; the route itself is set later.
        let history = self.history(&job.car.plate)?;
        let until = engine::route::Until::HandedOver;
        let draft = engine::route::derive(self, job, &history, shop, &job.order, until)?;
        Ok(draft.steps)
    }

    /// The plan as it would be now.
    pub(crate) fn plan_now(&self, shop: &Shop, known: bool) -> Result<Arc<ShopPlan>, Refusal> {
        let loads = self.loads(shop)?;
        Ok(engine::schedule::plan(self, &loads, shop, self.now(), known))
    }
}

fn title_of(job: &Job, no: StepNo) -> String {
    let done = job.work.get(&no).map(|r| r.planned.title.clone());
    job.planned(no).map(|p| p.title.clone()).or(done).unwrap_or_else(|| "Step".into())
}

/// A step's name in words, for lists of moves and calendars.
pub(crate) fn name_of(jobs: &[JobEntry], id: &JobId, no: StepNo) -> String {
    jobs.iter()
        .find(|e| e.id == *id)
        .map_or_else(String::new, |e| format!("{}, {}", CarTag::of(id, &e.job).name, title_of(&e.job, no)))
}

fn late(open: &[JobEntry], shop: &Shop, now: Timestamp) -> Vec<LateNote> {
    let mut notes = Vec::new();
    for entry in open {
        let job = &entry.job;
        let car = || CarTag::of(&entry.id, job);
        let end = shop.plan.iter().filter(|b| b.job == entry.id).map(|b| b.to).max();
        if let Some((end, promised)) = end.zip(job.promised)
            && end > promised
        {
            notes.push(LateNote {
                car: car(),
                by: format!("{} late", minutes_in_words(minutes(promised, end))),
                what: "Planned end is after the promised handover.".into(),
                way_on: "Plan again on the calendar, or agree another handover with the customer.".into(),
            });
        } else if job.promised.is_some_and(|p| p < now) {
            let by = job.promised.map_or(0.0, |p| minutes(p, now));
            notes.push(LateNote {
                car: car(),
                by: format!("{} late", minutes_in_words(by)),
                what: "The promised handover has passed.".into(),
                way_on: "Agree another handover with the customer.".into(),
            });
        }
        for (no, record) in &job.work {
            let Some(booking) = shop.plan.iter().find(|b| b.job == entry.id && b.step == *no) else {
                continue;
            };
            if record.state == StepState::Running && booking.to < now {
                notes.push(LateNote {
                    car: car(),
                    by: format!("{} late", minutes_in_words(minutes(booking.to, now))),
                    what: format!("{}: planned end has passed and it still runs.", record.planned.title),
                    way_on: "Finish it, or plan again: what waits for it moves.".into(),
                });
            }
        }
    }
    notes
}

fn minutes(from: Timestamp, to: Timestamp) -> f64 {
    to.duration_since(from).as_secs() as f64 / 60.0
}

fn bay(bay: &job::Bay, open: &[JobEntry], shop: &Shop, now: Timestamp) -> BayNow {
    let mine: Vec<&Booking> = shop.plan.iter().filter(|b| b.bay.as_ref() == Some(&bay.name)).collect();
    let alive = |b: &&&Booking| {
        let entry = open.iter().find(|e| e.id == b.job);
        entry.is_some_and(|e| {
            !matches!(e.job.step_state(b.step), StepState::Done | StepState::Dropped(_))
                && e.job.planned(b.step).is_some()
        })
    };
    let running = mine.iter().find(|b| {
        open.iter().any(|e| {
            e.id == b.job && matches!(e.job.step_state(b.step), StepState::Running | StepState::Paused)
        })
    });
    let current = running.or_else(|| mine.iter().find(|b| alive(b) && b.from <= now));
    let following = mine.iter().find(|b| alive(b) && current.is_none_or(|c| b.from > c.from));
    let entry = current.and_then(|b| open.iter().find(|e| e.id == b.job));
    let step = current.zip(entry).map(|(b, e)| {
        let state = e.job.step_state(b.step);
        let since = e.job.work.get(&b.step).and_then(|r| r.spans.last()).map(|s| (s.from, s.by.clone()));
        StepNow {
            no: b.step,
            title: title_of(&e.job, b.step),
            who: since.as_ref().map_or_else(|| b.people.clone(), |(_, by)| vec![by.clone()]),
            since: since.map_or(b.from, |(from, _)| from),
            until: b.to,
            running: state == StepState::Running,
        }
    });
    let then = match following {
        Some(b) => {
            let name = name_of(open, &b.job, b.step);
            let start = Times::of(shop).near(b.from);
            if current.is_some() {
                format!("Then {start}: {name}.")
            } else {
                format!("Empty until {start}. Then {name}.")
            }
        }
        None if current.is_some() => "Then nothing is planned.".into(),
        None => "Nothing is planned here.".into(),
    };
    let dusty_now = |air: &str| {
        current.zip(entry).is_some_and(|(b, e)| e.job.planned(b.step).is_some_and(|p| p.air == air))
    };
    let film = bay.kinds.contains("clean_room");
    let reading = shop.air.get(&bay.name);
    let (climate, mut warning) = reading.map(|r| engine::air::climate(r, film)).unwrap_or_default();
    if bay.kinds.iter().all(|k| k == "wash_bay") {
        // where cars are washed panels are wet anyway
        warning = None;
    }
    BayNow {
        bay: bay.name.clone(),
        kinds: bay.kinds.iter().map(|k| k.replace('_', " ")).collect::<Vec<_>>().join(", "),
        air: if dusty_now("dusty") {
            "dusty".into()
        } else if dusty_now("clean") || bay.kinds.contains("clean_room") {
            "clean".into()
        } else {
            String::new()
        },
        car: entry.map(|e| CarTag::of(&e.id, &e.job)),
        step,
        then,
        climate,
        warning,
    }
}

fn next(open: &[JobEntry], shop: &Shop, now: Timestamp) -> Vec<NextRow> {
    let mut rows = Vec::new();
    for booking in &shop.plan {
        let Some(entry) = open.iter().find(|e| e.id == booking.job) else { continue };
        let Some(planned) = entry.job.planned(booking.step) else { continue };
        if entry.job.step_state(booking.step) != StepState::Todo {
            continue;
        }
        let mut waits = needs(&entry.job, booking.step, now);
        if let Some(change) = entry.job.open_change() {
            waits.insert(0, format!("change order {} waits for the customer", change.no));
        }
        if entry.job.arrival.is_none() {
            waits.insert(0, "the car is not here".to_owned());
        }
        rows.push(NextRow {
            start: booking.from,
            car: CarTag::of(&entry.id, &entry.job),
            no: booking.step,
            title: planned.title.clone(),
            bay: booking.bay.clone().unwrap_or_default(),
            who: booking.people.clone(),
            work: planned.work,
            ready: waits.is_empty(),
            needs: waits.join("; "),
        });
    }
    rows.sort_by(|a, b| a.start.cmp(&b.start).then(a.car.id.cmp(&b.car.id)).then(a.no.cmp(&b.no)));
    rows.truncate(NEXT);
    rows
}

fn waiting(open: &[JobEntry]) -> Vec<Waiting> {
    let mut rows = Vec::new();
    for entry in open {
        let job = &entry.job;
        let car = CarTag::of(&entry.id, job);
        if let Some(change) = job.open_change() {
            let question = format!("Change order {}: {}", change.no, change.reason);
            rows.push(Waiting { car, question, since: change.at });
        } else if job.acceptance.is_none()
            && let Some(offer) = job.offers.last()
        {
            rows.push(Waiting {
                car,
                question: format!("Offer {}: which option?", offer.no),
                since: offer.at,
            });
        } else if job.arrival.as_ref().is_some_and(|a| a.signed.is_none()) {
            let since = job.arrival.as_ref().map_or(job.booked, |a| a.at);
            rows.push(Waiting { car, question: "Sign the arrival record.".into(), since });
        } else if job.stage() == Stage::Route {
            let since = job.acceptance.as_ref().map_or(job.booked, |a| a.signed.at);
            rows.push(Waiting { car, question: "Agreed: set the route.".into(), since });
        }
    }
    rows
}

fn curing(open: &[JobEntry], now: Timestamp) -> Vec<Curing> {
    let mut rows = Vec::new();
    for entry in open {
        for (no, record) in &entry.job.work {
            let wait = record.planned.wait;
            if record.state != StepState::Done || wait < Duration::hours(1.0) {
                continue;
            }
            let until = ended(&entry.job, *no).and_then(|e| e.checked_add(engine::span(wait)).ok());
            if let Some(until) = until.filter(|u| *u > now) {
                rows.push(Curing {
                    car: CarTag::of(&entry.id, &entry.job),
                    what: record.planned.title.clone(),
                    until,
                });
            }
        }
    }
    rows
}
