//! The classic core: tasks on renewable capacities with minimum and maximum lags (RCPSP/max).

mod bounds;
mod exact;
mod genetic;
mod lagged;
mod network;
mod parse;
mod profile;
mod serial;
mod tree;

use crate::Config;
use crate::outcome::Fault;
use effort::Effort;
use genetic::Genetic;
use lagged::Lagged;
use network::Network;
use serde::{Deserialize, Serialize};
use serial::Serial;

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
///
/// # Errors
/// [`Fault`] when the project is not well formed ([`Project::check`]).
pub fn solve_project(project: &Project, config: &Config, effort: &Effort) -> Result<Solved, Fault> {
    project.check()?;
    if project.activities.is_empty() {
        let starts = Vec::new();
        return Ok(Solved {
            status: Status::Optimal,
            makespan: Some(0),
            bound: 0,
            starts,
            cycle: Vec::new(),
        });
    }
    Ok(match Network::new(project) {
        Ok(net) => Scheduler::new(&net, config).run(effort),
        Err(cycle) => {
            Solved { status: Status::Infeasible, makespan: None, bound: 0, starts: Vec::new(), cycle }
        }
    })
}

struct Scheduler<'a> {
    net: &'a Network<'a>,
    config: &'a Config,
    bound: i32,
    best: Option<Vec<i32>>,
    closed: bool,
}

impl<'a> Scheduler<'a> {
    fn new(net: &'a Network<'a>, config: &'a Config) -> Self {
        Self { net, config, bound: bounds::lower_bound(net), best: None, closed: net.impossible() }
    }

    fn run(mut self, effort: &Effort) -> Solved {
        if !self.closed {
            match self.net.order {
                Some(_) => self.with_least_lags(effort),
                None => self.with_most_lags(effort),
            }
        }
        self.answer()
    }

    fn makespan(&self) -> Option<i32> {
        self.best.as_ref().map(|b| b[self.net.sink])
    }

    /// Heuristic, exact solver, heuristic again.
    fn with_least_lags(&mut self, effort: &Effort) {
        let mut genetic = Genetic::new(self.net, Serial::new(self.net), self.config.seed.sequence());
        let (first, exact) = if self.net.n <= 62 || self.unary() { (0.1, 0.5) } else { (0.9, 0.9) };
        genetic.run(self.bound, first, effort);
        self.best = Some(genetic.best.clone());
        if self.makespan() > Some(self.bound)
            && let Some(tree) = tree::Tree::new(self.net, self.bound, 0.9, effort)
        {
            self.closed |= matches!(tree.improve(&mut self.best), exact::Verdict::Closed);
        }
        self.prove(exact, effort);
        if !self.closed && self.makespan() > Some(self.bound) {
            if let Some(best) = &self.best
                && best[self.net.sink] < genetic.makespan
            {
                genetic.learn(best);
            }
            genetic.run(self.bound, 1.0, effort);
            if Some(genetic.makespan) < self.makespan() {
                self.best = Some(genetic.best);
            }
        }
    }

    fn unary(&self) -> bool {
        self.net.project.capacities.iter().all(|c| *c == 1)
    }

    fn with_most_lags(&mut self, effort: &Effort) {
        let mut genetic = Genetic::new(self.net, Lagged::new(self.net), self.config.seed.sequence());
        genetic.run(self.bound, 0.04, effort);
        if genetic.makespan == i32::MAX {
            self.ask(true, 1.0, effort);
            match &self.best {
                Some(found) => genetic.take(found),
                None => return,
            }
        } else {
            self.best = Some(genetic.best.clone());
        }
        self.prove(0.25, effort);
        if self.closed || self.makespan() <= Some(self.bound) {
            return;
        }
        if let Some(found) = &self.best
            && found[self.net.sink] < genetic.makespan
        {
            genetic.take(found);
        }
        genetic.run(self.bound, 0.95, effort);
        if genetic.makespan < self.makespan().unwrap_or(i32::MAX) {
            self.best = Some(genetic.best);
        }
        self.prove(1.0, effort);
    }

    fn prove(&mut self, share: f64, effort: &Effort) {
        self.ask(false, share, effort);
    }

    /// Asks the exact solver for something better, and for a proof unless the first answer is `enough`.
    fn ask(&mut self, enough: bool, share: f64, effort: &Effort) {
        if effort.goes_on() && self.makespan().is_none_or(|m| m > self.bound) {
            let verdict = exact::improve(
                self.net,
                &mut self.best,
                self.bound,
                self.net.horizon,
                self.config.seed,
                enough,
                share,
                effort,
            );
            self.closed |= matches!(verdict, exact::Verdict::Closed);
        }
    }

    fn answer(self) -> Solved {
        let checked = self.best.filter(|starts| self.net.project.verify(starts));
        let makespan = checked.as_ref().map(|b| b[self.net.sink]);
        let optimal = makespan.is_some_and(|m| self.closed || m <= self.bound);
        Solved {
            status: match makespan {
                Some(_) if optimal => Status::Optimal,
                Some(_) => Status::Feasible,
                None if self.closed => Status::Infeasible,
                None => Status::Unknown,
            },
            makespan,
            bound: if optimal { makespan.unwrap_or(self.bound) } else { self.bound },
            starts: checked.unwrap_or_default(),
            cycle: Vec::new(),
        }
    }
}

impl Project {
    /// Whether the project is well formed: numbers in range, one use per resource, known activities.
    ///
    /// # Errors
    /// The first [`Fault`] met.
    pub fn check(&self) -> Result<(), Fault> {
        let (most, longest) = (32_767, 1_000_000);
        if let Some(c) = self.capacities.iter().find(|c| !(0..=most).contains(*c)) {
            return Err(Fault::new("capacity", c.to_string(), format!("give 0 to {most}")));
        }
        if self.activities.len() > 100_000 {
            return Err(Fault::new("activities", "more than 100000", "divide the project"));
        }
        for (i, a) in self.activities.iter().enumerate() {
            let wrong = a.uses.len() != self.capacities.len()
                || a.uses.iter().any(|u| !(0..=most).contains(u))
                || !(0..=longest).contains(&a.duration);
            if wrong {
                let remedy =
                    format!("give a duration of 0 to {longest} and one use of 0 to {most} per resource");
                return Err(Fault::new(format!("activity {i}"), "its numbers are out of range", remedy));
            }
        }
        for (k, arc) in self.arcs.iter().enumerate() {
            if let Some(i) = [arc.from, arc.to].into_iter().find(|i| *i >= self.activities.len()) {
                return Err(Fault::new(
                    format!("arc {k}"),
                    format!("activity {i} is unknown"),
                    "count from 0",
                ));
            }
            if arc.lag.unsigned_abs() > 10_000_000 {
                return Err(Fault::new(
                    format!("arc {k}"),
                    format!("lag {}", arc.lag),
                    "stay within 10000000",
                ));
            }
        }
        let work = self.activities.iter().map(|a| i64::from(a.duration)).sum::<i64>();
        let waiting = self.arcs.iter().map(|a| i64::from(a.lag.max(0))).sum::<i64>();
        if work + waiting > 20_000_000 {
            return Err(Fault::new(
                "durations and lags",
                "more than 20000000 periods in all",
                "take longer periods",
            ));
        }
        Ok(())
    }

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
