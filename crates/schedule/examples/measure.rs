//! Runs one benchmark file: `measure FILE SECONDS SEED`. Prints one line of JSON with CPU seconds, for
//! comparisons with a reference in the same run. Reads `shop_*` files as workshops, others as projects.

mod clock;

use clock::cpu;
use effort::Effort;
use schedule::{Config, Outcome, Plan, Problem, Project, parse_shop, solve, solve_project};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex};
use units::Seed;

/// Starts in the order of the file, for a check that knows nothing of this crate.
fn starts(problem: &Problem, plan: &Plan) -> Vec<i32> {
    let start = |id| plan.placements.iter().find(|p| p.task == id).map_or(-1, |p| p.start.0);
    problem.tasks.iter().map(|t| start(t.id)).collect()
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let words: Vec<String> = std::env::args().collect();
    let [_, path, seconds, seed] = &words[..] else {
        return Err("usage: measure FILE SECONDS SEED".into());
    };
    let text = std::fs::read_to_string(path)?;
    let trace = Arc::new(Mutex::new(Vec::new()));
    let heard = trace.clone();
    let start = cpu();
    // Reading the clock costs as much as a small decoding: every 32nd look is enough.
    let (looks, last) = (AtomicU64::new(0), AtomicU64::new(0));
    let watch = move || {
        if looks.fetch_add(1, Ordering::Relaxed).is_multiple_of(32) {
            last.store((cpu() - start).to_bits(), Ordering::Relaxed);
        }
        f64::from_bits(last.load(Ordering::Relaxed))
    };
    let effort = Effort::seconds(seconds.parse()?, watch).with_listener(move |p| {
        heard.lock().expect("listener").push(format!("{:.2} {}", cpu() - start, p.note))
    });
    let config = Config { seed: Seed(seed.parse()?) };
    let name = path.rsplit('/').next().unwrap_or(path);
    if name.starts_with("shop") {
        let problem = parse_shop(&text)?;
        let outcome = solve(&problem, &config, &effort)?;
        let lines = trace.lock().expect("listener").clone();
        let first = lines.iter().find(|l| l.ends_with("first plan")).and_then(|l| l.split(' ').next());
        let first = first.unwrap_or("null");
        match &outcome {
            Outcome::Plan(plan) => println!(
                "{{\"instance\":\"{name}\",\"cost\":{},\"late\":{},\"makespan\":{},\"bound\":{},\"proved\":{},\"cpu\":{:.2},\"steps\":{},\"first\":{first},\"verified\":{},\"starts\":{:?}}}",
                plan.cost.total(),
                plan.cost.late,
                plan.makespan().0,
                plan.bound,
                plan.proved,
                cpu() - start,
                effort.spent(),
                plan.verify(&problem).is_ok(),
                starts(&problem, plan)
            ),
            other => println!("{{\"instance\":\"{name}\",\"cost\":null,\"outcome\":\"{other:?}\"}}"),
        }
    } else {
        let project = Project::parse(&text)?;
        let solved = solve_project(&project, &config, &effort)?;
        println!(
            "{{\"instance\":\"{name}\",\"status\":\"{:?}\",\"makespan\":{},\"bound\":{},\"cpu\":{:.2},\"steps\":{},\"verified\":{},\"starts\":{:?}}}",
            solved.status,
            solved.makespan.map_or("null".into(), |m| m.to_string()),
            solved.bound,
            cpu() - start,
            effort.spent(),
            solved.makespan.is_none() || project.verify(&solved.starts),
            solved.starts
        );
    }
    if std::env::var("TRACE").is_ok() {
        for line in trace.lock().expect("listener").iter() {
            println!("{line}");
        }
    }
    Ok(())
}
