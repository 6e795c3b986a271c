//! The workshop format, with its cost worked out apart from the crate.

#![allow(clippy::unwrap_used, reason = "a test may stop")]

use effort::Effort;
use schedule::{Config, Outcome, parse_shop, solve};

fn read(name: &str) -> String {
    std::fs::read_to_string(format!("{}/tests/data/{name}", env!("CARGO_MANIFEST_DIR"))).unwrap()
}

/// Cost by the definition of the format, after checking its rules on the plain numbers.
fn cost_by_hand(text: &str, starts: &[i64]) -> i64 {
    let mut numbers = text.split_whitespace().map(|w| w.parse::<i64>().unwrap());
    let mut next = || numbers.next().unwrap();
    let [n, m, cars, horizon, day, shift, setup] = [(); 7].map(|_| next());
    let caps = [(); 5].map(|_| next());
    let tasks: Vec<[i64; 7]> = (0..n).map(|_| [(); 7].map(|_| next())).collect();
    let end = |i: usize| starts[i] + tasks[i][0];
    for (i, task) in tasks.iter().enumerate() {
        assert!(starts[i] >= 0 && end(i) <= horizon);
        assert!(task[1] == 0 || starts[i] % day + task[0] <= shift, "task {i} outside the shift");
    }
    for _ in 0..m {
        let (i, j, lag) = (next() as usize, next() as usize, next());
        assert!(starts[j] >= starts[i] + lag, "lag {i} {j}");
    }
    for t in 0..horizon {
        let running = |i: &usize| starts[*i] <= t && t < end(*i);
        let at: Vec<usize> = (0..n as usize).filter(running).collect();
        for r in 0..5 {
            assert!(at.iter().map(|i| tasks[*i][r + 1]).sum::<i64>() <= caps[r], "resource {r} at {t}");
        }
    }
    for i in 0..n as usize {
        for j in 0..n as usize {
            if tasks[i][6] == 1 && tasks[j][6] == 2 {
                assert!(starts[j] >= end(i) + setup || starts[i] >= end(j) + setup, "dust {i} {j}");
            }
        }
    }
    let (mut cost, mut makespan) = (0, 0);
    for _ in 0..cars {
        let (last, due, weight) = (next() as usize, next(), next());
        cost += 10 * weight * (end(last) - due).max(0);
        makespan = makespan.max(end(last));
    }
    cost + makespan
}

fn check(name: &str, steps: u64, at_most: i64) {
    let text = read(name);
    let problem = parse_shop(&text).unwrap();
    let Outcome::Plan(plan) = solve(&problem, &Config::default(), &Effort::steps(steps)).unwrap() else {
        panic!("{name} has plans");
    };
    let starts: Vec<i64> = plan.placements.iter().map(|p| i64::from(p.start.0)).collect();
    assert_eq!(cost_by_hand(&text, &starts), plan.cost.total());
    assert!(plan.cost.total() <= at_most, "{name}: {}", plan.cost.total());
}

#[test]
fn two_cars_cost_no_more_than_the_reference_found() {
    // OR-tools CP-SAT, two workers, 5 s each: 393.
    check("shop_2.txt", 2_000_000, 393);
}

#[test]
fn four_cars_cost_half_of_what_the_reference_found() {
    // OR-tools CP-SAT, two workers, 5 s each: 12112 on one machine.
    check("shop_4.txt", 6_000_000, 6_000);
}

#[test]
fn broken_files_are_refused_with_the_place() {
    let refused = |text: &str| parse_shop(text).unwrap_err().to_string();
    assert!(refused("1 0 0 10 5").contains("ends too early"));
    assert!(refused("1 0 0 10 5 9 0").starts_with("number 6 (shift): `9`"));
    assert!(refused("1 0 0 10 5 3 0  1 1 1 1 1  2 1 0 0 1 1 0").contains("more than one place"));
    assert!(refused("1 0 0 10 5 3 0  1 1 1 1 1  2 1 0 2 1 0 0").contains("more film installers than people"));
}
