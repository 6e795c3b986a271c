//! Schedules of published projects against published optima.

#![allow(clippy::unwrap_used, reason = "a test may stop")]

use effort::Effort;
use schedule::{Activity, Arc, Config, Project, Solved, Status, solve_project};
use serde_json::Value;

fn read(name: &str) -> String {
    std::fs::read_to_string(format!("{}/tests/data/{name}", env!("CARGO_MANIFEST_DIR"))).unwrap()
}

fn solved(project: &Project, steps: u64) -> Solved {
    let solved = solve_project(project, &Config::default(), &Effort::steps(steps)).unwrap();
    if solved.makespan.is_some() {
        assert!(project.verify(&solved.starts));
    }
    solved
}

/// The project in `name` is solved and proved.
fn check(name: &str, optimum: i32) {
    let solved = solved(&Project::parse(&read(name)).unwrap(), 20_000_000);
    assert_eq!((solved.status, solved.makespan), (Status::Optimal, Some(optimum)), "{name}");
}

fn check_impossible(name: &str) {
    let solved = solved(&Project::parse(&read(name)).unwrap(), 20_000_000);
    assert_eq!((solved.status, solved.makespan), (Status::Infeasible, None), "{name}");
}

#[test]
fn the_job_shop_ft06_takes_55() {
    // Muth and Thompson 1963; proved by OR-tools CP-SAT in 0.02 s.
    check("ft06.txt", 55);
}

#[test]
fn the_job_shop_la01_takes_666() {
    // Lawrence 1984; proved by OR-tools CP-SAT.
    let data: Value = serde_json::from_str(&read("jobshop_la01.json")).unwrap();
    let solved = solved(&job_shop(&data), 20_000_000);
    assert_eq!((solved.status, solved.makespan), (Status::Optimal, Some(666)));
}

#[test]
fn the_two_forms_of_ft06_are_the_same_shop() {
    let data: Value = serde_json::from_str(&read("jobshop_ft06.json")).unwrap();
    let solved = solved(&job_shop(&data), 20_000_000);
    assert_eq!((solved.status, solved.makespan), (Status::Optimal, Some(55)));
}

/// Machines as resources of one unit, operations of a job one after the other.
fn job_shop(data: &Value) -> Project {
    let rows = |key: &str| -> Vec<Vec<i32>> { serde_json::from_value(data[key].clone()).unwrap() };
    let (durations, machines) = (rows("durations"), rows("machines"));
    let count = machines.iter().flatten().max().unwrap() + 1;
    let mut project = Project { capacities: vec![1; count as usize], ..Project::default() };
    let mut last = Vec::new();
    for (times, places) in durations.iter().zip(&machines) {
        let mut before: Option<usize> = None;
        for (duration, machine) in times.iter().zip(places) {
            let i = project.activities.len();
            let uses = (0..count).map(|m| i32::from(m == *machine)).collect();
            project.activities.push(Activity { duration: *duration, uses });
            if let Some(from) = before {
                project.arcs.push(Arc { from, to: i, lag: project.activities[from].duration });
            }
            before = Some(i);
        }
        last.push(before.unwrap());
    }
    end_with_sink(&mut project, &last);
    project
}

fn end_with_sink(project: &mut Project, last: &[usize]) {
    let to = project.activities.len();
    for &from in last {
        project.arcs.push(Arc { from, to, lag: project.activities[from].duration });
    }
    project.activities.push(Activity { duration: 0, uses: vec![0; project.capacities.len()] });
}

#[test]
fn the_project_j301_1_takes_43_and_its_critical_path_38() {
    // PSPLIB, Kolisch and Sprecher 1997; 43 proved by OR-tools CP-SAT, 38 is the file's MPM-Time.
    let data: Value = serde_json::from_str(&read("psplib_j301_1.json")).unwrap();
    let jobs: Vec<(i32, Vec<i32>, Vec<usize>)> = serde_json::from_value(data["jobs"].clone()).unwrap();
    let mut project = Project {
        capacities: serde_json::from_value(data["capacities"].clone()).unwrap(),
        ..Project::default()
    };
    for (i, (duration, uses, after)) in jobs.iter().enumerate() {
        project.activities.push(Activity { duration: *duration, uses: uses.clone() });
        project.arcs.extend(after.iter().map(|&to| Arc { from: i, to: to - 1, lag: *duration }));
    }
    let limited = solved(&project, 20_000_000);
    assert_eq!((limited.status, limited.makespan), (Status::Optimal, Some(43)));
    project.capacities = vec![1000; 4];
    let free = solved(&project, 20_000_000);
    assert_eq!((free.status, free.makespan), (Status::Optimal, Some(38)));
}

#[test]
fn the_project_j305_1_takes_53() {
    // PSPLIB optima of set J30.
    check("j305_1.txt", 53);
}

#[test]
fn without_resources_the_makespan_is_the_critical_path() {
    // Expected times of the PERT example of UNC Greensboro SCM 304, unit 6.3: path A-C-E-G, 23 weeks.
    let expected = [8, 10, 3, 7, 6, 7, 6, 3];
    let after: [&[usize]; 8] = [&[], &[], &[0], &[0], &[1, 2], &[1, 2], &[3, 4], &[5]];
    let mut project = Project::default();
    for (i, duration) in expected.into_iter().enumerate() {
        project.activities.push(Activity { duration, uses: Vec::new() });
        project.arcs.extend(after[i].iter().map(|&from| Arc { from, to: i, lag: expected[from] }));
    }
    end_with_sink(&mut project, &[6, 7]);
    let solved = solved(&project, 1000);
    assert_eq!((solved.status, solved.makespan, solved.bound), (Status::Optimal, Some(23), 23));
    assert_eq!(solved.starts[..7], [0, 0, 8, 8, 11, 11, 17]);
}

#[test]
fn projects_with_maximum_lags_have_the_published_optima() {
    // Sets ProGen/max J10 to J30 (Schwindt), best known values of the sets.
    check("max_j10_PSP1.txt", 26);
    check("max_j20_PSP89.txt", 48);
    check("max_j30_PSP54.txt", 35);
}

#[test]
fn impossible_projects_are_proved_impossible() {
    // Sets ProGen/max and UBO: published as without feasible schedule.
    check_impossible("max_j10_PSP108.txt");
    check_impossible("max_j20_PSP1.txt");
    check_impossible("ubo50_psp1.txt");
}

#[test]
fn lags_that_contradict_each_other_are_shown_as_a_cycle() {
    let activity = Activity { duration: 2, uses: Vec::new() };
    let arc = |from, to, lag| Arc { from, to, lag };
    let project = Project {
        capacities: Vec::new(),
        activities: vec![activity; 3],
        arcs: vec![arc(0, 1, 5), arc(1, 0, -4), arc(1, 2, 2)],
    };
    let solved = solved(&project, 1000);
    assert_eq!(solved.status, Status::Infeasible);
    let mut cycle = solved.cycle;
    cycle.sort();
    assert_eq!(cycle, [0, 1]);
}

#[test]
fn the_same_seed_and_effort_give_the_same_schedule() {
    let project = Project::parse(&read("j305_1.txt")).unwrap();
    assert_eq!(solved(&project, 200_000), solved(&project, 200_000));
}

#[test]
fn broken_files_are_refused_with_the_place() {
    let refused = |text: &str| Project::parse(text).unwrap_err().to_string();
    assert_eq!(refused("2"), "number 2 (resources): the file ends too early; complete it");
    assert!(refused("1 1 4 -3 0 0").starts_with("number 4 (duration): `-3`"));
    assert!(refused("1 0 3 0 7").contains("more numbers"));
    assert!(refused("2 0 3 0 1 0 2 1").starts_with("number 7 (activity): `2`"));
    assert!(refused("").contains("ends too early"));
}

#[test]
fn a_project_put_together_wrongly_is_refused() {
    let activity = |uses| Activity { duration: 1, uses };
    let mut project = Project { capacities: vec![1], activities: vec![activity(vec![1])], arcs: Vec::new() };
    let refused =
        |p: &Project| solve_project(p, &Config::default(), &Effort::steps(1)).unwrap_err().to_string();
    project.arcs.push(Arc { from: 0, to: 7, lag: 1 });
    assert!(refused(&project).contains("activity 7"));
    project.arcs.clear();
    project.activities.push(activity(Vec::new()));
    assert!(refused(&project).starts_with("activity 1"));
    project.activities.pop();
    project.capacities[0] = 40_000;
    assert!(refused(&project).starts_with("capacity"));
}
