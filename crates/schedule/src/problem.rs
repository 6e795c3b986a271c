//! What has to be planned: people, rooms, tools, tasks, lags and promises.

use crate::calendar::Calendar;
use crate::outcome::Fault;
use crate::plan::Plan;
use crate::time::{Grid, Slot, Span};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

macro_rules! id {
    ($(#[$meta:meta])* $name:ident) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub u32);
    };
}

id!(
    /// Who, as the caller numbers people; unique in a problem and kept from plan to plan.
    PersonId
);
id!(
    /// Which room, as the caller numbers rooms.
    RoomId
);
id!(
    /// Which kind of tool, as the caller numbers tools.
    ToolId
);
id!(
    /// Which task, as the caller numbers tasks; kept from plan to plan.
    TaskId
);
id!(
    /// Which job (one car's stay), as the caller numbers jobs.
    JobId
);

macro_rules! word {
    ($(#[$meta:meta])* $name:ident) => {
        $(#[$meta])*
        #[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub String);

        impl From<&str> for $name {
            fn from(word: &str) -> Self {
                Self(word.into())
            }
        }
    };
}

word!(
    /// Something a person is able to do ("correction", "film", "wash").
    Skill
);
word!(
    /// What a room is fit for ("wash", "correction", "clean", "film", "handover").
    RoomKind
);

/// Somebody who works here. At most 64 in a problem.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Person {
    /// Who.
    pub id: PersonId,
    /// The name used in explanations.
    pub name: String,
    /// What this person can do.
    pub skills: Vec<Skill>,
    /// When this person works.
    pub calendar: Calendar,
}

/// A room or bay. At most 64 in a problem.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Room {
    /// Which.
    pub id: RoomId,
    /// The name used in explanations.
    pub name: String,
    /// What it is fit for.
    pub kinds: Vec<RoomKind>,
    /// Cars that fit in at once.
    pub places: u32,
    /// Tasks that can go on in it at once, on the same car or on several.
    pub at_once: u32,
    /// Rooms with the same number share air: dust made in one reaches the others.
    pub air_group: u32,
    /// When it cannot be used.
    #[serde(default)]
    pub closed: Vec<Span>,
}

/// A kind of tool of which there are few.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Tool {
    /// Which.
    pub id: ToolId,
    /// The name used in explanations.
    pub name: String,
    /// How many there are.
    pub count: u32,
}

/// What a task does to the air, or asks of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum Air {
    /// Makes dust.
    Dusty,
    /// Suffers from dust.
    Clean,
    /// Neither.
    #[default]
    Neutral,
}

/// People of one skill.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Need {
    /// The skill that each of them has; none means anybody.
    pub skill: Option<Skill>,
    /// How many; one person fills one place only.
    pub count: u32,
}

/// Tools of one kind, held from start to end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ToolNeed {
    /// Which kind.
    pub tool: ToolId,
    /// How many.
    pub count: u32,
}

/// How far a task is.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum State {
    /// To be planned.
    #[default]
    Free,
    /// Put there by a person: it starts then, and with these people and in this room where given.
    Pinned {
        /// Start.
        start: Slot,
        /// Who; empty leaves the choice open.
        people: Vec<PersonId>,
        /// Where; none leaves the choice open.
        room: Option<RoomId>,
    },
    /// Started and going on; a fact, which no rule can forbid.
    Running {
        /// When it started.
        since: Slot,
        /// Who is at it.
        people: Vec<PersonId>,
        /// Where.
        room: Option<RoomId>,
    },
    /// Finished; a fact.
    Done {
        /// When it was.
        span: Span,
    },
}

/// One piece of work, or a rest that needs nobody.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Task {
    /// Which.
    pub id: TaskId,
    /// The car's stay to which it belongs.
    pub job: JobId,
    /// The name used in explanations.
    pub name: String,
    /// Working slots it takes.
    pub work: u32,
    /// Who it needs at the same time, from its start to its end; empty for a cure or a rest, which goes
    /// on day and night.
    pub crew: Vec<Need>,
    /// Rooms it can be done in, by kind: one of these; empty when it needs no room.
    pub rooms: Vec<RoomKind>,
    /// What it does to the air of its room, or asks of it.
    pub air: Air,
    /// Tools it holds.
    pub tools: Vec<ToolNeed>,
    /// Whether it may pause over breaks, nights and days off of its crew. If not, it fits into one
    /// working span of everybody in it.
    pub splittable: bool,
    /// Whether the car keeps its place in the room (and its demand on the air) during pauses. Without,
    /// only the pieces of work occupy the room. A task without pauses occupies its room throughout.
    pub holds_room: bool,
    /// Not before.
    pub earliest: Slot,
    /// How far it is.
    pub state: State,
}

/// Time between the end of one task and the start of another.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Lag {
    /// The earlier task.
    pub from: TaskId,
    /// The later task.
    pub to: TaskId,
    /// At least this many slots from the end of `from` to the start of `to`; negative allows overlap,
    /// and [`Lag::NO_LEAST`] any order.
    pub least: i32,
    /// At most this many slots, when there is a limit.
    pub most: Option<i32>,
}

impl Lag {
    /// A `least` that asks for nothing.
    pub const NO_LEAST: i32 = -1_000_000;
}

/// A promise.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Due {
    /// The job promised.
    pub job: JobId,
    /// All its tasks end by this point.
    pub by: Slot,
    /// Cost of every slot of delay.
    pub weight: u32,
}

/// What things cost against each other, per slot or piece; delays are weighed in [`Due`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Price {
    /// For every slot until the last task ends.
    pub makespan: u32,
    /// For every slot that a job stays, from its first start to its last end.
    pub stay: u32,
    /// For every task whose start, room or crew differs from the previous plan.
    pub move_task: u32,
    /// For every slot by which a task's start differs from the previous plan.
    pub move_slot: u32,
    /// Further price of every task moved beyond [`Price::CALM`] of those that wait: people can follow a mended plan, not
    /// a new one every day.
    pub upheaval: u32,
}

impl Price {
    /// The share of the waiting tasks that may move before it is an upheaval.
    pub const CALM: f64 = 0.25;

    /// How many of `waiting` tasks may move before it is an upheaval.
    pub fn calm(waiting: usize) -> usize {
        (waiting as f64 * Self::CALM) as usize
    }
}

impl Default for Price {
    fn default() -> Self {
        Self { makespan: 1, stay: 0, move_task: 4, move_slot: 0, upheaval: 100 }
    }
}

/// Everything that a plan has to respect.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Problem {
    /// The width of a slot.
    pub grid: Grid,
    /// Nothing is planned at or after this point.
    pub horizon: Slot,
    /// Nothing new starts before this point.
    pub now: Slot,
    /// People.
    pub people: Vec<Person>,
    /// Rooms and bays.
    pub rooms: Vec<Room>,
    /// Tools that are few.
    pub tools: Vec<Tool>,
    /// Tasks.
    pub tasks: Vec<Task>,
    /// Times between tasks.
    pub lags: Vec<Lag>,
    /// Promises.
    pub dues: Vec<Due>,
    /// Slots between dusty and clean work in the same air, in either order.
    pub changeover: u32,
    /// What things cost.
    pub price: Price,
    /// The plan that people already know.
    pub previous: Option<Plan>,
}

impl Problem {
    /// The task with this id.
    pub fn task(&self, id: TaskId) -> Option<&Task> {
        self.tasks.iter().find(|t| t.id == id)
    }

    /// Whether the problem can be read at all: ids unique and known, numbers in range.
    ///
    /// # Errors
    /// The first [`Fault`] met.
    pub fn check(&self) -> Result<(), Fault> {
        let horizon = self.horizon.0;
        if !(1..=200_000).contains(&horizon) {
            return Err(Fault::new(
                "horizon",
                format!("{horizon} slots"),
                "give 1 to 200000 slots, or a coarser grid",
            ));
        }
        if !(0..=horizon).contains(&self.now.0) {
            return Err(Fault::new(
                "now",
                format!("slot {}", self.now.0),
                "it lies between 0 and the horizon",
            ));
        }
        unique("people", self.people.iter().map(|p| p.id.0))?;
        unique("rooms", self.rooms.iter().map(|r| r.id.0))?;
        unique("tools", self.tools.iter().map(|t| t.id.0))?;
        unique("tasks", self.tasks.iter().map(|t| t.id.0))?;
        if self.people.len() > 64 || self.rooms.len() > 64 {
            return Err(Fault::new("people and rooms", "more than 64", "plan the sites one by one"));
        }
        for room in &self.rooms {
            if room.places > 200 || room.at_once > 200 {
                return Err(Fault::new(
                    format!("room {}", room.name),
                    "more than 200 places",
                    "give 200 at most",
                ));
            }
        }
        for tool in &self.tools {
            if tool.count > 200 {
                return Err(Fault::new(format!("tool {}", tool.name), "more than 200", "give 200 at most"));
            }
        }
        for task in &self.tasks {
            self.check_task(task)?;
        }
        let tasks: BTreeSet<TaskId> = self.tasks.iter().map(|t| t.id).collect();
        for lag in &self.lags {
            for id in [lag.from, lag.to] {
                if !tasks.contains(&id) {
                    return Err(Fault::new(
                        "lags",
                        format!("task {} is unknown", id.0),
                        "name tasks of this problem",
                    ));
                }
            }
            if !(Lag::NO_LEAST..=200_000).contains(&lag.least)
                || lag.most.is_some_and(|m| m.unsigned_abs() > 200_000)
            {
                return Err(Fault::new("lags", format!("{} slots", lag.least), "stay below 200000 slots"));
            }
        }
        let jobs: BTreeSet<JobId> = self.tasks.iter().map(|t| t.job).collect();
        for due in &self.dues {
            if !jobs.contains(&due.job) {
                return Err(Fault::new(
                    "dues",
                    format!("job {} has no task", due.job.0),
                    "name a job with tasks",
                ));
            }
            if due.weight > 1_000_000 {
                return Err(Fault::new("dues", format!("weight {}", due.weight), "give at most 1000000"));
            }
        }
        Ok(())
    }

    fn check_task(&self, task: &Task) -> Result<(), Fault> {
        let place = format!("task {}", task.name);
        if task.work > 200_000 {
            return Err(Fault::new(place, format!("{} slots of work", task.work), "stay below 200000"));
        }
        for need in &task.tools {
            if !self.tools.iter().any(|t| t.id == need.tool) {
                return Err(Fault::new(
                    place,
                    format!("tool {} is unknown", need.tool.0),
                    "add it to the tools",
                ));
            }
        }
        let (people, room) = match &task.state {
            State::Pinned { people, room, .. } | State::Running { people, room, .. } => (&people[..], *room),
            State::Free | State::Done { .. } => (&[][..], None),
        };
        for id in people {
            if !self.people.iter().any(|p| p.id == *id) {
                return Err(Fault::new(
                    place,
                    format!("person {} is unknown", id.0),
                    "name people of this problem",
                ));
            }
        }
        if let Some(id) = room
            && !self.rooms.iter().any(|r| r.id == id)
        {
            return Err(Fault::new(
                place,
                format!("room {} is unknown", id.0),
                "name a room of this problem",
            ));
        }
        match task.state {
            State::Running { since, .. } if since > self.now => {
                Err(Fault::new(place, "runs but starts in the future", "set `now`, or pin it instead"))
            }
            State::Pinned { start, .. } if start < Slot(0) => {
                Err(Fault::new(place, "pinned before the start of the plan", "pin it to slot 0 or later"))
            }
            _ => Ok(()),
        }
    }
}

fn unique(place: &str, ids: impl Iterator<Item = u32>) -> Result<(), Fault> {
    let mut seen = BTreeSet::new();
    for id in ids {
        if !seen.insert(id) {
            return Err(Fault::new(place, format!("number {id} is used twice"), "give each its own number"));
        }
    }
    Ok(())
}
