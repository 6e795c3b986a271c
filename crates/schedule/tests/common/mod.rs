//! Random studios for the tests; all invented.

use schedule::{
    Air, Calendar, Due, Grid, JobId, Lag, Need, Person, PersonId, Price, Problem, Room, RoomId, Slot, Span,
    State, Task, TaskId, Tool, ToolId, ToolNeed,
};
use units::{Seed, Sequence};

fn chance(s: &mut Sequence, percent: usize) -> bool {
    s.below(100) < percent
}

/// A studio with a week or two of 48 slots a day, made from the seed.
pub fn studio(seed: u64) -> Problem {
    let s = &mut Seed(seed).sequence();
    let days = 4 + s.below(10) as u32;
    let shifts = [
        vec![Span::new(16, 24), Span::new(26, 34)],
        vec![Span::new(14, 30)],
        vec![Span::new(18, 24), Span::new(25, 30), Span::new(31, 36)],
    ];
    let off: Vec<u32> = (0..days).filter(|d| d % 7 > 4).collect();
    let same = chance(s, 40);
    let people: Vec<Person> = (0..1 + s.below(5))
        .map(|i| {
            let shift = &shifts[if same { 0 } else { s.below(3) }];
            let mut calendar = Calendar::daily(48, days, shift, &off);
            if chance(s, 20) {
                let day = s.below(days as usize) as i32 * 48;
                calendar = calendar.without(Span::new(day, day + 48));
            }
            let skills = ["wash", "correction", "film"].iter().filter(|_| i == 0 || chance(s, 60));
            Person {
                id: PersonId(10 + i as u32),
                name: format!("person {i}"),
                skills: skills.map(|k| (*k).into()).collect(),
                calendar,
            }
        })
        .collect();
    let kinds = ["wash", "work", "clean"];
    let rooms: Vec<Room> = (0..2 + s.below(3))
        .map(|i| Room {
            id: RoomId(20 + i as u32),
            name: format!("room {i}"),
            kinds: kinds
                .iter()
                .enumerate()
                .filter(|(k, _)| i == 0 || *k == i || chance(s, 40))
                .map(|(_, k)| (*k).into())
                .collect(),
            places: 1 + s.below(2) as u32,
            at_once: 1 + s.below(3) as u32,
            air_group: s.below(2) as u32,
            closed: if chance(s, 20) { vec![Span::new(60, 80)] } else { Vec::new() },
        })
        .collect();
    let tools = vec![Tool { id: ToolId(1), name: "polisher".into(), count: 1 + s.below(2) as u32 }];
    let mut problem = Problem {
        grid: Grid::minutes(30),
        horizon: Slot(days as i32 * 48),
        people,
        rooms,
        tools,
        changeover: s.below(4) as u32,
        price: Price {
            makespan: 1,
            stay: s.below(2) as u32,
            move_task: s.below(5) as u32,
            move_slot: s.below(2) as u32,
            upheaval: 20 * s.below(2) as u32,
        },
        ..Problem::default()
    };
    for job in 0..1 + s.below(4) as u32 {
        add_job(&mut problem, s, job);
    }
    problem
}

fn add_job(problem: &mut Problem, s: &mut Sequence, job: u32) {
    let count = 1 + s.below(7) as u32;
    let earliest = Slot(s.below(40) as i32);
    for k in 0..count {
        let cure = chance(s, 15);
        let what = s.below(3);
        let crew = match (cure, chance(s, 75)) {
            (true, _) => Vec::new(),
            (_, true) => vec![Need { skill: Some(["wash", "correction", "film"][what].into()), count: 1 }],
            (_, false) => vec![
                Need { skill: Some("film".into()), count: 1 },
                Need { skill: None, count: s.below(2) as u32 },
            ],
        };
        let splittable = chance(s, 30);
        problem.tasks.push(Task {
            id: TaskId(100 * job + k),
            job: JobId(job),
            name: format!("task {k} of car {job}"),
            work: if splittable { 1 + s.below(20) as u32 } else { s.below(6) as u32 },
            crew,
            rooms: if chance(s, 70) { vec![["wash", "work", "clean"][what].into()] } else { Vec::new() },
            air: [Air::Neutral, Air::Dusty, Air::Clean][what],
            tools: if what == 1 { vec![ToolNeed { tool: ToolId(1), count: 1 }] } else { Vec::new() },
            splittable,
            holds_room: chance(s, 60),
            earliest,
            state: State::Free,
        });
        if k > 0 {
            let from = TaskId(100 * job + s.below(k as usize) as u32);
            let to = TaskId(100 * job + k);
            let least = s.below(6) as i32 - 1;
            let most = chance(s, 15).then(|| least.max(0) + s.below(12) as i32);
            problem.lags.push(Lag { from, to, least, most });
        }
    }
    problem.dues.push(Due {
        job: JobId(job),
        by: Slot(40 + s.below(200) as i32),
        weight: 1 + s.below(9) as u32,
    });
}
