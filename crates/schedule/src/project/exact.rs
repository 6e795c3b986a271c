//! The exact solver: lazy clause generation by the pumpkin constraint solver, time-tabling on resources
//! and edge-finding where only one can run.

use super::network::{NONE, Network};
use effort::Effort;
use pumpkin_conflict_resolvers::resolvers::ResolutionResolver;
use pumpkin_constraints as constraints;
use pumpkin_core::Solver;
use pumpkin_core::branching::branchers::autonomous_search::AutonomousSearch;
use pumpkin_core::branching::branchers::independent_variable_value_brancher::IndependentVariableValueBrancher;
use pumpkin_core::branching::value_selection::InDomainMin;
use pumpkin_core::branching::variable_selection::Smallest;
use pumpkin_core::options::SolverOptions;
use pumpkin_core::predicate;
use pumpkin_core::rand::SeedableRng;
use pumpkin_core::rand::rngs::SmallRng;
use pumpkin_core::results::{ProblemSolution, SatisfactionResultUnderAssumptions};
use pumpkin_core::termination::TerminationCondition;
use pumpkin_core::variables::{DomainId, TransformableVariable};
use pumpkin_propagators::disjunctive::ArgDisjunctiveTask;
use units::Seed;

/// Steps of effort that one look of the solver at its limit stands for.
const LOOK: u64 = 50;

/// What the exact solver says.
pub(super) enum Verdict {
    /// Nothing is shorter than what is known (or nothing exists, when nothing is known).
    Closed,
    /// The limit came first.
    Open,
}

struct Watch<'e> {
    effort: &'e Effort,
    share: f64,
    looks: u64,
}

impl TerminationCondition for Watch<'_> {
    fn should_stop(&mut self) -> bool {
        self.looks += 1;
        if !self.looks.is_multiple_of(16) {
            return false;
        }
        !self.effort.spend(16 * LOOK) || self.effort.used() >= self.share
    }
}

/// Looks for schedules shorter than `best` (shorter than `horizon` when there is none) until it is
/// proved that there is none, `share` of the effort is used, or the first was found where that is `enough`.
/// `best` takes the shortest found.
#[expect(clippy::too_many_arguments, reason = "one call for both uses")]
pub(super) fn improve(
    net: &Network<'_>,
    best: &mut Option<Vec<i32>>,
    bound: i32,
    horizon: i32,
    seed: Seed,
    enough: bool,
    share: f64,
    effort: &Effort,
) -> Verdict {
    let latest = best.as_ref().map_or(horizon, |b| b[net.sink] - 1);
    if latest < bound {
        return Verdict::Closed;
    }
    let mut domains = Vec::with_capacity(net.n);
    for i in 0..net.n {
        let last = if net.tails[i] > NONE { latest - net.tails[i] } else { horizon };
        if last < net.heads[i] {
            return Verdict::Closed;
        }
        domains.push((net.heads[i], last));
    }
    let options = SolverOptions {
        random_generator: SmallRng::seed_from_u64(seed.0),
        memory_preallocated: 1,
        ..SolverOptions::default()
    };
    let mut solver = Solver::with_options(options);
    let starts: Vec<DomainId> = domains.iter().map(|&(a, b)| solver.new_bounded_integer(a, b)).collect();
    post(net, &mut solver, &starts);
    if solver.is_inconsistent() {
        return Verdict::Closed;
    }
    let backup = IndependentVariableValueBrancher::new(Smallest::new(&starts), InDomainMin);
    let mut brancher = AutonomousSearch::new(backup);
    let mut resolver = ResolutionResolver::default();
    let mut watch = Watch { effort, share, looks: 0 };
    let sink = starts[net.sink];
    loop {
        let limit = best.as_ref().map_or(horizon, |b| b[net.sink] - 1);
        if limit < bound {
            return Verdict::Closed;
        }
        let goal = [predicate![sink <= limit]];
        let found = match solver.satisfy_under_assumptions(&mut brancher, &mut watch, &mut resolver, &goal) {
            SatisfactionResultUnderAssumptions::Satisfiable(found) => {
                let solution = found.solution();
                starts.iter().map(|s| solution.get_integer_value(*s)).collect::<Vec<i32>>()
            }
            SatisfactionResultUnderAssumptions::UnsatisfiableUnderAssumptions(_)
            | SatisfactionResultUnderAssumptions::Unsatisfiable(_) => return Verdict::Closed,
            SatisfactionResultUnderAssumptions::Unknown(_) => return Verdict::Open,
        };
        *best = Some(found);
        if enough {
            return Verdict::Open;
        }
    }
}

/// Redundant constraints cost more than they give beyond so many.
const CLIQUES: usize = 40;

fn post(net: &Network<'_>, solver: &mut Solver, starts: &[DomainId]) {
    let tag = solver.new_constraint_tag();
    for arc in &net.project.arcs {
        if arc.from != arc.to {
            let (a, b) = (starts[arc.from].offset(arc.lag), starts[arc.to].offset(0));
            solver.add_constraint(constraints::binary_less_than_or_equals(a, b, tag)).post();
        }
    }
    for (k, &capacity) in net.project.capacities.iter().enumerate() {
        // The solver's resources know no activities without duration.
        let users: Vec<usize> =
            (0..net.n).filter(|&i| net.project.activities[i].uses[k] > 0 && net.duration[i] > 0).collect();
        let total: i64 = users.iter().map(|&i| i64::from(net.project.activities[i].uses[k])).sum();
        if users.len() < 2 || total <= i64::from(capacity) {
            continue;
        }
        let tag = solver.new_constraint_tag();
        // Activities that use more than half of it exclude each other.
        let large: Vec<usize> =
            users.iter().copied().filter(|&i| 2 * net.project.activities[i].uses[k] > capacity).collect();
        if large.len() > 1 {
            let tasks = large
                .iter()
                .map(|&i| ArgDisjunctiveTask { start_time: starts[i], processing_time: net.duration[i] });
            solver.add_constraint(constraints::disjunctive_strict(tasks, tag)).post();
        }
        if large.len() < users.len() {
            let times: Vec<DomainId> = users.iter().map(|&i| starts[i]).collect();
            let durations: Vec<i32> = users.iter().map(|&i| net.duration[i]).collect();
            let uses: Vec<i32> = users.iter().map(|&i| net.project.activities[i].uses[k]).collect();
            solver.add_constraint(constraints::cumulative(times, durations, uses, capacity, tag)).post();
        }
    }
    post_cliques(net, solver, starts);
}

/// What excludes each other across resources and lags: edge-finding sees it, time-tabling does not.
fn post_cliques(net: &Network<'_>, solver: &mut Solver, starts: &[DomainId]) {
    let mut cliques = super::bounds::cliques(net);
    // A set that shares one resource, each using more than half of it, is posted with the resource: on the
    // job shop ft20 saying it twice costs the proof.
    let halves = |k: usize, i: usize| 2 * net.project.activities[i].uses[k] > net.project.capacities[k];
    let kinds = net.project.capacities.len();
    cliques.retain(|c| c.len() > 2 && !(0..kinds).any(|k| c.iter().all(|&i| halves(k, i))));
    cliques.sort_by_key(|c| -c.iter().map(|&i| net.duration[i]).sum::<i32>());
    for clique in cliques.into_iter().take(CLIQUES) {
        let tag = solver.new_constraint_tag();
        let tasks = clique
            .iter()
            .map(|&i| ArgDisjunctiveTask { start_time: starts[i], processing_time: net.duration[i] });
        solver.add_constraint(constraints::disjunctive_strict(tasks, tag)).post();
    }
}
