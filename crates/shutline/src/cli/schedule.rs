//! Tasks onto people, rooms and time.

use clap::Args as ClapArgs;
use effort::Effort;
use schedule::{Config, Outcome, Placement, Project, Status, StudioForm};
use serde_json::json;
use std::path::PathBuf;
use studio::{Refusal, RefusalKind};
use units::Seed;

/// Arguments of `schedule`.
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// A studio's week (`.toml`, see examples/week.toml), a project (`n K`, capacities, tasks, arcs), or a workshop
    /// instance.
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
    if args.file.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml")) {
        let form = StudioForm::parse(&text).map_err(bad)?;
        let outcome = schedule::solve(&form.problem, &config, &effort).map_err(bad)?;
        return week(args, &form, &outcome, super::cpu_seconds() - started);
    }
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

/// A studio's week as a table for people, or as JSON.
fn week(args: &Args, form: &StudioForm, outcome: &Outcome, cpu: f64) -> Result<(), Refusal> {
    let problem = &form.problem;
    let (plan, why) = match outcome {
        Outcome::Plan(plan) => (Some(plan), None),
        Outcome::Infeasible(why) | Outcome::Unsettled(why) => (None, Some(why)),
    };
    let name = |p: &Placement| problem.task(p.task).map_or("", |t| t.name.as_str());
    let room = |p: &Placement| {
        let found = p.room.and_then(|id| problem.rooms.iter().find(|r| r.id == id));
        found.map_or("", |r| r.name.as_str())
    };
    let people = |p: &Placement| -> Vec<&str> {
        problem.people.iter().filter(|x| p.people.contains(&x.id)).map(|x| x.name.as_str()).collect()
    };
    let text = |at: jiff::civil::DateTime| at.strftime("%Y-%m-%dT%H:%M").to_string();
    if args.json {
        let status = match outcome {
            Outcome::Plan(plan) if plan.proved => "optimal",
            Outcome::Plan(_) => "feasible",
            Outcome::Infeasible(_) => "infeasible",
            Outcome::Unsettled(_) => "unsettled",
        };
        let late = plan.map(|p| {
            let told = |l: &schedule::Late| {
                let car = form.cars.get(l.job.0 as usize).map_or("", String::as_str);
                json!({ "car": car, "ready": text(form.at(l.end)), "late_min": problem.grid.span(l.by).as_minutes() })
            };
            p.late.iter().map(told).collect::<Vec<_>>()
        });
        let tasks = plan.map(|p| {
            let told = |p: &Placement| {
                json!({ "task": name(p), "start": text(form.at(p.start)), "end": text(form.at(p.end)),
                        "people": people(p), "room": room(p) })
            };
            p.placements.iter().map(told).collect::<Vec<_>>()
        });
        return super::print_json(&json!({
            "status": status, "cost": plan.map(|p| p.cost.total()), "makespan": plan.map(schedule::Plan::makespan),
            "bound": plan.map(|p| p.bound),
            "starts": plan.map(|p| p.placements.iter().map(|p| p.start).collect::<Vec<_>>()),
            "tasks": tasks, "late": late, "reason": why.map(|w| &w.reason), "hint": why.map(|w| &w.hint),
            "cpu_s": cpu, "verified": plan.is_none_or(|p| p.verify(problem).is_ok()),
        }));
    }
    let Some(plan) = plan else {
        let (reason, hint) = why.map_or(("", ""), |w| (w.reason.as_str(), w.hint.as_str()));
        return Err(Refusal::new(RefusalKind::Impossible, reason, hint));
    };
    let mut placements: Vec<&Placement> = plan.placements.iter().collect();
    placements.sort_by_key(|p| (p.start, p.end, p.task));
    let rows: Vec<Vec<String>> = placements
        .iter()
        .map(|p| {
            let clock = |at: jiff::civil::DateTime| at.strftime("%a %d %b %H:%M").to_string();
            vec![
                clock(form.at(p.start)),
                clock(form.at(p.end)),
                name(p).to_owned(),
                people(p).join(", "),
                room(p).to_owned(),
            ]
        })
        .collect();
    super::table::print(&["From", "To", "Task", "Who", "Where"], &rows, &[]);
    for late in &plan.late {
        let car = form.cars.get(late.job.0 as usize).map_or("", String::as_str);
        println!("{car} is late by {}: ready {}.", problem.grid.words(late.by), text(form.at(late.end)));
    }
    let cost = plan.cost.total();
    let quality = if plan.proved { "no plan costs less".to_owned() } else { format!("bound {}", plan.bound) };
    println!("Cost {cost}, {quality}; {cpu:.2} CPU s.");
    Ok(())
}
