//! The classic core: tasks on renewable capacities with minimum and maximum lags (RCPSP/max).

mod parse;

use crate::Config;
use effort::Effort;
use serde::{Deserialize, Serialize};

/// A lag between starts: `start(to) >= start(from) + lag`. A negative lag is a maximum lag the other
/// way round.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Arc {
    /// From the start of this activity.
    pub from: usize,
    /// To the start of this one.
    pub to: usize,
    /// By at least this many periods.
    pub lag: i32,
}

/// One activity of a [`Project`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Activity {
    /// Periods it takes.
    pub duration: i32,
    /// Units of each resource that it holds while it runs.
    pub uses: Vec<i32>,
}

/// A project: the last activity is the sink, and its start is the makespan.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Project {
    /// Units there are of each resource.
    pub capacities: Vec<i32>,
    /// Activities, from 0.
    pub activities: Vec<Activity>,
    /// Lags between starts.
    pub arcs: Vec<Arc>,
}

/// What is known of a [`Project`] after a search.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Status {
    /// The makespan is proved to be the shortest.
    Optimal,
    /// A schedule, perhaps not the shortest.
    Feasible,
    /// Proved: there is no schedule.
    Infeasible,
    /// Neither a schedule nor a proof that there is none.
    Unknown,
}

/// The answer to a [`Project`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Solved {
    /// What is known.
    pub status: Status,
    /// The shortest makespan found.
    pub makespan: Option<i32>,
    /// No schedule is shorter than this.
    pub bound: i32,
    /// Start of every activity; empty without a schedule.
    pub starts: Vec<i32>,
    /// Why there is no schedule: for a contradiction between lags, the cycle of activities.
    pub cycle: Vec<usize>,
}

/// The shortest schedule of a project.
///
/// One step of [`Effort`] is one activity put onto the profile, or one look of the exact solver at its
/// limit. A schedule in the answer has passed [`Project::verify`].
pub fn solve_project(project: &Project, config: &Config, effort: &Effort) -> Solved {
    let _ = (project, config, effort);
    Solved { status: Status::Unknown, makespan: None, bound: 0, starts: Vec::new(), cycle: Vec::new() }
}

impl Project {
    /// Checks a schedule: every start known and not negative, every lag kept, no resource overused.
    pub fn verify(&self, starts: &[i32]) -> bool {
        if starts.len() != self.activities.len() || starts.iter().any(|s| *s < 0) {
            return false;
        }
        if self.arcs.iter().any(|a| starts[a.to] < starts[a.from] + a.lag) {
            return false;
        }
        // Use of a resource rises only where an activity starts.
        let running = |i: usize, t: i32| starts[i] <= t && t < starts[i] + self.activities[i].duration;
        starts.iter().all(|&t| {
            let at: Vec<usize> = (0..starts.len()).filter(|&i| running(i, t)).collect();
            (0..self.capacities.len())
                .all(|k| at.iter().map(|&i| self.activities[i].uses[k]).sum::<i32>() <= self.capacities[k])
        })
    }
}
