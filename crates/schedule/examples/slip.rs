//! Measures a re-plan: `slip WORKSHOP_FILE SEED` plans the file, lets a third of the time pass, lets one
//! running task take two hours more, and prints how many CPU seconds the first and the better answer took.

mod clock;

use clock::cpu;
use effort::Effort;
use schedule::{Config, Outcome, Price, Slip, Slot, Span, State, parse_shop, replan, solve};
use units::Seed;

/// First answers that are timed together.
const QUICK: u32 = 50;

/// Effort of the better answer.
const STEPS: u64 = 1_500_000;

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
    problem.price = Price { move_task: 5, upheaval: Price::default().upheaval, ..problem.price };
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
    // Many at once: one takes less than the steps of the clock.
    let start = cpu();
    for _ in 0..QUICK {
        replan(&problem, &slips, &config, &Effort::steps(0))?;
    }
    let quick = (cpu() - start) / f64::from(QUICK);
    let start = cpu();
    let answer = replan(&problem, &slips, &config, &Effort::steps(STEPS))?;
    let better = cpu() - start;
    if answer.better.plan().is_none() {
        println!("{:?}", answer.better);
    }
    let cost = |o: &Outcome| o.plan().map(|p| p.cost.total());
    println!(
        "{{\"waiting\":{waiting},\"before\":{before},\"quick_ms\":{:.1},\"quick_cost\":{:?},\"better_ms\":{:.0},\"better_cost\":{:?},\"moved\":{}}}",
        quick * 1e3,
        cost(&answer.quick),
        better * 1e3,
        cost(&answer.better),
        answer.moved.iter().filter(|m| m.task != task).count()
    );
    Ok(())
}
