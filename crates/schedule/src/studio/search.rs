//! The search over orders: rules to begin with, then moves of tasks, cars and windows, cooled down.

use super::board::{Spot, pieces};
use super::bound::{Heads, cost_bound};
use super::decode::{Decoder, Genes, Worth};
use super::doubt;
use super::model::{Fixed, Model};
use crate::outcome::{Outcome, Why, WhyKind};
use crate::plan::{Placement, Plan, price};
use crate::problem::{PersonId, Problem, RoomId};
use crate::time::{Slot, Span};
use effort::Effort;
use units::{Seed, Sequence};

/// What the search begins with.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Start {
    /// Rules of thumb.
    Rules,
    /// The previous plan, moved right as far as it must.
    Previous,
}

/// One run of the search.
pub(crate) struct Search<'a> {
    problem: &'a Problem,
    seed: Seed,
}

impl<'a> Search<'a> {
    pub fn new(problem: &'a Problem, seed: Seed) -> Self {
        Self { problem, seed }
    }

    /// The best plan that the effort allows; the first one is always made.
    pub fn run(&self, start: Start, effort: &Effort) -> Outcome {
        let model = Model::new(self.problem);
        let heads = match doubt::proofs(&model) {
            Ok(heads) => heads,
            Err(why) => return Outcome::Infeasible(*why),
        };
        let bound = cost_bound(&model, &heads);
        let mut climber = Climber::new(&model, &heads, bound, self.seed.sequence());
        if let Some(&i) = climber.decoder.misplaced.first() {
            return doubt::misplaced(&model, i);
        }
        if let Some(why) = doubt::at_odds(&model, &climber.decoder.fixed) {
            return Outcome::Infeasible(why);
        }
        climber.begin(start, effort);
        climber.climb(effort);
        self.answer(&model, &climber, bound)
    }

    fn answer(&self, model: &Model<'_>, climber: &Climber<'_>, bound: i64) -> Outcome {
        let spots: Option<Vec<Spot>> = climber.best_spots.iter().copied().collect();
        let complete = spots.filter(|_| climber.best.broken == 0);
        let Some(spots) = complete else {
            return Outcome::Unsettled(doubt::unplaced(model, &climber.best_spots));
        };
        let placements: Vec<Placement> =
            spots.iter().enumerate().map(|(i, spot)| placement(self.problem, model, i, spot)).collect();
        let (cost, late) = price(self.problem, &placements);
        let bound = bound.min(cost.total());
        let plan = Plan { placements, cost, bound, proved: bound == cost.total(), late };
        match plan.verify(self.problem) {
            Ok(()) => Outcome::Plan(plan),
            // The validator has the last word: a plan that it refuses does not leave.
            Err(flaw) => Outcome::Unsettled(Why::new(
                WhyKind::Effort,
                format!("The plan found did not pass its check: {flaw}."),
                "Try another seed, and report the problem.",
            )),
        }
    }
}

fn placement(problem: &Problem, model: &Model<'_>, i: usize, spot: &Spot) -> Placement {
    let task = &model.tasks[i];
    let spans: Vec<(i32, i32)> = match (&task.fixed, spot.pattern) {
        (Fixed::Fact { pieces, .. }, _) => pieces.clone(),
        (_, Some(k)) => pieces(&model.patterns[k].works, spot.start, spot.end),
        (_, None) => vec![(spot.start, spot.end)],
    };
    let mut people: Vec<PersonId> = (0..problem.people.len())
        .filter(|p| spot.people >> p & 1 == 1)
        .map(|p| problem.people[p].id)
        .collect();
    people.sort();
    let room: Option<RoomId> = spot.room.map(|r| problem.rooms[r].id);
    Placement {
        task: problem.tasks[i].id,
        start: Slot(spot.start),
        end: Slot(spot.end),
        pieces: spans.into_iter().filter(|s| s.0 < s.1).map(|(a, b)| Span::new(a, b)).collect(),
        people,
        room,
    }
}

pub(super) struct Climber<'a> {
    pub(super) model: &'a Model<'a>,
    pub(super) heads: &'a Heads,
    bound: i64,
    pub(super) decoder: Decoder<'a>,
    pub(super) chance: Sequence,
    genes: Genes,
    worth: Worth,
    pub(super) best: Worth,
    best_spots: Vec<Option<Spot>>,
    best_genes: Genes,
    /// Blocks that are not decided yet.
    pub(super) movable: Vec<usize>,
    /// Movable blocks of each job.
    pub(super) of_job: Vec<Vec<usize>>,
    /// Tasks that could go to several rooms.
    pub(super) choosy: Vec<usize>,
    /// Coolings that begin afresh.
    fresh: u32,
    /// Places in `of_job` of the jobs that are late now.
    pub(super) late: Vec<usize>,
}

/// Keys are slots times this, so that there is room between them.
pub(super) const FINE: i64 = 64;

/// Coolings in a search, and how many of them begin afresh; the others go on from the best so far.
/// On four cars, fewer and longer ones stay with the first order of cars that they meet.
const LAPS: u32 = 10;
const FRESH_LAPS: u32 = 7;

/// How much earlier ends count beside cost. Without, the search does not see the way over a plateau:
/// cost changes only when a car's last task moves, often by a whole night.
const LEAD: f64 = 1.0;

impl<'a> Climber<'a> {
    fn new(model: &'a Model<'a>, heads: &'a Heads, bound: i64, chance: Sequence) -> Self {
        let decoder = Decoder::new(model);
        let genes = Genes {
            keys: vec![0; model.blocks.len()],
            anchored: vec![false; model.tasks.len()],
            floors: vec![0; model.tasks.len()],
            wishes: vec![0; model.tasks.len()],
        };
        let movable: Vec<usize> = (0..model.blocks.len())
            .filter(|&b| model.blocks[b].iter().any(|&i| !decoder.is_fixed(i)))
            .collect();
        let mut of_job = vec![Vec::new(); model.jobs.len()];
        for &b in &movable {
            of_job[model.tasks[model.blocks[b][0]].job].push(b);
        }
        of_job.retain(|list| !list.is_empty());
        let worst = Worth { broken: i64::MAX, cost: i64::MAX, ends: i64::MAX };
        Self {
            model,
            heads,
            bound,
            decoder,
            chance,
            best_genes: genes.clone(),
            genes,
            worth: worst,
            best: worst,
            best_spots: vec![None; model.tasks.len()],
            movable,
            of_job,
            choosy: (0..model.tasks.len()).filter(|&i| model.tasks[i].rooms.count_ones() > 1).collect(),
            fresh: FRESH_LAPS,
            late: Vec::new(),
        }
    }

    fn done(&self) -> bool {
        self.best.broken == 0 && self.best.cost <= self.bound
    }

    /// Decodes and keeps the best.
    fn look(&mut self, genes: &Genes, effort: &Effort) -> Option<Worth> {
        let Some(worth) = self.decoder.decode(genes) else {
            effort.spend(1);
            return None;
        };
        effort.spend(self.model.tasks.len() as u64);
        if worth < self.best {
            if worth.broken == 0 && self.best.broken > 0 {
                effort.tell("first plan");
            }
            self.best = worth;
            self.best_spots.copy_from_slice(&self.decoder.spots);
            self.best_genes = genes.clone();
        }
        Some(worth)
    }

    /// Stands on this schedule from now on.
    fn stand_on(&mut self, genes: Genes, effort: &Effort) {
        let looked = self.look(&genes, effort);
        self.genes = genes;
        if let Some(worth) = looked {
            self.worth = worth;
            self.reread();
            self.decoder.keep(&self.genes);
        }
    }

    fn begin(&mut self, start: Start, effort: &Effort) {
        if start == Start::Previous {
            self.fresh = 0;
            self.stand_on(self.previous_genes(), effort);
            return;
        }
        let mut champion: Option<(Worth, Genes)> = None;
        let mut first: Vec<Genes> = (0..4).map(|rule| self.rule_genes(rule)).collect();
        if self.model.problem.previous.is_some() {
            first.push(self.previous_genes());
        }
        for genes in first {
            if let Some(worth) = self.look(&genes, effort)
                && champion.as_ref().is_none_or(|c| worth < c.0)
            {
                champion = Some((worth, genes));
            }
            if !effort.goes_on() {
                break;
            }
        }
        if let Some((_, genes)) = champion {
            self.stand_on(genes, effort);
        }
    }

    fn previous_genes(&self) -> Genes {
        let mut genes = self.genes.clone();
        for (b, members) in self.model.blocks.iter().enumerate() {
            let known = members.iter().filter_map(|&i| self.model.tasks[i].previous.map(|p| p.0));
            let head = members.iter().map(|&i| self.heads.starts[i]).min().unwrap_or(0);
            genes.keys[b] = i64::from(known.min().unwrap_or(head)) * FINE;
        }
        for (i, task) in self.model.tasks.iter().enumerate() {
            genes.anchored[i] = task.previous.is_some();
        }
        genes
    }

    /// Latest starts from promises, earliest starts, and mixtures.
    fn rule_genes(&self, rule: u32) -> Genes {
        let model = self.model;
        let n = model.tasks.len();
        let mut due = vec![i64::from(model.horizon); model.jobs.len()];
        for &(job, by, weight) in &model.dues {
            // Heavier promises go first among equals.
            let weight = (weight.max(1) as f64).log2() as i64;
            due[job] = due[job].min(i64::from(by) - if rule == 1 { 8 * weight } else { weight });
        }
        let mut latest: Vec<i64> = (0..n).map(|i| due[model.tasks[i].job]).collect();
        for &i in model.blocks.iter().flatten().collect::<Vec<_>>().iter().rev() {
            let work = i64::from(self.heads.ends[*i] - self.heads.starts[*i]);
            latest[*i] -= work;
            for &l in &model.touching[*i] {
                let link = model.links[l];
                if link.to == *i
                    && let Some(least) = link.least
                {
                    let by = latest[*i] - i64::from(least);
                    latest[link.from] = latest[link.from].min(by);
                }
            }
        }
        let mut genes = self.genes.clone();
        for (b, members) in model.blocks.iter().enumerate() {
            let late = members.iter().map(|&i| latest[i]).min().unwrap_or(0);
            let head = members.iter().map(|&i| i64::from(self.heads.starts[i])).min().unwrap_or(0);
            let job = model.tasks[members[0]].job;
            genes.keys[b] = FINE
                * match rule {
                    0 | 1 => late,
                    2 => head,
                    // One car after the other, by promise.
                    _ => due[job] * i64::from(model.horizon) + head,
                };
        }
        genes
    }

    fn climb(&mut self, effort: &Effort) {
        if self.movable.is_empty() || self.done() {
            return;
        }
        let first = self.first_heat(effort);
        let cold = first.min(1.0);
        let (mut lap, mut heat) = (0, first);
        let mut trial = self.genes.clone();
        let mut step = 0u64;
        while effort.goes_on() && !self.done() {
            if step.is_multiple_of(16) {
                let part = effort.used().min(1.0) * f64::from(LAPS);
                if part as u32 > lap {
                    lap = part as u32;
                    self.begin_lap(lap < self.fresh, effort);
                }
                let hot = if lap < self.fresh { first } else { first * 0.3 };
                heat = hot * (cold / hot).powf(part.fract());
            }
            step += 1;
            trial.keys.copy_from_slice(&self.genes.keys);
            trial.anchored.copy_from_slice(&self.genes.anchored);
            trial.floors.copy_from_slice(&self.genes.floors);
            trial.wishes.copy_from_slice(&self.genes.wishes);
            self.perturb(&mut trial);
            let Some(worth) = self.look(&trial, effort) else { continue };
            let worse = self.energy(worth) - self.energy(self.worth);
            if worse <= 0.0 || self.chance.uniform() < (-worse / heat).exp() {
                self.worth = worth;
                std::mem::swap(&mut self.genes, &mut trial);
                self.reread();
                self.decoder.keep(&self.genes);
            }
            if step.is_multiple_of(4096) {
                effort.tell(format!("best cost {}", self.best.cost));
            }
        }
    }

    /// Starts again: from an order of jobs drawn by chance, or from the best so far.
    fn begin_lap(&mut self, fresh: bool, effort: &Effort) {
        let genes = if fresh { self.drawn_genes() } else { self.best_genes.clone() };
        self.stand_on(genes, effort);
    }

    fn drawn_genes(&mut self) -> Genes {
        let rule = self.chance.below(3) as u32;
        let mut genes = self.rule_genes(rule);
        let spread = self.reach() as usize;
        for list in &self.of_job {
            let by = self.chance.below(spread) as i64;
            for &b in list {
                genes.keys[b] += by;
            }
        }
        genes
    }

    fn energy(&self, worth: Worth) -> f64 {
        worth.broken as f64 * 1e4 + worth.cost as f64 + worth.ends as f64 * LEAD / 1024.0
    }

    /// A heat at which a typical worsening is accepted now and then.
    fn first_heat(&mut self, effort: &Effort) -> f64 {
        let mut worse = Vec::new();
        let mut trial = self.genes.clone();
        for _ in 0..40 {
            if !effort.goes_on() {
                break;
            }
            trial.keys.copy_from_slice(&self.genes.keys);
            self.perturb(&mut trial);
            let Some(worth) = self.look(&trial, effort) else { continue };
            let delta = self.energy(worth) - self.energy(self.worth);
            if delta > 0.0 && worth.broken <= self.worth.broken {
                worse.push(delta);
            }
        }
        worse.sort_by(f64::total_cmp);
        worse.get(worse.len() / 2).copied().unwrap_or(1.0) * 0.1
    }

    /// Keys from the starts of the schedule just decoded.
    fn reread(&mut self) {
        self.find_late();
        for &b in &self.movable {
            let starts = self.model.blocks[b].iter().filter_map(|&i| self.decoder.spots[i].map(|s| s.start));
            self.genes.keys[b] = i64::from(starts.min().unwrap_or(self.model.horizon)) * FINE;
        }
    }
}
