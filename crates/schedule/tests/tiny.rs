//! Tiny studios against brute force: every start, crew and room is tried, and only the validator judges.

#![allow(clippy::unwrap_used, reason = "a test may stop")]

use effort::Effort;
use schedule::{
    Air, Calendar, Config, Cost, Due, Flaw, Grid, JobId, Lag, Need, Outcome, Person, PersonId, Placement,
    Plan, Price, Problem, Room, RoomId, Slot, Span, State, Task, TaskId, solve,
};
use units::{Seed, Sequence};

fn tiny(seed: u64) -> Problem {
    let s = &mut Seed(seed).sequence();
    let horizon = 7 + s.below(6) as i32;
    let people = (0..1 + s.below(2) as u32)
        .map(|i| Person {
            id: PersonId(i),
            name: format!("person {i}"),
            skills: if i == 0 || s.below(2) == 0 { vec!["film".into()] } else { Vec::new() },
            calendar: Calendar::from(vec![Span::new(0, 3 + s.below(3) as i32), Span::new(6, horizon)]),
        })
        .collect();
    let rooms = (0..1 + s.below(2) as u32)
        .map(|i| Room {
            id: RoomId(i),
            name: format!("room {i}"),
            kinds: vec!["work".into()],
            places: 1,
            at_once: 1 + s.below(2) as u32,
            air_group: s.below(2) as u32,
            closed: Vec::new(),
        })
        .collect();
    let tasks: Vec<Task> = (0..2 + s.below(3) as u32)
        .map(|i| Task {
            id: TaskId(i),
            job: JobId(i % 2),
            name: format!("task {i}"),
            work: 1 + s.below(4) as u32,
            crew: match s.below(4) {
                0 => Vec::new(),
                k => vec![Need { skill: (k == 1).then(|| "film".into()), count: 1 }],
            },
            rooms: if s.below(3) > 0 { vec!["work".into()] } else { Vec::new() },
            air: [Air::Neutral, Air::Dusty, Air::Clean][s.below(3)],
            tools: Vec::new(),
            splittable: s.below(3) == 0,
            holds_room: s.below(2) == 0,
            earliest: Slot(s.below(3) as i32),
            state: State::Free,
        })
        .collect();
    let mut problem = Problem {
        grid: Grid::minutes(60),
        horizon: Slot(horizon),
        people,
        rooms,
        changeover: s.below(2) as u32,
        price: Price { makespan: 1, stay: 0, move_task: 0, move_slot: 0, upheaval: 0 },
        dues: vec![Due { job: JobId(0), by: Slot(4), weight: 3 }],
        ..Problem::default()
    };
    for to in 1..tasks.len() as u32 {
        if s.below(3) > 0 {
            lag(&mut problem, s, to);
        }
    }
    problem.tasks = tasks;
    problem
}

fn lag(problem: &mut Problem, s: &mut Sequence, to: u32) {
    let least = s.below(3) as i32 - 1;
    let most = (s.below(2) == 0).then(|| least + s.below(2) as i32);
    problem.lags.push(Lag { from: TaskId(s.below(to as usize) as u32), to: TaskId(to), least, most });
}

/// All placements of one task that its own rules could allow.
fn choices(problem: &Problem, task: &Task) -> Vec<Placement> {
    let mut found = Vec::new();
    let crews: Vec<Vec<PersonId>> = if task.crew.is_empty() {
        vec![Vec::new()]
    } else {
        problem.people.iter().map(|p| vec![p.id]).collect()
    };
    let mut rooms: Vec<Option<RoomId>> = problem.rooms.iter().map(|r| Some(r.id)).collect();
    if task.rooms.is_empty() {
        rooms = vec![None];
    }
    for start in 0..problem.horizon.0 {
        for people in &crews {
            let Some(pieces) = pieces(problem, task, start, people) else { continue };
            let end = pieces.last().map_or(Slot(start), |s| s.end);
            for room in &rooms {
                let (people, pieces) = (people.clone(), pieces.clone());
                found.push(Placement { task: task.id, start: Slot(start), end, pieces, people, room: *room });
            }
        }
    }
    found
}

/// Work slot by slot, pausing while the person is off when the task may pause.
fn pieces(problem: &Problem, task: &Task, start: i32, people: &[PersonId]) -> Option<Vec<Span>> {
    let off = |t: i32| {
        people.iter().any(|id| problem.people.iter().any(|p| p.id == *id && !p.calendar.works_at(Slot(t))))
    };
    let mut pieces: Vec<Span> = Vec::new();
    let (mut left, mut t) = (task.work, start);
    while left > 0 {
        if t >= problem.horizon.0 {
            return None;
        }
        if !off(t) {
            match pieces.last_mut() {
                Some(last) if last.end.0 == t => last.end = Slot(t + 1),
                _ => pieces.push(Span::new(t, t + 1)),
            }
            left -= 1;
        } else if !task.splittable || pieces.is_empty() {
            return None;
        }
        t += 1;
    }
    Some(pieces)
}

/// The least cost of any plan, when there is one.
fn brute(problem: &Problem) -> Option<i64> {
    let choices: Vec<Vec<Placement>> = problem.tasks.iter().map(|t| choices(problem, t)).collect();
    let mut best = None;
    extend(problem, &choices, &mut Vec::new(), &mut best);
    best
}

fn extend(
    problem: &Problem,
    choices: &[Vec<Placement>],
    chosen: &mut Vec<Placement>,
    best: &mut Option<i64>,
) {
    if !chosen.is_empty() && !sound(problem, chosen) {
        return;
    }
    let Some(next) = choices.get(chosen.len()) else {
        let cost = cost(problem, chosen);
        *best = Some(best.map_or(cost, |b: i64| b.min(cost)));
        return;
    };
    for placement in next {
        chosen.push(placement.clone());
        extend(problem, choices, chosen, best);
        chosen.pop();
    }
}

/// Whether the validator finds nothing but the missing figures, among the tasks chosen so far.
fn sound(problem: &Problem, chosen: &[Placement]) -> bool {
    let mut part = problem.clone();
    part.tasks.truncate(chosen.len());
    part.lags.retain(|l| l.from.0 < chosen.len() as u32 && l.to.0 < chosen.len() as u32);
    let plan = Plan {
        placements: chosen.to_vec(),
        cost: Cost::default(),
        bound: 1,
        proved: false,
        late: Vec::new(),
    };
    plan.verify(&part) == Err(Flaw::Figures)
}

fn cost(problem: &Problem, chosen: &[Placement]) -> i64 {
    let end = |job: JobId| {
        chosen.iter().filter(|p| problem.task(p.task).unwrap().job == job).map(|p| p.end.0).max().unwrap_or(0)
    };
    let last = chosen.iter().map(|p| p.end.0).max().unwrap_or(0);
    i64::from(last) + 3 * i64::from((end(JobId(0)) - 4).max(0))
}

#[test]
fn tiny_studios_agree_with_brute_force() {
    let (mut planned, mut impossible, mut best, mut open) = (0, 0, 0, 0);
    for seed in 0..250 {
        let problem = tiny(seed);
        let truth = brute(&problem);
        match solve(&problem, &Config::default(), &Effort::steps(3_000)).unwrap() {
            Outcome::Plan(plan) => {
                let least = truth.unwrap_or_else(|| panic!("studio {seed}: brute force found no plan"));
                assert!(plan.cost.total() >= least && plan.bound <= least, "studio {seed}");
                assert!(!plan.proved || plan.cost.total() == least, "studio {seed}");
                planned += 1;
                best += usize::from(plan.cost.total() == least);
            }
            Outcome::Infeasible(why) => {
                assert_eq!(truth, None, "studio {seed}: {why:?}");
                impossible += 1;
            }
            Outcome::Unsettled(_) => {
                open += 1;
                assert_eq!(truth, None, "studio {seed}: brute force found a plan, the search did not");
            }
        }
    }
    println!("{planned} planned, {best} of them at least cost, {impossible} proved impossible, {open} open");
    assert!(impossible > 10 && best * 100 >= planned * 97, "{planned} {best} {impossible} {open}");
}
