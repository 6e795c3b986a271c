//! All open jobs on people, bays and time.

use super::{minutes_in_words, span};
use crate::command::step::ended;
use crate::studio::{Studio, zone_of};
use ::schedule::{
    Air, Calendar, Config, Due, Grid, Lag, Need, Outcome, Person, PersonId, Placement, Plan, Price, Problem,
    Room, RoomId, RoomKind, Skill, Slot, Span, Spread, State, Task, TaskId, Tool, ToolId, ToolNeed,
};
use effort::Effort;
use jiff::{Timestamp, ToSpan, civil::Date, tz::TimeZone};
use job::{Booking, Job, JobId, PlannedStep, Shop, StepNo, StepState};
use std::collections::BTreeMap;
use std::sync::Arc;
use units::{Duration, Seed};

/// Width of a slot.
const SLOT_MINUTES: u32 = 5;

/// Days that are planned ahead.
const DAYS: i32 = 28;

/// Steps of work that a plan may take.
const EFFORT: u64 = 40_000;

/// Longest step that is done in one go; longer ones pause over breaks and nights.
const IN_ONE_GO: Duration = Duration::minutes(150.0);

/// A job to be planned.
#[derive(Clone, Debug)]
pub struct Load {
    /// Its number.
    pub id: JobId,
    /// Its state.
    pub job: Arc<Job>,
    /// Its steps: the route as set, or as it would be.
    pub steps: Vec<PlannedStep>,
}

/// A plan for the shop.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ShopPlan {
    /// Who does what, when and where; by time.
    pub bookings: Vec<Booking>,
    /// When each job's last step is over.
    pub ends: BTreeMap<JobId, Timestamp>,
    /// Jobs that are later than promised, and by how much.
    pub late: Vec<(JobId, Duration)>,
    /// How good it is, in words.
    pub quality: String,
    /// Why there is none, with the way out.
    pub problem: Option<String>,
}

/// The time grid of a plan.
#[derive(Clone, Debug)]
struct Frame {
    zone: TimeZone,
    first: Date,
    origin: Timestamp,
    grid: Grid,
}

impl Frame {
    fn at(now: Timestamp, shop: &Shop) -> Self {
        let zone = zone_of(shop);
        let first = now.to_zoned_datetime(zone.clone()).date();
        let origin = first.to_zoned_datetime(zone.clone()).map_or(now, |z| z.timestamp());
        Self { zone, first, origin, grid: Grid::minutes(SLOT_MINUTES) }
    }

    /// The slot that holds a time.
    fn slot(&self, at: Timestamp) -> Slot {
        let minutes = at.duration_since(self.origin).as_secs().div_euclid(60);
        Slot(minutes.div_euclid(i64::from(SLOT_MINUTES)).clamp(-1_000_000, 1_000_000) as i32)
    }

    /// The first slot at or after a time.
    fn slot_after(&self, at: Timestamp) -> Slot {
        let slot = self.slot(at);
        if self.time(slot) < at { slot.plus(1) } else { slot }
    }

    fn time(&self, slot: Slot) -> Timestamp {
        let minutes = i64::from(slot.0) * i64::from(SLOT_MINUTES);
        self.origin.checked_add(jiff::SignedDuration::from_mins(minutes)).unwrap_or(self.origin)
    }

    fn horizon(&self) -> Slot {
        Slot(DAYS * 24 * 60 / SLOT_MINUTES as i32)
    }

    fn moment(&self, day: Date, time: jiff::civil::Time) -> Option<Timestamp> {
        day.to_datetime(time).to_zoned_datetime(self.zone.clone()).ok().map(|z| z.timestamp())
    }
}

/// A step that cannot begin before some time, whatever its route says.
pub type NotBefore = (JobId, StepNo, Timestamp);

/// Plans all loads together. The plan that people know is kept to where it costs nothing, when `known` says so.
pub fn plan(studio: &Studio, loads: &[Load], shop: &Shop, now: Timestamp, known: bool) -> Arc<ShopPlan> {
    plan_around(studio, loads, shop, now, known, &[])
}

/// Plans all loads together, some steps not before some time.
pub fn plan_around(
    studio: &Studio,
    loads: &[Load],
    shop: &Shop,
    now: Timestamp,
    known: bool,
    not_before: &[NotBefore],
) -> Arc<ShopPlan> {
    let frame = Frame::at(now, shop);
    let mut problem = problem(&frame, loads, shop, now, known);
    for (job, step, at) in not_before {
        let Some(j) = loads.iter().position(|l| l.id == *job) else { continue };
        let id = task_id(j, *step);
        if let Some(task) = problem.tasks.iter_mut().find(|t| t.id == id) {
            task.earliest = task.earliest.max(frame.slot_after(*at));
        }
    }
    let key = (&problem, &frame.origin, loads.iter().map(|l| &l.id).collect::<Vec<_>>());
    studio.results.get("plan", &key, || solve(&frame, &problem, loads, shop))
}

/// How far hours stray from what was planned, as in the simulation of prices: each step by itself, and a slow week.
const SPREAD: Spread = Spread { task: 0.22, shared: 0.16 };

/// Times that a plan is lived through.
const DRAWS: u32 = 100;

/// When a job would be over, over and over with other durations.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Odds {
    /// Ends, earliest first; draws without an end are missing.
    pub ends: Vec<Timestamp>,
    /// Draws in all.
    pub draws: u32,
}

impl Odds {
    /// By when the job is over in at least this share of all draws; none when fewer came to an end.
    pub fn by(&self, share: f64) -> Option<Timestamp> {
        let needed = (share * f64::from(self.draws)).ceil().max(1.0) as usize;
        self.ends.get(needed - 1).copied()
    }
}

/// Plans all loads together and lives through that plan with drawn durations.
pub fn odds(studio: &Studio, loads: &[Load], shop: &Shop, now: Timestamp, job: &JobId) -> Arc<Odds> {
    let frame = Frame::at(now, shop);
    let problem = problem(&frame, loads, shop, now, true);
    let key = (&problem, &frame.origin, job);
    studio.results.get("odds", &key, || {
        let Some(j) = loads.iter().position(|l| l.id == *job) else { return Odds::default() };
        let answer = ::schedule::solve(&problem, &Config::default(), &Effort::steps(EFFORT));
        let Ok(Outcome::Plan(plan)) = answer else { return Odds::default() };
        let lived = ::schedule::simulate(&problem, &plan, SPREAD, DRAWS, Seed(1));
        let end = |ends: &BTreeMap<::schedule::JobId, Slot>| ends.get(&::schedule::JobId(j as u32)).copied();
        let mut ends: Vec<Timestamp> =
            lived.iter().flatten().filter_map(end).map(|slot| frame.time(slot)).collect();
        ends.sort_unstable();
        Odds { ends, draws: DRAWS }
    })
}

/// When the people of a shop are at work, over the days that are planned.
pub(crate) struct Crews {
    frame: Frame,
    calendars: Vec<(String, Calendar)>,
}

impl Crews {
    pub(crate) fn new(shop: &Shop, now: Timestamp) -> Self {
        let frame = Frame::at(now, shop);
        let calendars =
            shop.settings.people.iter().map(|p| (p.name.clone(), calendar(&frame, shop, p))).collect();
        Self { frame, calendars }
    }

    /// The first stretch between two times in which everybody of both bookings is at work; none when there is none.
    pub(crate) fn together(
        &self,
        a: &Booking,
        b: &Booking,
        from: Timestamp,
        to: Timestamp,
    ) -> Option<(Timestamp, Timestamp)> {
        let crew = |name: &String| a.people.contains(name) || b.people.contains(name);
        let calendars: Vec<&Calendar> = self.calendars.iter().filter(|c| crew(&c.0)).map(|c| &c.1).collect();
        let at_work = |slot: Slot| calendars.iter().all(|c| c.works_at(slot));
        let (first, last) = (self.frame.slot(from), self.frame.slot_after(to));
        let start = (first.0..last.0).map(Slot).find(|s| at_work(*s))?;
        let end = (start.0..last.0).map(Slot).find(|s| !at_work(*s)).unwrap_or(last);
        Some((self.frame.time(start).max(from), self.frame.time(end).min(to)))
    }
}

fn task_id(job: usize, step: StepNo) -> TaskId {
    TaskId(job as u32 * 1000 + step.0)
}

fn job_key(id: &JobId) -> u32 {
    id.as_str().parse().unwrap_or(0)
}

fn problem(frame: &Frame, loads: &[Load], shop: &Shop, now: Timestamp, known: bool) -> Problem {
    let people: Vec<Person> = shop
        .settings
        .people
        .iter()
        .enumerate()
        .map(|(i, p)| Person {
            id: PersonId(i as u32),
            name: p.name.clone(),
            skills: p.skills.iter().map(|s| Skill(s.clone())).collect(),
            calendar: calendar(frame, shop, p),
        })
        .collect();
    let mut airs: Vec<&str> =
        shop.settings.bays.iter().map(|b| b.air.as_str()).filter(|a| !a.is_empty()).collect();
    airs.sort_unstable();
    airs.dedup();
    let rooms: Vec<Room> = shop
        .settings
        .bays
        .iter()
        .enumerate()
        .map(|(i, b)| Room {
            id: RoomId(i as u32),
            name: b.name.clone(),
            kinds: b.kinds.iter().map(|k| RoomKind(k.clone())).chain([RoomKind::from("any")]).collect(),
            places: b.places.max(1),
            at_once: b.places.max(1),
            // A bay without a name for its air keeps its air to itself.
            air_group: airs.iter().position(|a| *a == b.air).map_or(1000 + i as u32, |g| g as u32),
            closed: Vec::new(),
        })
        .collect();
    let mut tasks = Vec::new();
    let mut lags = Vec::new();
    let mut dues = Vec::new();
    for (j, load) in loads.iter().enumerate() {
        let before = tasks.len();
        add_job(frame, load, j, shop, now, &mut tasks, &mut lags);
        if tasks.len() > before
            && let Some(promised) = load.job.promised
        {
            dues.push(Due { job: ::schedule::JobId(j as u32), by: frame.slot(promised), weight: 10 });
        }
    }
    let previous = known.then(|| previous(frame, loads, shop, &tasks)).flatten();
    Problem {
        grid: frame.grid,
        horizon: frame.horizon(),
        now: frame.slot_after(now).clamp(Slot(0), frame.horizon()),
        people,
        rooms,
        tools: shop
            .settings
            .tools
            .iter()
            .enumerate()
            .map(|(i, t)| Tool { id: ToolId(i as u32), name: t.name.clone(), count: t.count })
            .collect(),
        tasks,
        lags,
        dues,
        changeover: frame.grid.slots(shop.settings.changeover),
        price: Price { makespan: 1, stay: 1, move_task: 2, ..Price::default() },
        previous,
    }
}

fn calendar(frame: &Frame, shop: &Shop, person: &job::Person) -> Calendar {
    let shift = shop.shift_of(person);
    let mut spans = Vec::new();
    for d in 0..DAYS {
        let Ok(day) = frame.first.checked_add(d.days()) else { break };
        let works = shift.days.contains(&day.weekday().to_monday_one_offset())
            && !shop.settings.closed.contains(&day)
            && !person.off.contains(&day);
        if !works {
            continue;
        }
        let mut parts = vec![(shift.from, shift.to)];
        if shift.break_from < shift.break_to && shift.break_from > shift.from && shift.break_to < shift.to {
            parts = vec![(shift.from, shift.break_from), (shift.break_to, shift.to)];
        }
        for (from, to) in parts {
            if let Some((from, to)) = frame.moment(day, from).zip(frame.moment(day, to)) {
                spans.push(Span { start: frame.slot_after(from), end: frame.slot(to) });
            }
        }
    }
    spans.into()
}

fn add_job(
    frame: &Frame,
    load: &Load,
    j: usize,
    shop: &Shop,
    now: Timestamp,
    tasks: &mut Vec<Task>,
    lags: &mut Vec<Lag>,
) {
    let job = &load.job;
    let here = job.arrival.is_some();
    // A car that is not here yet cannot be worked on; one that is late is hoped for now.
    let from = if here { now } else { job.expected.map_or(now, |e| e.max(now)) };
    for step in &load.steps {
        let record = job.work.get(&step.no);
        let state = record.map_or(&StepState::Todo, |r| &r.state);
        if matches!(state, StepState::Done | StepState::Dropped(_)) {
            continue;
        }
        let worked = record.map_or(Duration::ZERO, |r| r.worked(now));
        // Work that took longer than planned is taken to need another quarter hour.
        let left = (step.work - worked).max(Duration::minutes(15.0));
        let running = *state == StepState::Running;
        let mut earliest = frame.slot_after(from).max(Slot(0));
        for after in &step.after {
            match ended(job, after.step) {
                Some(end) if job.step_state(after.step) == StepState::Done => {
                    let free = end.checked_add(span(after.least)).unwrap_or(end);
                    earliest = earliest.max(frame.slot_after(free));
                }
                _ => {
                    if load.steps.iter().any(|s| s.no == after.step && open(job, s.no)) {
                        lags.push(Lag {
                            from: task_id(j, after.step),
                            to: task_id(j, step.no),
                            least: frame.grid.slots(after.least) as i32,
                            most: after.most.map(|m| frame.grid.slots(m) as i32),
                        });
                    }
                }
            }
        }
        let crew = match &step.skill {
            Some(skill) => vec![Need { skill: Some(Skill(skill.clone())), count: step.people.max(1) }],
            None => Vec::new(),
        };
        let rooms = match step.room.as_str() {
            // Outside, or away from the car: no bay is taken.
            "" | "yard" | "bench" => Vec::new(),
            kind => vec![RoomKind::from(kind)],
        };
        let booked = shop.plan.iter().find(|b| b.job == load.id && b.step == step.no);
        // A step that was paused goes on from where it was taken up again.
        let since = record.and_then(|r| r.spans.last()).map_or(now, |s| s.from).min(now);
        let state = if running {
            let by = record.and_then(|r| r.spans.last()).map(|s| s.by.clone()).unwrap_or_default();
            let people = person_ids(shop, &[by]);
            // A fact needs a crew of the asked size; who helps is not recorded, so the plan's people stand in.
            let people = if people.len() == crew.iter().map(|n| n.count as usize).sum::<usize>() {
                people
            } else {
                booked.map(|b| person_ids(shop, &b.people)).unwrap_or_default()
            };
            State::Running {
                since: frame.slot(since),
                people,
                room: booked.and_then(|b| room_id(shop, b.bay.as_ref()?)),
            }
        } else if let Some(booking) = booked.filter(|b| b.pinned) {
            State::Pinned {
                start: frame.slot(booking.from),
                people: person_ids(shop, &booking.people),
                room: booking.bay.as_ref().and_then(|b| room_id(shop, b)),
            }
        } else {
            State::Free
        };
        let work = if running {
            let until = now.checked_add(span(left)).unwrap_or(now);
            (frame.slot_after(until).0 - frame.slot(since).0).max(1) as u32
        } else {
            frame.grid.slots(left)
        };
        tasks.push(Task {
            id: task_id(j, step.no),
            job: ::schedule::JobId(j as u32),
            name: format!("{} of job {}", step.title, load.id),
            work,
            crew,
            rooms,
            air: match step.air.as_str() {
                "dusty" => Air::Dusty,
                "clean" => Air::Clean,
                _ => Air::Neutral,
            },
            tools: tools_of(step, shop),
            splittable: left > IN_ONE_GO,
            holds_room: true,
            earliest,
            state,
        });
    }
}

/// The tools that a step holds, of those that the shop counts; of others there are enough.
fn tools_of(step: &PlannedStep, shop: &Shop) -> Vec<ToolNeed> {
    let counted = shop.settings.tools.iter().enumerate().filter(|(_, t)| step.tools.contains(&t.name));
    counted.map(|(i, _)| ToolNeed { tool: ToolId(i as u32), count: 1 }).collect()
}

fn open(job: &Job, no: StepNo) -> bool {
    !matches!(job.step_state(no), StepState::Done | StepState::Dropped(_))
}

fn person_ids(shop: &Shop, names: &[String]) -> Vec<PersonId> {
    let find = |n: &String| shop.settings.people.iter().position(|p| p.name == *n);
    names.iter().filter_map(find).map(|i| PersonId(i as u32)).collect()
}

fn room_id(shop: &Shop, name: &str) -> Option<RoomId> {
    shop.settings.bays.iter().position(|b| b.name == name).map(|i| RoomId(i as u32))
}

/// The plan that people know, in the engine's words; only what is still to be done.
fn previous(frame: &Frame, loads: &[Load], shop: &Shop, tasks: &[Task]) -> Option<Plan> {
    let mut placements = Vec::new();
    for booking in &shop.plan {
        let Some(j) = loads.iter().position(|l| l.id == booking.job) else { continue };
        let id = task_id(j, booking.step);
        if !tasks.iter().any(|t| t.id == id) {
            continue;
        }
        let (start, end) = (frame.slot(booking.from), frame.slot_after(booking.to));
        placements.push(Placement {
            task: id,
            start,
            end,
            pieces: vec![Span { start, end }],
            people: person_ids(shop, &booking.people),
            room: booking.bay.as_ref().and_then(|b| room_id(shop, b)),
        });
    }
    let cost = ::schedule::Cost::default();
    (!placements.is_empty()).then(|| Plan { placements, cost, bound: 0, proved: false, late: Vec::new() })
}

fn solve(frame: &Frame, problem: &Problem, loads: &[Load], shop: &Shop) -> ShopPlan {
    if problem.tasks.is_empty() {
        return ShopPlan { quality: "Nothing to plan.".into(), ..ShopPlan::default() };
    }
    if problem.people.is_empty() || problem.rooms.is_empty() {
        let problem = "There are no people or no bays to plan with. Enter them under shop.";
        return ShopPlan { problem: Some(problem.into()), ..ShopPlan::default() };
    }
    let answer = ::schedule::solve(problem, &Config::default(), &Effort::steps(EFFORT));
    match answer {
        Err(fault) => ShopPlan { problem: Some(fault.to_string()), ..ShopPlan::default() },
        Ok(Outcome::Infeasible(why) | Outcome::Unsettled(why)) => {
            ShopPlan { problem: Some(format!("{} {}", why.reason, why.hint)), ..ShopPlan::default() }
        }
        Ok(Outcome::Plan(plan)) => told(frame, &plan, loads, shop),
    }
}

fn told(frame: &Frame, plan: &Plan, loads: &[Load], shop: &Shop) -> ShopPlan {
    let mut bookings = Vec::new();
    let mut ends: BTreeMap<JobId, Timestamp> = BTreeMap::new();
    for placement in &plan.placements {
        let (j, step) = ((placement.task.0 / 1000) as usize, StepNo(placement.task.0 % 1000));
        let Some(load) = loads.get(j) else { continue };
        let name = |id: &PersonId| shop.settings.people.get(id.0 as usize).map(|p| p.name.clone());
        let bay = |id: RoomId| shop.settings.bays.get(id.0 as usize).map(|b| b.name.clone());
        let booking = Booking {
            job: load.id.clone(),
            step,
            from: frame.time(placement.start),
            to: frame.time(placement.end),
            people: placement.people.iter().filter_map(name).collect(),
            bay: placement.room.and_then(bay),
            pinned: shop.plan.iter().any(|b| b.pinned && b.job == load.id && b.step == step),
        };
        let end = ends.entry(load.id.clone()).or_insert(booking.to);
        *end = (*end).max(booking.to);
        bookings.push(booking);
    }
    bookings.sort_by(|a, b| {
        a.from.cmp(&b.from).then(job_key(&a.job).cmp(&job_key(&b.job))).then(a.step.cmp(&b.step))
    });
    let late = plan
        .late
        .iter()
        .filter_map(|l| Some((loads.get(l.job.0 as usize)?.id.clone(), frame.grid.span(l.by))))
        .collect();
    let cost = plan.cost.total();
    let quality = if plan.proved {
        "No plan is better by the shop's own reckoning: proven.".to_owned()
    } else if plan.bound > 0 && (cost - plan.bound) * 5 <= cost {
        format!(
            "Found by search; no plan is better by more than {:.0} % of its cost.",
            100.0 * (cost - plan.bound) as f64 / cost.max(1) as f64
        )
    } else {
        "Found by search.".to_owned()
    };
    ShopPlan { bookings, ends, late, quality, problem: None }
}

/// What moved against the plan that people know, in words.
pub fn moves(old: &[Booking], new: &[Booking], name: impl Fn(&JobId, StepNo) -> String) -> Vec<String> {
    let mut words = Vec::new();
    for booking in new {
        let Some(was) = old.iter().find(|b| b.job == booking.job && b.step == booking.step) else { continue };
        if was.from == booking.from && was.bay == booking.bay && was.people == booking.people {
            continue;
        }
        let minutes = booking.from.duration_since(was.from).as_secs() as f64 / 60.0;
        let when = match minutes {
            m if m > 0.5 => format!("{} later", minutes_in_words(m)),
            m if m < -0.5 => format!("{} earlier", minutes_in_words(-m)),
            _ => "same time".into(),
        };
        let mut change = vec![when];
        if was.bay != booking.bay {
            change.push(format!("in {}", booking.bay.as_deref().unwrap_or("the yard")));
        }
        if was.people != booking.people {
            change.push(format!("by {}", booking.people.join(" and ")));
        }
        words.push(format!("{}: {}", name(&booking.job, booking.step), change.join(", ")));
    }
    words
}
