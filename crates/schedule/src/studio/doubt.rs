//! Proofs that there is no plan, in words: what contradicts what, and what would free it.

use super::board::Spot;
use super::bound::{Heads, work_of};
use super::model::{Fixed, Model};
use crate::graph::{Edge, longest_paths};
use crate::outcome::{Outcome, Why, WhyKind};
use crate::problem::{PersonId, TaskId};
use crate::time::Slot;

/// Looks for every proof known; without one, the earliest times of all tasks.
pub(super) fn proofs(model: &Model<'_>) -> Result<Heads, Box<Why>> {
    if let Some(why) = cycle(model) {
        return Err(Box::new(why));
    }
    for i in 0..model.tasks.len() {
        if let Some(why) = missing(model, i) {
            return Err(Box::new(why));
        }
    }
    if let Some(why) = overload(model) {
        return Err(Box::new(why));
    }
    let heads = Heads::of(model);
    match heads.stuck {
        Some(i) => Err(Box::new(out_of_time(model, &heads, i))),
        None => Ok(heads),
    }
}

fn name(model: &Model<'_>, i: usize) -> String {
    model.problem.tasks[i].name.clone()
}

fn id(model: &Model<'_>, i: usize) -> TaskId {
    model.problem.tasks[i].id
}

/// Lags that contradict each other around a cycle of starts and ends.
fn cycle(model: &Model<'_>) -> Option<Why> {
    // Node 2i is the start of task i, node 2i + 1 its end.
    let n = model.tasks.len();
    let mut edges = Vec::new();
    let is_fact = |i: usize| matches!(model.tasks[i].fixed, Fixed::Fact { .. });
    for (i, task) in model.tasks.iter().enumerate() {
        let work = i64::from(task.work);
        edges.push(Edge { from: 2 * i, to: 2 * i + 1, weight: work });
        if task.patterns.is_empty() {
            edges.push(Edge { from: 2 * i + 1, to: 2 * i, weight: -work });
        }
    }
    for link in model.links.iter().filter(|l| !is_fact(l.from) && !is_fact(l.to)) {
        if let Some(least) = link.least {
            edges.push(Edge { from: 2 * link.from + 1, to: 2 * link.to, weight: i64::from(least) });
        }
        if let Some(most) = link.most {
            edges.push(Edge { from: 2 * link.to, to: 2 * link.from + 1, weight: -i64::from(most) });
        }
    }
    let nodes = longest_paths(&mut vec![0; 2 * n], &edges).err()?;
    let mut tasks: Vec<usize> = nodes.iter().map(|v| v / 2).collect();
    tasks.dedup();
    if tasks.len() > 1 && tasks.first() == tasks.last() {
        tasks.pop();
    }
    // A cycle has no first task; told from the first in the list, it is told the same every time.
    let first = (0..tasks.len()).min_by_key(|&k| tasks[k]).unwrap_or(0);
    tasks.rotate_left(first);
    let words: Vec<String> = tasks.iter().map(|&i| name(model, i)).collect();
    Some(
        Why::new(
            WhyKind::Cycle,
            format!(
                "The times between these tasks contradict each other, whoever does them: {}.",
                words.join(" → ")
            ),
            "Lengthen the longest time allowed between two of them, or shorten the least time or the work between.",
        )
        .about(tasks.iter().map(|&i| id(model, i))),
    )
}

/// What the studio does not have, however long it waits.
fn missing(model: &Model<'_>, i: usize) -> Option<Why> {
    let (task, spec) = (&model.tasks[i], &model.problem.tasks[i]);
    if matches!(task.fixed, Fixed::Fact { .. }) {
        return None;
    }
    for hall in &task.halls {
        if hall.able.count_ones() < hall.count {
            let skills: Vec<&str> =
                spec.crew.iter().filter_map(|n| n.skill.as_ref().map(|s| s.0.as_str())).collect();
            let what =
                if skills.is_empty() { "people".into() } else { format!("people for {}", skills.join(", ")) };
            return Some(
                Why::new(
                    WhyKind::Missing,
                    format!(
                        "{} needs {} {what}; there are {}.",
                        spec.name,
                        hall.count,
                        hall.able.count_ones()
                    ),
                    "Teach the skill to somebody, or plan the task with fewer people and more time.",
                )
                .about([spec.id]),
            );
        }
    }
    let usable = |r: usize| model.problem.rooms[r].places > 0 && model.problem.rooms[r].at_once > 0;
    if task.needs_room && !(0..model.problem.rooms.len()).any(|r| task.rooms >> r & 1 == 1 && usable(r)) {
        let kinds: Vec<&str> = spec.rooms.iter().map(|k| k.0.as_str()).collect();
        return Some(
            Why::new(
                WhyKind::Missing,
                format!("{} needs a room for {}; there is none.", spec.name, kinds.join(" or ")),
                "Let a room be used for it.",
            )
            .about([spec.id]),
        );
    }
    for &(k, count) in &task.tools {
        let tool = &model.problem.tools[k];
        if u32::from(count) > tool.count {
            return Some(
                Why::new(
                    WhyKind::Missing,
                    format!("{} needs {count} × {}; there are {}.", spec.name, tool.name, tool.count),
                    "Get another, or plan the task with fewer.",
                )
                .about([spec.id]),
            );
        }
    }
    let never = |k: usize| model.tables[k][0] > model.horizon;
    if task.table.is_some_and(never) {
        let longest = model
            .problem
            .people
            .iter()
            .enumerate()
            .filter(|(p, _)| task.wants.iter().any(|w| w.able >> p & 1 == 1))
            .map(|(_, p)| p.calendar.longest())
            .max();
        let grid = model.problem.grid;
        return Some(
            Why::new(
                WhyKind::TooLong,
                format!(
                    "{} takes {} without a pause; nobody who can do it works that long together (longest shift without a break: {}).",
                    spec.name,
                    grid.words(task.work),
                    grid.words(longest.unwrap_or(0))
                ),
                "Let the task pause over breaks and nights, divide it, or lengthen a shift.",
            )
            .about([spec.id]),
        );
    }
    None
}

/// More work than working time until the horizon, for people that nobody can stand in for.
fn overload(model: &Model<'_>) -> Option<Why> {
    let mut sets: Vec<u64> = model.tasks.iter().flat_map(|t| t.halls.iter().map(|h| h.able)).collect();
    sets.sort();
    sets.dedup();
    for set in sets {
        let need = work_of(model, set);
        let have: i64 = (model.now..model.horizon)
            .map(|t| i64::from((model.working[t as usize] & set).count_ones()))
            .sum();
        if need > have {
            let people: Vec<usize> = (0..model.problem.people.len()).filter(|p| set >> p & 1 == 1).collect();
            let names: Vec<&str> = people.iter().map(|&p| model.problem.people[p].name.as_str()).collect();
            let grid = model.problem.grid;
            let words = |slots: i64| grid.words(slots.min(i64::from(i32::MAX)) as i32);
            let mut why = Why::new(
                WhyKind::Overload,
                format!(
                    "{} have {} of work and {} of working time.",
                    names.join(", "),
                    words(need),
                    words(have)
                ),
                "Plan over more days, add hours, or teach somebody else what only they can do.",
            );
            why.people = people.iter().map(|&p| model.problem.people[p].id).collect::<Vec<PersonId>>();
            return Some(why);
        }
    }
    None
}

/// A task that cannot end before the horizon even alone in the studio.
fn out_of_time(model: &Model<'_>, heads: &Heads, i: usize) -> Why {
    let before: Vec<usize> = model.touching[i]
        .iter()
        .map(|&l| model.links[l])
        .filter(|l| l.to == i && l.from != i && l.least.is_some())
        .map(|l| l.from)
        .collect();
    let ready = before.iter().map(|&j| heads.ends[j]).max().unwrap_or(model.tasks[i].earliest);
    let grid = model.problem.grid;
    Why::new(
        WhyKind::Overload,
        format!(
            "{} cannot end before the plan does ({}), even with nothing else in the studio: it can start at {} at the earliest.",
            name(model, i),
            grid.point(Slot(model.horizon)),
            grid.point(Slot(ready.max(model.tasks[i].earliest)))
        ),
        "Plan over more days, or add working time.",
    )
    .about(std::iter::once(i).chain(before).map(|j| id(model, j)))
}

/// A pin that is impossible where it is: a proof when it is so alone in the studio.
pub(super) fn misplaced(model: &Model<'_>, i: usize) -> Outcome {
    let Fixed::Pin { start, people, room } = model.tasks[i].fixed else {
        return Outcome::Unsettled(Why::effort_spent());
    };
    let alone = super::board::Board::new(model).find_pinned(model, &model.tasks[i], start, people, room);
    let at = model.problem.grid.point(Slot(start));
    if alone.is_none() {
        return Outcome::Infeasible(
            Why::new(
                WhyKind::Pins,
                format!(
                    "{} is pinned to {at}, where its people, room or tools are not available.",
                    name(model, i)
                ),
                "Move the pin into working time, or pin other people or another room.",
            )
            .about([id(model, i)]),
        );
    }
    let others =
        (0..model.tasks.len()).filter(|&j| j != i && matches!(model.tasks[j].fixed, Fixed::Pin { .. }));
    Outcome::Unsettled(
        Why::new(
            WhyKind::Pins,
            format!(
                "{} is pinned to {at}, where other pins or work going on leave it no people, room or tools.",
                name(model, i)
            ),
            "Move one of the pins, or leave people and room open.",
        )
        .about(std::iter::once(i).chain(others).map(|j| id(model, j))),
    )
}

/// What the best attempt could not place.
pub(super) fn unplaced(model: &Model<'_>, spots: &[Option<Spot>]) -> Why {
    let left: Vec<usize> = (0..spots.len()).filter(|&i| spots[i].is_none()).collect();
    let Some(&first) = left.first() else {
        return Why::new(
            WhyKind::Pins,
            "No plan was found that keeps the times between pinned tasks and the others.",
            "Move a pin, or widen the longest time allowed.",
        );
    };
    Why::new(
        WhyKind::Effort,
        format!(
            "No place was found for {} (and {} more) before the plan ends.",
            name(model, first),
            left.len() - 1
        ),
        "Plan over more days, widen the longest times allowed between tasks, or give the search more time.",
    )
    .about(left.into_iter().map(|i| id(model, i)))
}

/// Two pins, or a pin and what has happened, with a time between them that is not allowed; `fixed` is where they lie.
pub(super) fn at_odds(model: &Model<'_>, fixed: &[Option<Spot>]) -> Option<Why> {
    let is_fact = |i: usize| matches!(model.tasks[i].fixed, Fixed::Fact { .. });
    model.links.iter().filter(|l| !is_fact(l.from) || !is_fact(l.to)).find_map(|link| {
        let (from, to) = (fixed[link.from].as_ref()?, fixed[link.to].as_ref()?);
        let between = to.start - from.end;
        let (a, b) = (name(model, link.from), name(model, link.to));
        let at = |slot: i32| model.problem.grid.point(Slot(slot));
        let (what, way_on) = if link.least.is_some_and(|least| between < least) {
            (
                format!(
                    "{b} cannot start at {}: {a} comes before it and ends at {}",
                    at(to.start),
                    at(from.end)
                ),
                "Move one of the two, so that the order and the time between them are kept.",
            )
        } else if link.most.is_some_and(|most| between > most) {
            (
                format!("{b} starts too late after {a}, which ends at {}", at(from.end)),
                "Move the two closer together.",
            )
        } else {
            return None;
        };
        Some(
            Why::new(WhyKind::Pins, format!("{what}."), way_on)
                .about([id(model, link.from), id(model, link.to)]),
        )
    })
}
