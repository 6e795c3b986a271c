//! The plain form of a studio's week: a TOML file with people, rooms, tools, cars and their tasks.

use crate::calendar::Calendar;
use crate::outcome::Fault;
use crate::problem::{
    Air, Due, JobId, Lag, Need, Person, PersonId, Price, Problem, Room, RoomId, RoomKind, Skill, State, Task,
    TaskId, Tool, ToolId, ToolNeed,
};
use crate::time::{Grid, Slot, Span};
use jiff::ToSpan;
use jiff::civil::{Date, DateTime, Time};
use serde::Deserialize;
use std::collections::BTreeMap;
use toml::Spanned;

/// A studio's week as it was written: the problem, and the names that its numbers stand for.
#[derive(Clone, Debug, PartialEq)]
pub struct StudioForm {
    /// What is to be planned.
    pub problem: Problem,
    /// Midnight of the first day: slot 0.
    pub start: DateTime,
    /// Cars by [`JobId`].
    pub cars: Vec<String>,
}

impl StudioForm {
    /// Reads a studio. Every key is explained in the crate's README.
    ///
    /// # Errors
    /// [`Fault`] with the line of the first thing that is wrong.
    pub fn parse(text: &str) -> Result<Self, Fault> {
        let raw: Raw = toml::from_str(text).map_err(|e| {
            let line = e.span().map_or(1, |s| line(text, s.start));
            Fault::new(format!("line {line}"), e.message().to_owned(), "correct this line")
        })?;
        Reader { text, raw: &raw }.read()
    }

    /// The wall clock at a slot.
    pub fn at(&self, slot: Slot) -> DateTime {
        let minutes = self.problem.grid.span(slot.0).as_minutes().round() as i64;
        self.start.checked_add(minutes.minutes()).unwrap_or(self.start)
    }
}

fn line(text: &str, at: usize) -> usize {
    text.get(..at).map_or(1, |before| before.matches('\n').count() + 1)
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Raw {
    start: Spanned<String>,
    days: Spanned<u32>,
    #[serde(default = "quarter")]
    slot_minutes: u32,
    now: Option<Spanned<String>>,
    #[serde(default)]
    changeover_minutes: u32,
    #[serde(default)]
    holidays: Vec<Spanned<String>>,
    #[serde(default)]
    price: RawPrice,
    #[serde(default)]
    shifts: BTreeMap<String, RawShift>,
    people: Vec<RawPerson>,
    #[serde(default)]
    rooms: Vec<RawRoom>,
    #[serde(default)]
    tools: Vec<RawTool>,
    #[serde(default)]
    cars: Vec<RawCar>,
    #[serde(default)]
    tasks: Vec<RawTask>,
}

fn quarter() -> u32 {
    15
}

fn one() -> u32 {
    1
}

fn yes() -> bool {
    true
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields, default)]
struct RawPrice {
    makespan: u32,
    stay: u32,
}

impl Default for RawPrice {
    fn default() -> Self {
        Self { makespan: 1, stay: 0 }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawShift {
    days: Vec<Spanned<String>>,
    from: Spanned<String>,
    to: Spanned<String>,
    #[serde(default)]
    breaks: Vec<[Spanned<String>; 2]>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawPerson {
    name: String,
    #[serde(default)]
    skills: Vec<String>,
    shift: Spanned<String>,
    #[serde(default)]
    off: Vec<Spanned<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawRoom {
    name: String,
    kinds: Vec<String>,
    #[serde(default = "one")]
    places: u32,
    at_once: Option<u32>,
    air: Option<String>,
    #[serde(default)]
    closed: Vec<[Spanned<String>; 2]>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawTool {
    name: String,
    #[serde(default = "one")]
    count: u32,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawCar {
    name: String,
    arrives: Option<Spanned<String>>,
    due: Option<Spanned<String>>,
    #[serde(default = "one")]
    weight: u32,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawTask {
    id: Spanned<String>,
    car: Spanned<String>,
    minutes: u32,
    #[serde(default)]
    crew: Vec<RawNeed>,
    #[serde(default)]
    rooms: Vec<String>,
    air: Option<Spanned<String>>,
    #[serde(default)]
    tools: Vec<RawUse>,
    #[serde(default)]
    may_pause: bool,
    #[serde(default = "yes")]
    holds_room: bool,
    earliest: Option<Spanned<String>>,
    pinned: Option<RawPin>,
    #[serde(default)]
    after: Vec<RawAfter>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawNeed {
    skill: Option<String>,
    #[serde(default = "one")]
    count: u32,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawUse {
    tool: Spanned<String>,
    #[serde(default = "one")]
    count: u32,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawPin {
    start: Spanned<String>,
    #[serde(default)]
    people: Vec<Spanned<String>>,
    room: Option<Spanned<String>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RawAfter {
    task: Spanned<String>,
    #[serde(default)]
    least_minutes: i32,
    most_minutes: Option<i32>,
}

struct Reader<'a> {
    text: &'a str,
    raw: &'a Raw,
}

impl Reader<'_> {
    fn read(&self) -> Result<StudioForm, Fault> {
        let raw = self.raw;
        let first: Date = self.date(&raw.start)?;
        let start = first.at(0, 0, 0, 0);
        let days = *raw.days.get_ref();
        if !(1..=366).contains(&days) {
            return Err(self.fault(&raw.days, format!("{days} days"), "plan 1 to 366 days"));
        }
        if !(1..=240).contains(&raw.slot_minutes) || 1440 % raw.slot_minutes != 0 {
            let what = format!("slots of {} minutes", raw.slot_minutes);
            return Err(Fault::new("slot_minutes", what, "choose a divisor of a day: 5, 10, 15, 30 or 60"));
        }
        let grid = Grid::minutes(raw.slot_minutes);
        let per_day = 1440 / raw.slot_minutes;
        let horizon = Slot((days * per_day) as i32);
        let now = raw.now.as_ref().map(|at| self.slot(at, start, grid)).transpose()?;
        let slots = |minutes: u32| minutes.div_ceil(raw.slot_minutes);
        let mut problem = Problem {
            grid,
            horizon,
            now: now.unwrap_or_default(),
            changeover: slots(raw.changeover_minutes),
            price: Price { makespan: raw.price.makespan, stay: raw.price.stay, ..Price::default() },
            ..Problem::default()
        };
        let holidays: Vec<Date> = raw.holidays.iter().map(|d| self.date(d)).collect::<Result<_, _>>()?;
        for (i, person) in raw.people.iter().enumerate() {
            let calendar = self.calendar(person, first, days, grid, &holidays)?;
            let skills = person.skills.iter().map(|s| Skill(s.clone())).collect();
            problem.people.push(Person {
                id: PersonId(i as u32),
                name: person.name.clone(),
                skills,
                calendar,
            });
        }
        let mut airs: Vec<&str> = raw.rooms.iter().filter_map(|r| r.air.as_deref()).collect();
        airs.sort_unstable();
        airs.dedup();
        for (i, room) in raw.rooms.iter().enumerate() {
            let closed = room.closed.iter().map(|[from, to]| {
                Ok(Span { start: self.slot(from, start, grid)?, end: self.slot(to, start, grid)? })
            });
            problem.rooms.push(Room {
                id: RoomId(i as u32),
                name: room.name.clone(),
                kinds: room.kinds.iter().map(|k| RoomKind(k.clone())).collect(),
                places: room.places,
                at_once: room.at_once.unwrap_or(room.places),
                // A room without a name for its air keeps its air to itself.
                air_group: room
                    .air
                    .as_deref()
                    .and_then(|a| airs.iter().position(|x| *x == a))
                    .map_or(1000 + i as u32, |g| g as u32),
                closed: closed.collect::<Result<_, Fault>>()?,
            });
        }
        for (i, tool) in raw.tools.iter().enumerate() {
            problem.tools.push(Tool { id: ToolId(i as u32), name: tool.name.clone(), count: tool.count });
        }
        let cars: Vec<String> = raw.cars.iter().map(|c| c.name.clone()).collect();
        for (i, car) in raw.cars.iter().enumerate() {
            if let Some(due) = &car.due {
                let by = self.slot(due, start, grid)?;
                problem.dues.push(Due { job: JobId(i as u32), by, weight: car.weight });
            }
        }
        for i in 0..raw.tasks.len() {
            self.task(i, &mut problem, start, grid)?;
        }
        // A promise for a car without tasks says nothing.
        let with_tasks: Vec<JobId> = problem.tasks.iter().map(|t| t.job).collect();
        problem.dues.retain(|d| with_tasks.contains(&d.job));
        problem.check()?;
        Ok(StudioForm { problem, start, cars })
    }

    fn task(&self, i: usize, problem: &mut Problem, start: DateTime, grid: Grid) -> Result<(), Fault> {
        let raw = &self.raw.tasks[i];
        let id = |name: &Spanned<String>| {
            let at = self.raw.tasks.iter().position(|t| t.id.get_ref() == name.get_ref());
            at.map(|k| TaskId(k as u32)).ok_or_else(|| {
                self.fault(
                    name,
                    format!("no task has the id '{}'", name.get_ref()),
                    "name a task of this file",
                )
            })
        };
        if id(&raw.id)? != TaskId(i as u32) {
            let what = format!("the id '{}' is used twice", raw.id.get_ref());
            return Err(self.fault(&raw.id, what, "give each task its own"));
        }
        let Some(car) = self.raw.cars.iter().position(|c| c.name == *raw.car.get_ref()) else {
            let what = format!("no car is called '{}'", raw.car.get_ref());
            return Err(self.fault(&raw.car, what, "add it under [[cars]]"));
        };
        let minutes = |m: u32| m.div_ceil(self.raw.slot_minutes);
        let mut earliest = Slot(0);
        for at in [&self.raw.cars[car].arrives, &raw.earliest].into_iter().flatten() {
            earliest = earliest.max(self.slot(at, start, grid)?);
        }
        let mut tools = Vec::new();
        for used in &raw.tools {
            let Some(k) = self.raw.tools.iter().position(|t| t.name == *used.tool.get_ref()) else {
                let what = format!("no tool is called '{}'", used.tool.get_ref());
                return Err(self.fault(&used.tool, what, "add it under [[tools]]"));
            };
            tools.push(ToolNeed { tool: ToolId(k as u32), count: used.count });
        }
        problem.tasks.push(Task {
            id: TaskId(i as u32),
            job: JobId(car as u32),
            name: format!("{} of {}", raw.id.get_ref(), raw.car.get_ref()),
            work: minutes(raw.minutes),
            crew: raw
                .crew
                .iter()
                .map(|n| Need { skill: n.skill.as_ref().map(|s| Skill(s.clone())), count: n.count })
                .collect(),
            rooms: raw.rooms.iter().map(|k| RoomKind(k.clone())).collect(),
            air: match raw.air.as_ref().map(|a| (a, a.get_ref().as_str())) {
                None | Some((_, "neutral")) => Air::Neutral,
                Some((_, "dusty")) => Air::Dusty,
                Some((_, "clean")) => Air::Clean,
                Some((at, other)) => {
                    let what = format!("'{other}' is no air");
                    return Err(self.fault(at, what, "write dusty, clean or neutral"));
                }
            },
            tools,
            splittable: raw.may_pause,
            holds_room: raw.holds_room,
            earliest,
            state: self.state(raw, start, grid)?,
        });
        for after in &raw.after {
            let slots = |m: i32| -(-m).div_euclid(self.raw.slot_minutes as i32);
            problem.lags.push(Lag {
                from: id(&after.task)?,
                to: TaskId(i as u32),
                least: slots(after.least_minutes),
                // At most so long: rounded down, so that the limit holds on the clock too.
                most: after.most_minutes.map(|m| m.div_euclid(self.raw.slot_minutes as i32)),
            });
        }
        Ok(())
    }

    fn state(&self, raw: &RawTask, start: DateTime, grid: Grid) -> Result<State, Fault> {
        let Some(pin) = &raw.pinned else { return Ok(State::Free) };
        let mut people = Vec::new();
        for name in &pin.people {
            let Some(p) = self.raw.people.iter().position(|p| p.name == *name.get_ref()) else {
                let what = format!("nobody is called '{}'", name.get_ref());
                return Err(self.fault(name, what, "add them under [[people]]"));
            };
            people.push(PersonId(p as u32));
        }
        let room = match &pin.room {
            None => None,
            Some(name) => match self.raw.rooms.iter().position(|r| r.name == *name.get_ref()) {
                Some(r) => Some(RoomId(r as u32)),
                None => {
                    let what = format!("no room is called '{}'", name.get_ref());
                    return Err(self.fault(name, what, "add it under [[rooms]]"));
                }
            },
        };
        Ok(State::Pinned { start: self.slot(&pin.start, start, grid)?, people, room })
    }

    fn calendar(
        &self,
        person: &RawPerson,
        first: Date,
        days: u32,
        grid: Grid,
        holidays: &[Date],
    ) -> Result<Calendar, Fault> {
        let Some(shift) = self.raw.shifts.get(person.shift.get_ref()) else {
            let what = format!("no shift is called '{}'", person.shift.get_ref());
            return Err(self.fault(&person.shift, what, "add it as [shifts.NAME]"));
        };
        let off: Vec<Date> = person.off.iter().map(|d| self.date(d)).collect::<Result<_, _>>()?;
        let mut weekdays = Vec::new();
        for day in &shift.days {
            let known = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];
            let Some(k) = known.iter().position(|d| d == day.get_ref()) else {
                let what = format!("'{}' is no day", day.get_ref());
                return Err(self.fault(day, what, "write mon, tue, wed, thu, fri, sat or sun"));
            };
            weekdays.push(k as i8 + 1);
        }
        let minute = |t: Time| i32::from(t.hour()) * 60 + i32::from(t.minute());
        let width = grid.slot().as_minutes().round() as i32;
        let (from, to) = (minute(self.time(&shift.from)?), minute(self.time(&shift.to)?));
        if from >= to {
            return Err(self.fault(
                &shift.to,
                "the shift ends before it begins",
                "let it end later that day",
            ));
        }
        let mut calendar: Vec<Span> = Vec::new();
        for d in 0..days {
            let Ok(day) = first.checked_add((d as i32).days()) else { break };
            let works = weekdays.contains(&day.weekday().to_monday_one_offset());
            if works && !holidays.contains(&day) && !off.contains(&day) {
                let base = (d * 1440) as i32 / width;
                // A slot that is worked in part is no working slot.
                calendar.push(Span::new(base + (from + width - 1) / width, base + to / width));
            }
        }
        let mut calendar = Calendar::from(calendar);
        for [from, to] in &shift.breaks {
            let (from, to) = (minute(self.time(from)?), minute(self.time(to)?));
            for d in 0..days as i32 {
                let base = d * 1440 / width;
                calendar = calendar.without(Span::new(base + from / width, base + (to + width - 1) / width));
            }
        }
        Ok(calendar)
    }

    fn slot(&self, at: &Spanned<String>, start: DateTime, grid: Grid) -> Result<Slot, Fault> {
        let moment: DateTime = at.get_ref().parse().map_err(|_| {
            self.fault(at, format!("'{}' is no time", at.get_ref()), "write it as 2026-05-12T08:00")
        })?;
        let minutes = moment.duration_since(start).as_secs().div_euclid(60);
        let width = grid.slot().as_minutes().round() as i64;
        Ok(Slot(minutes.div_euclid(width).clamp(-1_000_000, 1_000_000) as i32))
    }

    fn date(&self, at: &Spanned<String>) -> Result<Date, Fault> {
        at.get_ref()
            .parse()
            .map_err(|_| self.fault(at, format!("'{}' is no day", at.get_ref()), "write it as 2026-05-12"))
    }

    fn time(&self, at: &Spanned<String>) -> Result<Time, Fault> {
        at.get_ref()
            .parse()
            .map_err(|_| self.fault(at, format!("'{}' is no time of day", at.get_ref()), "write it as 08:00"))
    }

    fn fault<T>(&self, at: &Spanned<T>, what: impl Into<String>, remedy: &str) -> Fault {
        Fault::new(format!("line {}", line(self.text, at.span().start)), what, remedy)
    }
}
