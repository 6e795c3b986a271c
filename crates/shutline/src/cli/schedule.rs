//! Tasks onto people, rooms and time.

use clap::Args as ClapArgs;
use effort::Effort;
use schedule::{Config, Outcome, Project, Status};
use serde_json::json;
use std::path::PathBuf;
use studio::{Refusal, RefusalKind};
use units::Seed;

/// Arguments of `schedule`.
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// A project (`n K`, capacities, tasks, arcs), or a workshop instance.
    file: PathBuf,
    /// CPU seconds to spend.
    #[arg(long, default_value_t = 5.0)]
    effort: f64,
    /// Start of the random sequence.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Print as JSON.
    #[arg(long)]
    json: bool,
}

/// Schedules a file and prints the starts.
pub fn run(args: &Args) -> Result<(), Refusal> {
    let text = super::read(&args.file)?;
    let place = args.file.display().to_string();
    let started = super::cpu_seconds();
    let effort = Effort::seconds(args.effort, move || super::cpu_seconds() - started);
    let config = Config { seed: Seed(args.seed) };
    let bad = |e: schedule::Fault| Refusal::invalid(e.to_string(), "Mend the file.").at(place.clone());
    let first: Vec<&str> = text.lines().next().unwrap_or("").split_whitespace().collect();
    let answer = if first.len() == 2 {
        let project = Project::parse(&text).map_err(bad)?;
        let solved = schedule::solve_project(&project, &config, &effort).map_err(bad)?;
        let verified = solved.starts.is_empty() || project.verify(&solved.starts);
        json!({
            "status": match solved.status {
                Status::Optimal => "optimal", Status::Feasible => "feasible",
                Status::Infeasible => "infeasible", Status::Unknown => "unsettled",
            },
            "makespan": solved.makespan, "bound": solved.bound, "starts": solved.starts,
            "cpu_s": super::cpu_seconds() - started, "verified": verified,
        })
    } else {
        let problem = schedule::parse_shop(&text).map_err(bad)?;
        let outcome = schedule::solve(&problem, &config, &effort).map_err(bad)?;
        let cpu = super::cpu_seconds() - started;
        match &outcome {
            Outcome::Plan(plan) => json!({
                "status": if plan.proved { "optimal" } else { "feasible" },
                "cost": plan.cost.total(), "makespan": plan.makespan(), "bound": plan.bound,
                "starts": plan.placements.iter().map(|p| p.start).collect::<Vec<_>>(),
                "cpu_s": cpu, "verified": plan.verify(&problem).is_ok(),
            }),
            Outcome::Infeasible(why) | Outcome::Unsettled(why) => json!({
                "status": if matches!(outcome, Outcome::Infeasible(_)) { "infeasible" } else { "unsettled" },
                "reason": why.reason, "hint": why.hint, "cpu_s": cpu, "verified": true,
            }),
        }
    };
    if args.json {
        return super::print_json(&answer);
    }
    let text = |key: &str| answer.get(key).map(ToString::to_string).unwrap_or_default();
    println!(
        "{}: makespan {}, bound {}, {} CPU s.",
        text("status").trim_matches('"'),
        text("makespan"),
        text("bound"),
        text("cpu_s")
    );
    if let Some(reason) = answer.get("reason").and_then(|r| r.as_str()) {
        let hint = answer.get("hint").and_then(|r| r.as_str()).unwrap_or_default();
        return Err(Refusal::new(RefusalKind::Impossible, reason, hint));
    }
    if let Some(starts) = answer.get("starts").and_then(|s| s.as_array()) {
        let starts: Vec<String> = starts.iter().enumerate().map(|(i, s)| format!("{i}:{s}")).collect();
        println!("{}", starts.join(" "));
    }
    Ok(())
}
