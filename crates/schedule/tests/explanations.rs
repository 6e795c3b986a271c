//! What people are told when there is no plan, and pins and states.

#![allow(clippy::unwrap_used, reason = "a test may stop")]

use effort::Effort;
use schedule::{
    Air, Calendar, Config, Due, Grid, JobId, Lag, Need, Outcome, Person, PersonId, Problem, Room, RoomId,
    Slot, Span, State, Task, TaskId, WhyKind, solve,
};

fn studio() -> Problem {
    Problem {
        grid: Grid::minutes(60),
        horizon: Slot(72),
        people: vec![Person {
            id: PersonId(1),
            name: "Ines".into(),
            skills: vec!["film".into()],
            calendar: Calendar::daily(24, 3, &[Span::new(8, 12), Span::new(13, 17)], &[]),
        }],
        rooms: vec![Room {
            id: RoomId(1),
            name: "bay 1".into(),
            kinds: vec!["film".into()],
            places: 1,
            at_once: 1,
            air_group: 0,
            closed: Vec::new(),
        }],
        tasks: vec![task(1, 2), task(2, 3)],
        ..Problem::default()
    }
}

fn task(id: u32, work: u32) -> Task {
    Task {
        id: TaskId(id),
        job: JobId(1),
        name: format!("film {id}"),
        work,
        crew: vec![Need { skill: Some("film".into()), count: 1 }],
        rooms: vec!["film".into()],
        air: Air::Clean,
        tools: Vec::new(),
        splittable: false,
        holds_room: true,
        earliest: Slot(0),
        state: State::Free,
    }
}

fn lag(from: u32, to: u32, least: i32, most: Option<i32>) -> Lag {
    Lag { from: TaskId(from), to: TaskId(to), least, most }
}

fn run(problem: &Problem) -> Outcome {
    solve(problem, &Config::default(), &Effort::steps(2000)).unwrap()
}

#[track_caller]
fn check(problem: &Problem, kind: WhyKind, words: &str) {
    let Outcome::Infeasible(why) = run(problem) else { panic!("a plan or none: {:?}", run(problem)) };
    assert_eq!(why.kind, kind, "{why:?}");
    assert!(why.reason.contains(words), "{}", why.reason);
    assert!(!why.hint.is_empty());
}

#[track_caller]
fn starts(problem: &Problem) -> Vec<i32> {
    let Outcome::Plan(plan) = run(problem) else { panic!("no plan: {:?}", run(problem)) };
    assert_eq!(plan.verify(problem), Ok(()));
    plan.placements.iter().map(|p| p.start.0).collect()
}

#[test]
fn contradicting_lags_name_the_tasks_of_the_cycle() {
    let mut p = studio();
    p.lags = vec![lag(1, 2, 5, None), lag(1, 2, schedule::Lag::NO_LEAST, Some(3))];
    check(&p, WhyKind::Cycle, "film 1 → film 2");
}

#[test]
fn a_missing_skill_is_named() {
    let mut p = studio();
    p.people[0].skills.clear();
    check(&p, WhyKind::Missing, "film 1 needs 1 people for film; there are 0.");
}

#[test]
fn a_missing_room_is_named() {
    let mut p = studio();
    p.rooms.clear();
    check(&p, WhyKind::Missing, "needs a room for film");
}

#[test]
fn work_longer_than_any_shift_is_named_with_both_lengths() {
    let mut p = studio();
    p.tasks[0].work = 5;
    check(&p, WhyKind::TooLong, "film 1 takes 5 h without a pause");
    p.tasks[0].splittable = true;
    assert_eq!(starts(&p).len(), 2);
}

#[test]
fn more_work_than_time_is_named_with_both() {
    let mut p = studio();
    p.tasks[0].splittable = true;
    p.tasks[0].work = 22;
    check(&p, WhyKind::Overload, "Ines have 1 d 1 h of work and 1 d of working time");
}

#[test]
fn a_chain_that_outlasts_the_plan_is_named() {
    let mut p = studio();
    p.lags = vec![lag(1, 2, 60, None)];
    check(&p, WhyKind::Overload, "film 2 cannot end before the plan does");
}

#[test]
fn a_pin_outside_working_time_is_named() {
    let mut p = studio();
    p.tasks[0].state = State::Pinned { start: Slot(3), people: vec![PersonId(1)], room: None };
    check(&p, WhyKind::Pins, "film 1 is pinned to day 1, 03:00");
}

#[test]
fn pins_in_the_wrong_order_or_too_far_apart_are_named() {
    let mut p = studio();
    let pin = |start: i32| State::Pinned { start: Slot(start), people: Vec::new(), room: None };
    p.lags = vec![lag(1, 2, 1, None)];
    (p.tasks[0].state, p.tasks[1].state) = (pin(13), pin(8));
    check(&p, WhyKind::Pins, "film 2 cannot start at day 1, 08:00: film 1 comes before it");
    p.lags = vec![lag(1, 2, 0, Some(1))];
    (p.tasks[0].state, p.tasks[1].state) = (pin(8), pin(32));
    check(&p, WhyKind::Pins, "film 2 starts too late after film 1");
}

#[test]
fn a_pin_stays_and_the_rest_goes_around_it() {
    let mut p = studio();
    p.tasks[0].state = State::Pinned { start: Slot(8), people: Vec::new(), room: None };
    assert_eq!(starts(&p), [8, 13]);
}

#[test]
fn what_runs_stays_even_outside_working_time() {
    let mut p = studio();
    p.now = Slot(12);
    p.tasks[0].state = State::Running { since: Slot(11), people: vec![PersonId(1)], room: Some(RoomId(1)) };
    p.tasks[0].work = 4;
    // It ends at 15 through the break; two hours are left that day, and film 2 takes three.
    assert_eq!(starts(&p), [11, 32]);
}

#[test]
fn a_cure_goes_on_at_night() {
    let mut p = studio();
    p.tasks[0].crew.clear();
    p.tasks[0].work = 14;
    p.lags = vec![lag(2, 1, 0, Some(0))];
    assert_eq!(starts(&p), [11, 8]);
}

#[test]
fn a_promise_that_cannot_be_kept_is_a_plan_that_says_by_how_much() {
    let mut p = studio();
    p.dues = vec![Due { job: JobId(1), by: Slot(10), weight: 5 }];
    let Outcome::Plan(plan) = run(&p) else { panic!() };
    // Three hours before the break, two after it: the last ends at 15:00, promised for 10:00.
    assert_eq!((plan.late[0].by, plan.cost.late), (5, 25));
}

#[test]
fn a_problem_that_contradicts_itself_is_refused_with_the_place() {
    let refused = |p: &Problem| solve(p, &Config::default(), &Effort::steps(1)).unwrap_err().to_string();
    let mut p = studio();
    p.tasks[1].id = TaskId(1);
    assert_eq!(refused(&p), "tasks: number 1 is used twice; give each its own number");
    let mut p = studio();
    p.lags = vec![lag(1, 9, 0, None)];
    assert!(refused(&p).contains("task 9 is unknown"));
    let mut p = studio();
    p.horizon = Slot(0);
    assert!(refused(&p).starts_with("horizon"));
}
