//! What no plan can beat: earliest ends by lags and calendars, and work against working time.

use super::board::Board;
use super::model::{FAR, Fixed, Model, enough};

/// Earliest start and end of every task by lags, calendars and what is fixed, each task alone in the
/// studio; none where a task cannot end within the horizon.
pub(super) struct Heads {
    pub starts: Vec<i32>,
    pub ends: Vec<i32>,
    /// A task that finds no place at all.
    pub stuck: Option<usize>,
}

impl Heads {
    pub fn of(model: &Model<'_>) -> Self {
        let n = model.tasks.len();
        let board = Board::new(model);
        let mut heads = Self { starts: vec![0; n], ends: vec![0; n], stuck: None };
        let order: Vec<usize> = model.blocks.iter().flatten().copied().collect();
        // Blocks are in order of their lags: one pass, and more only for what cycles inside blocks ask.
        for round in 0..n.max(1) {
            let mut changed = false;
            for &i in &order {
                let (mut from, mut end_from) = (model.tasks[i].earliest, 0);
                for &l in &model.touching[i] {
                    let link = model.links[l];
                    if link.to == i
                        && link.from != i
                        && let Some(least) = link.least
                    {
                        from = from.max(heads.ends[link.from].saturating_add(least));
                    }
                    if link.from == i
                        && link.to != i
                        && let Some(most) = link.most
                    {
                        end_from = end_from.max(heads.starts[link.to] - most);
                    }
                }
                let (start, end) = match &model.tasks[i].fixed {
                    Fixed::Fact { start, pieces, .. } => (*start, pieces.last().map_or(*start, |p| p.1)),
                    Fixed::Pin { start, .. } => match earliest(model, &board, i, *start, 0) {
                        Some((_, end)) => (*start, end),
                        None => (*start, *start + model.tasks[i].work),
                    },
                    Fixed::No => match earliest(model, &board, i, from, end_from) {
                        Some(bound) => bound,
                        None => {
                            heads.stuck = Some(i);
                            return heads;
                        }
                    },
                };
                changed |= round == 0 || start > heads.starts[i] || end > heads.ends[i];
                heads.starts[i] = start;
                heads.ends[i] = end;
            }
            if !changed {
                break;
            }
        }
        heads
    }
}

/// The earliest start and the earliest end of a task alone in an empty studio.
fn earliest(model: &Model<'_>, board: &Board, i: usize, from: i32, end_from: i32) -> Option<(i32, i32)> {
    let task = &model.tasks[i];
    if task.patterns.is_empty() {
        return board.find(model, task, from, end_from, FAR).map(|spot| (spot.start, spot.end));
    }
    // Whatever the crew, it works only in slots in which enough people work.
    let (mut left, mut start) = (task.work, None);
    for t in from.max(0)..model.horizon {
        if enough(&task.halls, model.working[t as usize]) {
            start = start.or(Some(t));
            left -= 1;
            if left <= 0 && t + 1 >= end_from {
                return start.map(|s| (s, t + 1));
            }
        }
    }
    None
}

/// A lower bound on the cost of any plan.
pub(super) fn cost_bound(model: &Model<'_>, heads: &Heads) -> i64 {
    let mut ends = vec![0i32; model.jobs.len()];
    for (task, end) in model.tasks.iter().zip(&heads.ends) {
        ends[task.job] = ends[task.job].max(*end);
    }
    let late: i64 =
        model.dues.iter().map(|&(job, by, weight)| weight * i64::from((ends[job] - by).max(0))).sum();
    let makespan = ends.iter().copied().max().unwrap_or(0).max(work_bound(model));
    late + i64::from(model.problem.price.makespan) * i64::from(makespan)
}

/// Until when at least people must work: for every set of people that some tasks depend on, the work
/// that only they can do against their working time.
fn work_bound(model: &Model<'_>) -> i32 {
    let mut sets: Vec<u64> = model.tasks.iter().flat_map(|t| t.halls.iter().map(|h| h.able)).collect();
    sets.sort();
    sets.dedup();
    let mut bound = 0;
    for set in sets {
        let need = work_of(model, set);
        let mut have = 0i64;
        for t in model.now..model.horizon {
            if have >= need {
                break;
            }
            have += i64::from((model.working[t as usize] & set).count_ones());
            bound = bound.max(if have >= need { t + 1 } else { bound });
        }
    }
    bound
}

/// Slots of work, not begun yet, that only people of `set` can do.
pub(super) fn work_of(model: &Model<'_>, set: u64) -> i64 {
    let mut need = 0;
    for task in model.tasks.iter().filter(|t| matches!(t.fixed, Fixed::No)) {
        let only: u32 = task.wants.iter().filter(|w| w.able & !set == 0).map(|w| w.count).sum();
        need += i64::from(only) * i64::from(task.work);
    }
    need
}
