//! The answer: what happens when, where and by whom, and what that costs.

use crate::problem::{JobId, PersonId, Price, Problem, RoomId, State, TaskId};
use crate::time::{Slot, Span};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// Where one task went.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Placement {
    /// The task.
    pub task: TaskId,
    /// When it starts.
    pub start: Slot,
    /// When it ends.
    pub end: Slot,
    /// The pieces in which work goes on, in order; more than one only when the task may be split.
    pub pieces: Vec<Span>,
    /// Who is at it, in order of their ids.
    pub people: Vec<PersonId>,
    /// Where.
    pub room: Option<RoomId>,
}

/// A promise that is not kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Late {
    /// The job.
    pub job: JobId,
    /// When it ends.
    pub end: Slot,
    /// By how many slots it is late.
    pub by: i32,
}

/// What a plan costs, in the units of [`crate::Due`] and [`crate::Price`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Cost {
    /// For delays.
    pub late: i64,
    /// For the time until everything is done.
    pub makespan: i64,
    /// For the time that jobs stay.
    pub stay: i64,
    /// For moving what was planned before.
    pub moved: i64,
}

impl Cost {
    /// All of it.
    pub const fn total(self) -> i64 {
        self.late + self.makespan + self.stay + self.moved
    }
}

/// A plan that breaks no hard limit.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Plan {
    /// Where each task went, in the order of the problem's tasks.
    pub placements: Vec<Placement>,
    /// What it costs.
    pub cost: Cost,
    /// No plan can cost less than this.
    pub bound: i64,
    /// Whether it is proved that no plan costs less than this one.
    pub proved: bool,
    /// Promises not kept, worst first.
    pub late: Vec<Late>,
}

/// A task that is elsewhere or elsewhen than before.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Moved {
    /// The task.
    pub task: TaskId,
    /// Its start before.
    pub from: Slot,
    /// Its start now.
    pub to: Slot,
    /// Whether its room changed.
    pub room: bool,
    /// Whether its crew changed.
    pub crew: bool,
}

impl Plan {
    /// Where this task went.
    pub fn placement(&self, task: TaskId) -> Option<&Placement> {
        self.placements.iter().find(|p| p.task == task)
    }

    /// When the last task ends.
    pub fn makespan(&self) -> Slot {
        self.placements.iter().map(|p| p.end).max().unwrap_or_default()
    }

    /// What moved from the previous plan of `problem` to here. What has started has not moved.
    pub fn moved(&self, problem: &Problem) -> Vec<Moved> {
        let before = known(problem);
        let mut moved = Vec::new();
        for now in &self.placements {
            let Some(was) = before.get(&now.task) else { continue };
            let (room, crew) = (was.room != now.room, was.people != now.people);
            if was.start != now.start || room || crew {
                moved.push(Moved { task: now.task, from: was.start, to: now.start, room, crew });
            }
        }
        moved
    }
}

/// The price of `placements`, worked out from the problem alone, and the promises not kept.
pub(crate) fn price(problem: &Problem, placements: &[Placement]) -> (Cost, Vec<Late>) {
    let job_of: BTreeMap<TaskId, JobId> = problem.tasks.iter().map(|t| (t.id, t.job)).collect();
    let mut stays: BTreeMap<JobId, Span> = BTreeMap::new();
    for p in placements {
        let Some(job) = job_of.get(&p.task) else { continue };
        let stay = stays.entry(*job).or_insert(Span { start: p.start, end: p.end });
        stay.start = stay.start.min(p.start);
        stay.end = stay.end.max(p.end);
    }
    let end = stays.values().map(|s| s.end.0).max().unwrap_or(0);
    let mut cost = Cost { makespan: i64::from(problem.price.makespan) * i64::from(end), ..Cost::default() };
    cost.stay = stays.values().map(|s| i64::from(s.slots()) * i64::from(problem.price.stay)).sum();
    let mut late = Vec::new();
    for due in &problem.dues {
        let Some(stay) = stays.get(&due.job) else { continue };
        let by = stay.end.0 - due.by.0;
        if by > 0 {
            cost.late += i64::from(by) * i64::from(due.weight);
            late.push(Late { job: due.job, end: stay.end, by });
        }
    }
    late.sort_by_key(|l| (-l.by, l.job));
    let before = known(problem);
    let mut movers = 0usize;
    for now in placements {
        let Some(was) = before.get(&now.task) else { continue };
        if was.start != now.start || was.room != now.room || was.people != now.people {
            cost.moved += i64::from(problem.price.move_task)
                + i64::from(problem.price.move_slot) * i64::from((was.start.0 - now.start.0).abs());
            movers += 1;
        }
    }
    let beyond = movers.saturating_sub(Price::calm(before.len()));
    cost.moved += i64::from(problem.price.upheaval) * beyond as i64;
    (cost, late)
}

/// Where the previous plan has the tasks that have not started.
fn known(problem: &Problem) -> BTreeMap<TaskId, &Placement> {
    let open: BTreeSet<TaskId> = problem
        .tasks
        .iter()
        .filter(|t| matches!(t.state, State::Free | State::Pinned { .. }))
        .map(|t| t.id)
        .collect();
    let placements = problem.previous.iter().flat_map(|p| &p.placements);
    placements.filter(|p| open.contains(&p.task)).map(|p| (p.task, p)).collect()
}
