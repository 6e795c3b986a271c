#![doc = include_str!("../README.md")]

mod calendar;
mod form;
mod graph;
mod odds;
mod outcome;
mod plan;
mod problem;
mod project;
mod shop;
mod studio;
mod time;
mod verify;
mod words;

pub use calendar::Calendar;
pub use form::StudioForm;
pub use odds::{Spread, simulate};
pub use outcome::{Fault, Outcome, Why, WhyKind};
pub use plan::{Cost, Late, Moved, Placement, Plan};
pub use problem::{
    Air, Due, JobId, Lag, Need, Person, PersonId, Price, Problem, Room, RoomId, RoomKind, Skill, State, Task,
    TaskId, Tool, ToolId, ToolNeed,
};
pub use project::{Activity, Arc, Project, Solved, Status, solve_project};
pub use shop::parse_shop;
pub use time::{Grid, Slot, Span};
pub use verify::Flaw;

use effort::Effort;
use studio::{Search, Start};
use units::Seed;

/// How a search is started.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Config {
    /// Start of the random sequence: same problem, seed and effort in steps, same plan.
    pub seed: Seed,
}

/// A plan for the studio: everybody, every room and every promise looked at together.
///
/// One step of [`Effort`] is one task put onto the calendar. The answer has passed [`Plan::verify`].
///
/// # Errors
/// [`Fault`] when the problem contradicts itself (unknown ids, counts of nothing, times outside the
/// horizon). A problem that is sound but cannot be met is [`Outcome::Infeasible`].
pub fn solve(problem: &Problem, config: &Config, effort: &Effort) -> Result<Outcome, Fault> {
    problem.check()?;
    Ok(Search::new(problem, config.seed).run(Start::Rules, effort))
}

/// What is known of one task that did not go as planned.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Slip {
    /// It will take this many slots of work in all.
    Work {
        /// The task.
        task: TaskId,
        /// Slots of work, from its start to its end.
        work: u32,
    },
    /// It cannot start before this time ("not today").
    NotBefore {
        /// The task.
        task: TaskId,
        /// First slot in which it may start.
        slot: Slot,
    },
}

/// A plan mended after a slip: at once, and improved.
#[derive(Clone, Debug, PartialEq)]
pub struct Replan {
    /// The quick answer: everything keeps its order and moves right as far as it must.
    pub quick: Outcome,
    /// The answer after the search, weighing promises against moves.
    pub better: Outcome,
    /// What moved between the previous plan and the better answer.
    pub moved: Vec<Moved>,
}

/// Mends `problem.previous` after `slips`: freezes what has started, moves right, then improves with a
/// price on moving things ([`Price::move_task`], [`Price::move_slot`]).
///
/// # Errors
/// [`Fault`] as for [`solve`], and when there is no previous plan.
pub fn replan(problem: &Problem, slips: &[Slip], config: &Config, effort: &Effort) -> Result<Replan, Fault> {
    if problem.previous.is_none() {
        return Err(Fault::new(
            "previous plan",
            "there is none",
            "put the plan that people know into `previous`",
        ));
    };
    let mut slipped = problem.clone();
    for slip in slips {
        let (Slip::Work { task: id, .. } | Slip::NotBefore { task: id, .. }) = *slip;
        let Some(task) = slipped.tasks.iter_mut().find(|t| t.id == id) else {
            return Err(Fault::new(
                "slip",
                format!("task {} is unknown", id.0),
                "name a task of this problem",
            ));
        };
        match *slip {
            Slip::Work { work, .. } => task.work = work,
            Slip::NotBefore { slot, .. } => task.earliest = task.earliest.max(slot),
        }
    }
    slipped.check()?;
    let search = Search::new(&slipped, config.seed);
    let quick = search.run(Start::Previous, &Effort::steps(0));
    let better = match (&quick, search.run(Start::Previous, effort)) {
        (Outcome::Plan(_), Outcome::Unsettled(_)) => quick.clone(),
        (_, better) => better,
    };
    let moved = better.plan().map_or_else(Vec::new, |plan| plan.moved(&slipped));
    Ok(Replan { quick, better, moved })
}
