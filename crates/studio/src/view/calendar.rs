//! The calendar: bays and people over days.

use crate::engine::{self, minutes_in_words, schedule::ShopPlan};
use crate::refusal::Refusal;
use crate::studio::{Studio, zone_of};
use crate::view::{CarTag, Clash, clash, day};
use jiff::{Timestamp, ToSpan, civil::Date, tz::TimeZone};
use job::{Booking, Shop, StepNo, StepState};

/// What a stretch of time is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StretchKind {
    /// Work.
    Work,
    /// Dusty work.
    Dusty,
    /// Work that wants clean air.
    Clean,
    /// Cure or rest: nobody is needed, it runs through the night.
    Rest,
    /// Changeover or settling of the air.
    Changeover,
}

/// A stretch on a lane.
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// From.
    pub from: Timestamp,
    /// To.
    pub to: Timestamp,
    /// The car; none for changeovers.
    pub car: Option<CarTag>,
    /// The step.
    pub step: Option<StepNo>,
    /// What, in words.
    pub what: String,
    /// What it is.
    pub kind: StretchKind,
    /// Ends after its promise.
    pub late: bool,
    /// Somebody is at it now, or it is over.
    pub begun: bool,
}

/// What a lane is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LaneKind {
    /// A bay.
    Bay,
    /// The air of rooms that share it.
    Air,
    /// A person.
    Person,
}

/// A lane.
#[derive(Clone, Debug, PartialEq)]
pub struct Lane {
    /// What it is.
    pub kind: LaneKind,
    /// Name.
    pub name: String,
    /// What it is for or can do.
    pub about: String,
    /// Stretches, by time.
    pub stretches: Vec<Stretch>,
}

/// A promise: the car, when it was promised, when the plan has it ready, and how late that is in words.
pub type Promise = (CarTag, Option<Timestamp>, Option<Timestamp>, Option<String>);

/// Some days of the plan.
#[derive(Clone, Debug)]
pub struct CalendarView {
    /// First day shown.
    pub from: Date,
    /// Days shown.
    pub days: i32,
    /// Now.
    pub now: Timestamp,
    /// The shop's time zone.
    pub zone: TimeZone,
    /// Working hours by day: from and to; none when closed.
    pub hours: Vec<(Date, Option<(Timestamp, Timestamp)>)>,
    /// Lanes: bays, air, people.
    pub lanes: Vec<Lane>,
    /// The promises: car, promised, planned end, late in words.
    pub promises: Vec<Promise>,
    /// How the plan was found, in words: proven, or within what of the bound.
    pub quality: String,
    /// Why there is no plan, with the way out.
    pub problem: Option<String>,
    /// What would move against the plan that people know, in words; empty when this is that plan.
    pub moves: Vec<String>,
    /// Who is in two places at once.
    pub clashes: Vec<Clash>,
    /// Whether this is the plan that people know.
    pub kept: bool,
}

impl Studio {
    /// Some days of the plan that people know, or of the plan as it would be now.
    ///
    /// # Errors
    /// When the journal cannot be read.
    pub fn calendar_view(&self, from: Option<Date>, days: i32, kept: bool) -> Result<CalendarView, Refusal> {
        let shop = self.shop()?;
        let plan = if kept { known(&shop) } else { (*self.plan_now(&shop, true)?).clone() };
        self.calendar_of(&shop, &plan, from, days, kept)
    }

    /// Some days of a plan.
    pub(crate) fn calendar_of(
        &self,
        shop: &Shop,
        plan: &ShopPlan,
        from: Option<Date>,
        days: i32,
        kept: bool,
    ) -> Result<CalendarView, Refusal> {
        let now = self.now();
        let zone = zone_of(shop);
        let today = now.to_zoned_datetime(zone.clone()).date();
        let from = from.unwrap_or(today);
        let jobs = self.jobs()?;
        let bookings = as_they_are(&plan.bookings, &jobs, now);
        let moves = if kept {
            Vec::new()
        } else {
            engine::schedule::moves(&shop.plan, &plan.bookings, |id, no| day::name_of(&jobs, id, no))
        };
        let hours = (0..days)
            .filter_map(|d| {
                let date = from.checked_add(d.days()).ok()?;
                let shift = &shop.settings.shift;
                let works = shift.days.contains(&date.weekday().to_monday_one_offset())
                    && !shop.settings.closed.contains(&date);
                let at = |t| date.to_datetime(t).to_zoned_datetime(zone.clone()).ok().map(|z| z.timestamp());
                Some((date, works.then(|| at(shift.from).zip(at(shift.to))).flatten()))
            })
            .collect();
        let promises = jobs
            .iter()
            .filter(|e| e.job.is_open())
            .map(|e| {
                let end = plan.bookings.iter().filter(|b| b.job == e.id).map(|b| b.to).max();
                let late = end.zip(e.job.promised).filter(|(end, p)| end > p);
                let late =
                    late.map(|(end, p)| minutes_in_words(end.duration_since(p).as_secs() as f64 / 60.0));
                (CarTag::of(&e.id, &e.job), e.job.promised, end, late)
            })
            .collect();
        Ok(CalendarView {
            from,
            days,
            now,
            hours,
            clashes: clash::clashes(&bookings, &jobs, &engine::schedule::Crews::new(shop, now), now),
            lanes: lanes(self, &jobs, shop, &bookings)?,
            promises,
            quality: plan.quality.clone(),
            problem: plan.problem.clone(),
            moves,
            kept,
            zone,
        })
    }
}

/// The bookings of a plan as they turned out, with what runs beside the plan.
fn as_they_are(plan: &[Booking], jobs: &[crate::JobEntry], now: Timestamp) -> Vec<Booking> {
    let mut bookings: Vec<Booking> = plan
        .iter()
        .map(|b| match jobs.iter().find(|e| e.id == b.job) {
            Some(entry) => clash::as_it_is(b, &entry.job, now),
            None => b.clone(),
        })
        .collect();
    for entry in jobs.iter().filter(|e| e.job.is_open()) {
        for (step, record) in entry.job.work.iter().filter(|(_, r)| r.state == StepState::Running) {
            let planned = plan.iter().any(|b| b.job == entry.id && b.step == *step);
            if let Some(last) = record.spans.last().filter(|_| !planned) {
                let left = (record.planned.work - record.worked(now)).max(units::Duration::minutes(15.0));
                bookings.push(Booking {
                    job: entry.id.clone(),
                    step: *step,
                    from: last.from,
                    to: now.checked_add(engine::span(left)).unwrap_or(now),
                    people: vec![last.by.clone()],
                    bay: None,
                    pinned: false,
                });
            }
        }
    }
    bookings
}

fn known(shop: &Shop) -> ShopPlan {
    ShopPlan {
        bookings: shop.plan.clone(),
        quality: "The plan that people know.".into(),
        problem: shop
            .plan
            .is_empty()
            .then(|| "No plan is kept yet. Plan again, look at it, keep it.".to_owned()),
        ..ShopPlan::default()
    }
}

fn lanes(
    studio: &Studio,
    jobs: &[crate::JobEntry],
    shop: &Shop,
    bookings: &[Booking],
) -> Result<Vec<Lane>, Refusal> {
    let loads = studio.loads(shop)?;
    let stretch = |b: &Booking| -> Option<Stretch> {
        let entry = jobs.iter().find(|e| e.id == b.job)?;
        let step = loads.iter().find(|l| l.id == b.job).and_then(|l| l.steps.iter().find(|s| s.no == b.step));
        let done = entry.job.work.get(&b.step).map(|r| &r.planned);
        let step = step.or(done)?;
        let state = entry.job.step_state(b.step);
        Some(Stretch {
            from: b.from,
            to: b.to,
            car: Some(CarTag::of(&entry.id, &entry.job)),
            step: Some(b.step),
            what: step.title.clone(),
            kind: match step.air.as_str() {
                "dusty" => StretchKind::Dusty,
                "clean" => StretchKind::Clean,
                _ => StretchKind::Work,
            },
            late: entry.job.promised.is_some_and(|p| b.to > p),
            begun: state != StepState::Todo,
        })
    };
    let rest = |b: &Booking| -> Option<Stretch> {
        let entry = jobs.iter().find(|e| e.id == b.job)?;
        let step = loads.iter().find(|l| l.id == b.job)?.steps.iter().find(|s| s.no == b.step)?;
        (step.wait >= units::Duration::hours(1.0)).then(|| Stretch {
            from: b.to,
            to: b.to.checked_add(engine::span(step.wait)).unwrap_or(b.to),
            car: Some(CarTag::of(&entry.id, &entry.job)),
            step: Some(b.step),
            what: "rests or cures".into(),
            kind: StretchKind::Rest,
            late: false,
            begun: false,
        })
    };
    let mut lanes = Vec::new();
    for bay in &shop.settings.bays {
        let here: Vec<&Booking> = bookings.iter().filter(|b| b.bay.as_ref() == Some(&bay.name)).collect();
        let mut stretches: Vec<Stretch> = here.iter().filter_map(|b| stretch(b)).collect();
        stretches.extend(here.iter().filter_map(|b| rest(b)));
        stretches.sort_by_key(|s| s.from);
        lanes.push(Lane {
            kind: LaneKind::Bay,
            name: bay.name.clone(),
            about: bay.kinds.iter().map(|k| k.replace('_', " ")).collect::<Vec<_>>().join(", "),
            stretches,
        });
    }
    lanes.extend(airs(shop, &lanes));
    for person in &shop.settings.people {
        let stretches =
            bookings.iter().filter(|b| b.people.contains(&person.name)).filter_map(stretch).collect();
        lanes.push(Lane {
            kind: LaneKind::Person,
            name: person.name.clone(),
            about: person.skills.iter().cloned().collect::<Vec<_>>().join(", "),
            stretches,
        });
    }
    Ok(lanes)
}

/// Air that several bays share, with what it is by the work in them.
fn airs(shop: &Shop, bays: &[Lane]) -> Vec<Lane> {
    let mut names: Vec<&str> =
        shop.settings.bays.iter().map(|b| b.air.as_str()).filter(|a| !a.is_empty()).collect();
    names.sort_unstable();
    names.dedup();
    names
        .into_iter()
        .filter_map(|air| {
            let inside: Vec<&str> =
                shop.settings.bays.iter().filter(|b| b.air == air).map(|b| b.name.as_str()).collect();
            let busy = bays.iter().filter(|l| inside.contains(&l.name.as_str())).flat_map(|l| &l.stretches);
            let stretches: Vec<Stretch> = busy
                .filter(|s| matches!(s.kind, StretchKind::Dusty | StretchKind::Clean))
                .map(|s| Stretch {
                    what: if s.kind == StretchKind::Dusty { "dusty".into() } else { "clean".into() },
                    car: None,
                    step: None,
                    late: false,
                    ..s.clone()
                })
                .collect();
            let about = format!("shared by {}", inside.join(", "));
            (!stretches.is_empty()).then(|| Lane {
                kind: LaneKind::Air,
                name: format!("Air, {air}"),
                about,
                stretches,
            })
        })
        .collect()
}
