//! Hours of a network by simulation.

#![allow(clippy::unwrap_used, reason = "a test may stop")]

use effort::{Cancel, Effort};
use price::{HoursRisk, JobNetwork, Law, PriceError, SharedSpread, Task, simulate};
use units::{Duration, Seed};

fn run(network: &JobNetwork, draws: usize) -> HoursRisk {
    simulate(network, draws, Seed(11), &Effort::steps(u64::MAX)).unwrap()
}

fn hours(t: Duration) -> f64 {
    t.as_hours()
}

fn task(id: &str, median: f64, spread: f64) -> Task {
    Task::new(id, id, Duration::hours(median), spread)
}

/// UNC Greensboro, SCM 304, unit 6.3; weeks are taken as hours.
fn pert() -> JobNetwork {
    let times = [
        ("A", [6.0, 7.0, 14.0], vec![]),
        ("B", [8.0, 10.0, 12.0], vec![]),
        ("C", [2.0, 3.0, 4.0], vec![0]),
        ("D", [6.0, 7.0, 8.0], vec![0]),
        ("E", [5.0, 5.5, 9.0], vec![1, 2]),
        ("F", [5.0, 7.0, 9.0], vec![1, 2]),
        ("G", [4.0, 6.0, 8.0], vec![3, 4]),
        ("H", [2.5, 3.0, 3.5], vec![5]),
    ];
    let tasks = times.map(|(id, t, after)| {
        let [least, likely, most] = t.map(Duration::hours);
        Task { law: Law::BetaPert { least, likely, most }, ..task(id, 0.0, 0.0).after(after) }
    });
    JobNetwork { tasks: tasks.into(), ..JobNetwork::default() }
}

#[test]
fn the_published_pert_example_comes_out_with_its_merge_bias() {
    // Expected times 8 10 3 7 6 7 6 3 and critical path 23: page. By 1e6 beta-PERT draws (numpy): mean 23.241,
    // sd 1.541, P(T ≤ 25) .8684, P50/80/95 23.100/24.490/26.022; tolerance .01, .002 on the chance.
    let network = pert();
    let means: Vec<f64> = network.tasks.iter().map(|t| hours(t.law.mean())).collect();
    for (got, want) in means.iter().zip([8.0, 10.0, 3.0, 7.0, 6.0, 7.0, 6.0, 3.0]) {
        assert!((got - want).abs() < 1e-12);
    }
    let risk = run(&network, 1_000_000);
    let e = risk.elapsed;
    for (what, got, want) in [
        ("mean", e.mean, 23.241),
        ("sd", e.deviation, 1.541),
        ("P50", e.p50, 23.100),
        ("P80", e.p80, 24.490),
        ("P95", e.p95, 26.022),
        // the critical path alone says 23: adding up one chain is optimistic
        ("merge bias", risk.merge_bias, 0.241),
    ] {
        assert!((hours(got) - want).abs() < 0.01, "{what}: {}", hours(got));
    }
    assert!((risk.chance_within(Duration::hours(25.0)) - 0.8684).abs() < 0.002);
    // A, C, E, G is the critical path of the page
    let critical = |id: &str| risk.tasks.iter().find(|t| t.id == id).unwrap().critical;
    for (on, off) in [("A", "B"), ("C", "D"), ("E", "F"), ("G", "H")] {
        assert!(critical(on) > 0.5 && critical(off) < 0.5, "{on} {off}");
    }
}

#[test]
fn quantiles_of_one_task_are_those_of_the_log_normal() {
    // median · e^(z·spread), z(.8) = 0.841621, z(.95) = 1.644854; mean = median · e^(spread²/2)
    let risk = run(&JobNetwork { tasks: vec![task("a", 4.0, 0.3)], ..JobNetwork::default() }, 400_000);
    let want = |z: f64| 4.0 * (0.3 * z).exp();
    for (got, want) in [
        (risk.labor.p50, want(0.0)),
        (risk.labor.p80, want(0.841_621)),
        (risk.labor.p95, want(1.644_854)),
        (risk.labor.mean, 4.0 * 0.045f64.exp()),
    ] {
        // five standard errors of the widest of them, P95
        assert!((hours(got) / want - 1.0).abs() < 0.0055, "{} {want}", hours(got));
    }
    assert!((risk.chance_of_labor_within(Duration::hours(4.0)) - 0.5).abs() < 0.005);
}

#[test]
fn two_tasks_side_by_side_end_later_than_either() {
    // E max of two equal log-normals = 2 e^(μ + σ²/2) Φ(σ/√2); Φ(0.4/√2) = 0.611353
    let network =
        JobNetwork { tasks: vec![task("a", 5.0, 0.4), task("b", 5.0, 0.4)], ..JobNetwork::default() };
    let risk = run(&network, 400_000);
    let want = 2.0 * 5.0 * 0.08f64.exp() * 0.611_353;
    assert!((hours(risk.elapsed.mean) / want - 1.0).abs() < 0.004, "{}", hours(risk.elapsed.mean));
    assert!(hours(risk.merge_bias) > 0.9);
    // with one person they follow each other and nothing is gained
    let alone = run(&JobNetwork { crew: Some(1), ..network }, 50_000);
    assert_eq!(alone.elapsed, alone.labor);
}

#[test]
fn rooms_hold_as_many_cars_parts_as_they_have_places() {
    let tasks =
        vec![task("a", 2.0, 0.0).in_room("bay"), task("b", 3.0, 0.0).in_room("bay"), task("c", 4.0, 0.0)];
    let mut network = JobNetwork { tasks, ..JobNetwork::default() };
    assert_eq!(hours(run(&network, 200).elapsed.p50), 4.0, "rooms not listed never run short");
    network.rooms.insert("bay".into(), 1);
    let risk = run(&network, 200);
    assert_eq!(hours(risk.elapsed.p50), 5.0);
    assert_eq!(hours(risk.rooms["bay"].p50), 5.0);
    network.rooms.insert("bay".into(), 0);
    assert_eq!(
        simulate(&network, 200, Seed(1), &Effort::steps(1000)).unwrap_err(),
        PriceError::NoSuchRoom("bay".into())
    );
}

#[test]
fn waiting_takes_time_but_no_labor() {
    let rest =
        Task { law: Law::Fixed(Duration::hours(24.0)), people: 0, ..task("rest", 0.0, 0.0).after([0]) };
    let film = Task { people: 2, ..task("film", 10.0, 0.0) };
    let risk = run(&JobNetwork { tasks: vec![film, rest], crew: Some(2), ..JobNetwork::default() }, 200);
    assert_eq!((hours(risk.labor.p50), hours(risk.elapsed.p50)), (20.0, 34.0));
}

#[test]
fn shares_of_risk_add_up_and_follow_the_variances() {
    // independent log-normals: share = own variance / sum, variance = median² e^(σ²)(e^(σ²) − 1)
    let tasks =
        vec![task("wash", 2.0, 0.2), task("film", 9.0, 0.25).after([0]), task("check", 1.0, 0.4).after([1])];
    let variance = |m: f64, s: f64| m * m * (s * s).exp() * ((s * s).exp() - 1.0);
    let all = [("wash", variance(2.0, 0.2)), ("film", variance(9.0, 0.25)), ("check", variance(1.0, 0.4))];
    let sum: f64 = all.iter().map(|a| a.1).sum();
    let risk = run(&JobNetwork { tasks, ..JobNetwork::default() }, 200_000);
    for (id, v) in all {
        let share = risk.tasks.iter().find(|t| t.id == id).unwrap().share;
        assert!((share - v / sum).abs() < 0.01, "{id}: {share} {}", v / sum);
    }
    assert!((risk.tasks.iter().map(|t| t.share).sum::<f64>() - 1.0).abs() < 1e-9);
    assert_eq!(risk.tasks[0].id, "film");
    assert!((hours(risk.labor.deviation).powi(2) / sum - 1.0).abs() < 0.03);
}

#[test]
fn what_is_not_known_about_a_kind_moves_its_tasks_together() {
    // four tasks of one kind, own spread 0: the sum is log-normal with the shared spread; apart it would shrink
    let tasks: Vec<Task> =
        (0..4).map(|i| Task { kind: "film".into(), ..task(&format!("p{i}"), 3.0, 0.0) }).collect();
    let shared = [("film".to_owned(), SharedSpread { kind: 0.3, pace: 0.0 })].into();
    let risk = run(&JobNetwork { tasks, shared, ..JobNetwork::default() }, 100_000);
    assert!((hours(risk.labor.p80) / (12.0 * (0.3 * 0.841_621f64).exp()) - 1.0).abs() < 0.01);
    let film = risk.shared.iter().find(|s| s.name == "film").unwrap();
    assert!(film.share > 0.95, "{}", film.share);
}

#[test]
fn a_finding_that_may_need_work_drives_the_risk() {
    let hidden = Task { chance: 0.3, ..task("respray found under old film", 12.0, 0.2) };
    let risk =
        run(&JobNetwork { tasks: vec![task("film", 30.0, 0.05), hidden], ..JobNetwork::default() }, 50_000);
    assert_eq!(risk.tasks[0].id, "respray found under old film");
    assert!(risk.tasks[0].share > 0.8);
    // not needed in 7 of 10 cases, so half of all jobs stay near 30 hours and P80 is far above
    assert!(hours(risk.labor.p50) < 32.0 && hours(risk.labor.p80) > 38.0);
    let needed = 0.3 * 12.0 * 0.02f64.exp();
    assert!((hours(risk.tasks[0].labor) / needed - 1.0).abs() < 0.05);
}

#[test]
fn options_share_their_luck() {
    let base = JobNetwork { tasks: vec![task("a", 4.0, 0.3), task("b", 6.0, 0.3)], ..JobNetwork::default() };
    let mut more = base.clone();
    more.tasks.push(task("c", 1.0, 0.0));
    let (before, after) = (run(&base, 1000), run(&more, 1000));
    // c is certain: the difference is exactly one hour at every quantile, though draws are few
    for (a, b) in after.labor_curve.iter().zip(&before.labor_curve) {
        assert!((hours(*a - *b) - 1.0).abs() < 1e-9);
    }
    assert_eq!(before, run(&base, 1000), "same input, seed and effort, same answer");
}

#[test]
fn broken_networks_are_told() {
    let wrong = |tasks: Vec<Task>| {
        let network = JobNetwork { tasks, ..JobNetwork::default() };
        simulate(&network, 500, Seed(1), &Effort::steps(1000)).unwrap_err().to_string()
    };
    assert_eq!(
        wrong(vec![task("a", 1.0, 0.1).after([1]), task("b", 1.0, 0.1).after([0])]),
        "task 'a' waits for itself in a ring: take one of the waits out"
    );
    assert_eq!(
        wrong(vec![task("a", 1.0, 0.1).after([4])]),
        "task 'a' waits for task number 4, but there are only 1: correct its list"
    );
    assert_eq!(
        wrong(vec![task("a", 1.0, 0.1), task("a", 1.0, 0.1)]),
        "two tasks are called 'a': give each its own name"
    );
    assert_eq!(
        wrong(vec![task("a", f64::NAN, 0.1)]),
        "task 'a': the median time is NaN; give 0 to 10 000 hours"
    );
    assert!(wrong(vec![Task { chance: 1.5, ..task("a", 1.0, 0.1) }]).contains("0 to 1"));
    let crew = JobNetwork {
        tasks: vec![Task { people: 3, ..task("a", 1.0, 0.1) }],
        crew: Some(2),
        ..JobNetwork::default()
    };
    assert_eq!(
        simulate(&crew, 500, Seed(1), &Effort::steps(1000)).unwrap_err().to_string(),
        "task 'a' needs 3 people, the crew has 2: add people or split the task"
    );
    let empty = run(&JobNetwork::default(), 200);
    assert_eq!(empty.labor.p95, Duration::ZERO);
}

#[test]
fn stopping_keeps_the_draws_so_far() {
    let network = JobNetwork { tasks: vec![task("a", 4.0, 0.3)], ..JobNetwork::default() };
    assert_eq!(simulate(&network, 10_000, Seed(1), &Effort::steps(300)).unwrap().draws, 300);
    let cancel = Cancel::default();
    cancel.press();
    let stopped = simulate(&network, 10_000, Seed(1), &Effort::steps(10_000).with_cancel(cancel));
    assert_eq!(stopped.unwrap_err(), PriceError::Stopped(1));
}
