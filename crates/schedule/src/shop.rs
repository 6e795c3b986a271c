//! Reads the plain format of benchmark workshops.

use crate::calendar::Calendar;
use crate::outcome::Fault;
use crate::problem::{
    Air, Due, JobId, Lag, Need, Person, PersonId, Price, Problem, Room, RoomId, State, Task, TaskId, Tool,
    ToolId, ToolNeed,
};
use crate::time::{Grid, Slot, Span};
use crate::words::Numbers;

/// Reads `n m c H DAY SHIFT setup` and the capacities of people, polishers, film installers, wash bay
/// and room places; n lines `duration people polisher film wash room state` (state 1 dusty, 2 clean, 0
/// neither); m lines `i j lag` meaning `start_j >= start_i + lag`; c lines `task due weight`.
///
/// Tasks with people happen in the first SHIFT slots of each DAY. A delay costs ten times its weight a
/// slot, the makespan one a slot. The polisher of the format is a tool, its film installers are people
/// who have that skill. Film installers count among the people.
///
/// # Errors
/// [`Fault`] with the place of the first number that is missing or out of range, or a use of rooms that
/// the problem cannot express (wash bay and room at once, two places of a room for one task).
pub fn parse_shop(text: &str) -> Result<Problem, Fault> {
    let mut numbers = Numbers::new(text);
    let n = numbers.count("tasks", 10_000)?;
    let m = numbers.count("arcs", 100_000)?;
    let cars = numbers.count("cars", 1000)?;
    let horizon = numbers.within("horizon", 1, 200_000)?;
    let day = numbers.within("day", 1, horizon)?;
    let shift = numbers.within("shift", 1, day)?;
    let changeover = numbers.within("setup", 0, horizon)? as u32;
    let mut capacity = || numbers.within("capacity", 0, 64);
    let (people, polishers, film, wash, places) =
        (capacity()?, capacity()?, capacity()?, capacity()?, capacity()?);
    let mut tasks = Vec::with_capacity(n);
    for i in 0..n {
        tasks.push(task(&mut numbers, i)?);
    }
    let mut lags = Vec::with_capacity(m);
    let mut groups: Vec<usize> = (0..n).collect();
    for _ in 0..m {
        let from = numbers.within("task", 0, n as i32 - 1)? as usize;
        let to = numbers.within("task", 0, n as i32 - 1)? as usize;
        let lag = numbers.within("lag", -horizon, horizon)?;
        lags.push(start_to_start(from, to, lag, &tasks));
        let (a, b) = (root(&groups, from), root(&groups, to));
        groups[a.max(b)] = a.min(b);
    }
    for (i, task) in tasks.iter_mut().enumerate() {
        task.job = JobId(root(&groups, i) as u32);
    }
    let mut dues = Vec::with_capacity(cars);
    for _ in 0..cars {
        let last = numbers.within("task", 0, n as i32 - 1)? as usize;
        let by = Slot(numbers.within("due", 0, 1_000_000)?);
        dues.push(Due {
            job: tasks[last].job,
            by,
            weight: 10 * numbers.within("weight", 0, 100_000)? as u32,
        });
    }
    numbers.end()?;
    let days = (horizon / day) as u32;
    let calendar = Calendar::daily(day as u32, days, &[Span::new(0, shift)], &[]);
    let person = |i: i32| Person {
        id: PersonId(i as u32),
        name: format!("person {}", i + 1),
        skills: if i < film { vec!["film".into()] } else { Vec::new() },
        calendar: calendar.clone(),
    };
    let room = |id: u32, kind: &str, places: i32| Room {
        id: RoomId(id),
        name: kind.into(),
        kinds: vec![kind.into()],
        places: places as u32,
        at_once: places as u32,
        // The format has one air: dusty and clean keep apart even without a room.
        air_group: 0,
        closed: Vec::new(),
    };
    let rooms = vec![room(0, "wash", wash), room(1, "room", places)];
    Ok(Problem {
        grid: Grid::minutes((1440 / day.min(1440)) as u32),
        horizon: Slot(horizon),
        people: (0..people).map(person).collect(),
        rooms,
        tools: vec![Tool { id: ToolId(0), name: "polisher".into(), count: polishers as u32 }],
        tasks,
        lags,
        dues,
        changeover,
        price: Price { makespan: 1, stay: 0, move_task: 0, move_slot: 0, upheaval: 0 },
        ..Problem::default()
    })
}

fn task(numbers: &mut Numbers<'_>, i: usize) -> Result<Task, Fault> {
    let work = numbers.within("duration", 0, 200_000)? as u32;
    let people = numbers.within("people", 0, 64)? as u32;
    let polisher = numbers.within("polisher", 0, 64)? as u32;
    let film = numbers.within("film", 0, 64)? as u32;
    let wash = numbers.within("wash", 0, 64)?;
    let room = numbers.within("room", 0, 64)?;
    let state = numbers.within("state", 0, 2)?;
    let place = || format!("task {i}");
    if wash + room > 1 {
        return Err(Fault::new(
            place(),
            "more than one place in wash bay and room",
            "give one place at most",
        ));
    }
    if film > people {
        return Err(Fault::new(
            place(),
            "more film installers than people",
            "film installers count among the people",
        ));
    }
    if state != 0 && room == 0 {
        return Err(Fault::new(place(), "dusty or clean without a room", "give it a place in the room"));
    }
    let needs = [(Some("film"), film), (None, people - film)];
    Ok(Task {
        id: TaskId(i as u32),
        job: JobId(0),
        name: format!("task {i}"),
        work,
        crew: needs
            .into_iter()
            .filter(|n| n.1 > 0)
            .map(|(skill, count)| Need { skill: skill.map(Into::into), count })
            .collect(),
        rooms: match (wash, room) {
            (1, _) => vec!["wash".into()],
            (_, 1) => vec!["room".into()],
            _ => Vec::new(),
        },
        air: [Air::Neutral, Air::Dusty, Air::Clean][state as usize],
        tools: if polisher > 0 { vec![ToolNeed { tool: ToolId(0), count: polisher }] } else { Vec::new() },
        splittable: false,
        holds_room: true,
        earliest: Slot(0),
        state: State::Free,
    })
}

/// A lag between starts as one between end and start, which is the same while durations are fixed.
fn start_to_start(from: usize, to: usize, lag: i32, tasks: &[Task]) -> Lag {
    let id = |i: usize| TaskId(i as u32);
    if lag >= 0 {
        Lag { from: id(from), to: id(to), least: lag - tasks[from].work as i32, most: None }
    } else {
        // start(from) <= start(to) - lag: `from` follows `to` by at most -lag.
        let before = tasks[to].work as i32;
        Lag { from: id(to), to: id(from), least: Lag::NO_LEAST, most: Some(-lag - before) }
    }
}

fn root(groups: &[usize], mut i: usize) -> usize {
    while groups[i] != i {
        i = groups[i];
    }
    i
}
