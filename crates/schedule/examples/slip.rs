//! Measures a re-plan: `slip WORKSHOP_FILE SEED` plans the file, lets a third of the time pass, lets one
//! running task take two hours more, and prints how long the first and the better answer took.

use effort::Effort;
use schedule::{Config, Outcome, Price, Slip, Slot, Span, State, parse_shop, replan, solve};
use units::Seed;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<String> = std::env::args().collect();
    let [_, path, seed] = &words[..] else { return Err("usage: slip FILE SEED".into()) };
    let mut problem = parse_shop(&std::fs::read_to_string(path)?)?;
    let config = Config { seed: Seed(seed.parse()?) };
    let Outcome::Plan(plan) = solve(&problem, &config, &Effort::steps(8_000_000))? else {
        return Err("no plan to slip from".into());
    };
    // Just after the first start in the second third.
    let third = Slot(plan.makespan().0 / 3);
    let now = plan.placements.iter().map(|p| p.start).filter(|s| *s >= third).min().unwrap_or(third).plus(1);
    problem.now = now;
    problem.price = Price { move_task: 5, ..problem.price };
    let mut running = Vec::new();
    for task in &mut problem.tasks {
        let Some(p) = plan.placement(task.id) else { continue };
        if p.end <= now {
            task.state = State::Done { span: Span { start: p.start, end: p.end } };
        } else if p.start <= now {
            task.state = State::Running { since: p.start, people: p.people.clone(), room: p.room };
            running.push((task.id, task.work));
        }
    }
    let (task, work) = *running.first().ok_or("nothing runs then")?;
    let waiting = problem.tasks.iter().filter(|t| t.state == State::Free).count();
    let before = plan.cost.total();
    problem.previous = Some(plan);
    let slips = [Slip::Work { task, work: work + 8 }];
    // The bench may read the clock; the engine does not.
    #[allow(clippy::disallowed_methods)]
    let clock = std::time::Instant::now;
    let start = clock();
    replan(&problem, &slips, &config, &Effort::steps(0))?;
    let quick = start.elapsed();
    let start = clock();
    let answer = replan(&problem, &slips, &config, &Effort::steps(3_000_000))?;
    let better = start.elapsed();
    if answer.better.plan().is_none() {
        println!("{:?}", answer.better);
    }
    let cost = |o: &Outcome| o.plan().map(|p| p.cost.total());
    println!(
        "{{\"waiting\":{waiting},\"before\":{before},\"quick_ms\":{:.1},\"quick_cost\":{:?},\"better_ms\":{:.0},\"better_cost\":{:?},\"moved\":{}}}",
        quick.as_secs_f64() * 1e3,
        cost(&answer.quick),
        better.as_secs_f64() * 1e3,
        cost(&answer.better),
        answer.moved.iter().filter(|m| m.task != task).count()
    );
    Ok(())
}
