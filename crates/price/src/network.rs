//! The work of a job as a network of tasks, each with its law of chance.

use crate::PriceError;
use crate::error::within;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use units::Duration;

/// How long a task takes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Law {
    /// Always the same: curing, resting.
    Fixed(Duration),
    /// Log-normal: half of the time below `median`.
    LogNormal {
        /// Half of all times are shorter.
        median: Duration,
        /// Standard deviation of the logarithm of this task's own time; 0.25 is about ±25 %.
        spread: f64,
    },
    /// Beta-PERT (λ = 4) from three guesses.
    BetaPert {
        /// Nothing is faster.
        least: Duration,
        /// Most likely.
        likely: Duration,
        /// Nothing is slower.
        most: Duration,
    },
}

/// One task of a job.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Task {
    /// Its own name; the same name in two options is drawn alike (common random numbers).
    pub id: String,
    /// The kind of step, shared with other tasks: what is not known about the kind moves them together.
    pub kind: String,
    /// How long it takes with its people.
    pub law: Law,
    /// Chance that it is needed at all, 0 to 1; 1 for planned work, less for what a finding may bring.
    pub chance: f64,
    /// Tasks that must end before, by their number in the network.
    pub after: Vec<usize>,
    /// People at it all the time; 0 for waiting.
    pub people: u32,
    /// The room it takes up, if any.
    pub room: Option<String>,
}

impl Task {
    /// Planned work of one person, log-normal, waiting for nothing.
    pub fn new(id: impl Into<String>, kind: impl Into<String>, median: Duration, spread: f64) -> Self {
        Self {
            id: id.into(),
            kind: kind.into(),
            law: Law::LogNormal { median, spread },
            chance: 1.0,
            after: Vec::new(),
            people: 1,
            room: None,
        }
    }

    /// Waiting for the tasks with these numbers.
    #[must_use]
    pub fn after(mut self, tasks: impl IntoIterator<Item = usize>) -> Self {
        self.after = tasks.into_iter().collect();
        self
    }

    /// In a room.
    #[must_use]
    pub fn in_room(mut self, room: impl Into<String>) -> Self {
        self.room = Some(room.into());
        self
    }
}

/// What is not known about a kind of step, as standard deviations of logarithms.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct SharedSpread {
    /// Moves all tasks of the kind together.
    pub kind: f64,
    /// How much the shop's pace, which moves everything together, moves this kind.
    pub pace: f64,
}

/// Something goes wrong in a task now and then, and it takes several times as long: a panel is done twice, a machine
/// breaks, a car must be moved.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Mishaps {
    /// In which share of tasks, 0 to 1.
    pub chance: f64,
    /// How many times as long such a task takes.
    pub times: f64,
}

/// The tasks of a job, what they share, and who and what there is to do them.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct JobNetwork {
    /// In the order in which they are taken up when people or rooms are short.
    pub tasks: Vec<Task>,
    /// By kind of step; kinds not listed share nothing.
    pub shared: BTreeMap<String, SharedSpread>,
    /// People who may work on this car at once; `None` for as many as wanted.
    pub crew: Option<u32>,
    /// Places in each room; rooms not listed never run short.
    pub rooms: BTreeMap<String, u32>,
    /// What goes wrong in log-normal tasks beyond their spread; `None` for nothing.
    #[serde(default)]
    pub mishaps: Option<Mishaps>,
}

impl JobNetwork {
    /// The order in which tasks are taken up: no task before what it waits for, else by number.
    ///
    /// # Errors
    /// When a task makes no sense, waits for one that is not there, or waits for itself in a ring.
    pub fn order(&self) -> Result<Vec<usize>, PriceError> {
        self.check()?;
        let n = self.tasks.len();
        let mut waits: Vec<BTreeSet<usize>> =
            self.tasks.iter().map(|t| t.after.iter().copied().collect()).collect();
        let mut ready: BTreeSet<usize> = (0..n).filter(|i| waits[*i].is_empty()).collect();
        let mut order = Vec::with_capacity(n);
        while let Some(i) = ready.pop_first() {
            order.push(i);
            for (j, left) in waits.iter_mut().enumerate() {
                if left.remove(&i) && left.is_empty() {
                    ready.insert(j);
                }
            }
        }
        match (0..n).find(|i| !order.contains(i)) {
            Some(stuck) => Err(PriceError::Ring(self.tasks[stuck].id.clone())),
            None => Ok(order),
        }
    }

    fn check(&self) -> Result<(), PriceError> {
        let mut seen = BTreeSet::new();
        for task in &self.tasks {
            let place = format!("task '{}'", task.id);
            if !seen.insert(task.id.as_str()) {
                return Err(PriceError::SameTask(task.id.clone()));
            }
            within(&place, "the chance", task.chance, 0.0, 1.0, "0 to 1")?;
            task.law.check(&place)?;
            if let Some(&after) = task.after.iter().find(|a| **a >= self.tasks.len()) {
                return Err(PriceError::NoSuchTask { task: task.id.clone(), after, tasks: self.tasks.len() });
            }
            if let Some(crew) = self.crew.filter(|c| task.people > *c) {
                return Err(PriceError::Crew { task: task.id.clone(), people: task.people, crew });
            }
            if task.room.as_ref().and_then(|r| self.rooms.get(r)) == Some(&0) {
                return Err(PriceError::NoSuchRoom(task.room.clone().unwrap_or_default()));
            }
        }
        if let Some(m) = self.mishaps {
            within("mishaps", "the chance", m.chance, 0.0, 0.5, "0 to 0.5")?;
            within("mishaps", "how many times as long", m.times, 1.0, 10.0, "1 to 10")?;
        }
        for (kind, s) in &self.shared {
            within(&format!("step '{kind}'"), "the shared spread", s.kind, 0.0, 2.0, "0 to 2")?;
            within(&format!("step '{kind}'"), "the spread of the pace", s.pace, 0.0, 2.0, "0 to 2")?;
        }
        Ok(())
    }
}

impl Law {
    fn check(&self, place: &str) -> Result<(), PriceError> {
        let time = |what, t: Duration| within(place, what, t.as_hours(), 0.0, 10_000.0, "0 to 10 000 hours");
        match *self {
            Self::Fixed(t) => time("the time", t).map(drop),
            Self::LogNormal { median, spread } => {
                time("the median time", median)?;
                within(place, "the spread", spread, 0.0, 2.0, "0 to 2").map(drop)
            }
            Self::BetaPert { least, likely, most } => {
                let least = time("the least time", least)?;
                let likely = time("the likely time", likely)?;
                time("the most time", most)?;
                within(
                    place,
                    "the likely time in hours",
                    likely,
                    least,
                    most.as_hours(),
                    "least, likely and most in rising order",
                )
                .map(drop)
            }
        }
    }

    /// Mean without what is shared.
    pub fn mean(&self) -> Duration {
        match *self {
            Self::Fixed(t) => t,
            Self::LogNormal { median, spread } => median * (0.5 * spread * spread).exp(),
            Self::BetaPert { least, likely, most } => (least + likely * 4.0 + most) / 6.0,
        }
    }
}
