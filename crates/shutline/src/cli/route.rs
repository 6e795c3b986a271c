//! The steps of a job folder.

use super::{plan, table};
use clap::Args as ClapArgs;
use jiff::Timestamp;
use job::StepNo;
use serde_json::json;
use std::path::PathBuf;
use studio::{Refusal, RefusalKind, Stamp};

/// Arguments of `route`.
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// The job folder.
    folder: PathBuf,
    /// Numbers of the open steps in another order, such as 3,1,2: says which rule it breaks.
    #[arg(long, value_delimiter = ',')]
    check: Option<Vec<u32>>,
    /// Reckon as if it were this time.
    #[arg(long)]
    now: Option<Timestamp>,
    /// Print as JSON.
    #[arg(long)]
    json: bool,
}

/// Derives and prints the route.
pub fn run(args: &Args) -> Result<(), Refusal> {
    let mut job = plan::open(&args.folder, args.now)?;
    let stamp = Stamp::by("planner");
    job.notes.extend(job.studio.rehearse(&job.id, &stamp)?);
    if let Some(order) = &args.check {
        let order: Vec<StepNo> = order.iter().map(|n| StepNo(*n)).collect();
        let found = job.studio.judge_order(&job.id, &order)?;
        if args.json {
            return super::print_json(&json!({
                "notes": job.notes,
                "valid": found.breaches.is_empty(),
                "breaches": found.breaches,
                "nearest": found.nearest,
            }));
        }
        if found.breaches.is_empty() {
            println!("This order breaks no rule.");
            return Ok(());
        }
        return Err(Refusal::new(
            RefusalKind::Impossible,
            format!("This order does harm. {}", found.breaches.join(" ")),
            found.nearest,
        ));
    }
    let view = job.studio.route_view(&job.id)?;
    if args.json {
        return super::print_json(&json!({
            "notes": job.notes,
            "steps": view.steps.iter().map(|s| &s.planned).collect::<Vec<_>>(),
            "work_min": view.work,
            "problem": view.problem,
            "breaches": view.breaches,
        }));
    }
    job.notes.iter().for_each(|n| println!("{n}"));
    if let Some(problem) = view.problem {
        return Err(Refusal::new(RefusalKind::Impossible, "There is no valid route", problem));
    }
    let rows: Vec<Vec<String>> = view
        .steps
        .iter()
        .map(|s| {
            let p = &s.planned;
            let after: Vec<String> = p.after.iter().map(|a| a.step.to_string()).collect();
            vec![
                p.no.to_string(),
                p.title.clone(),
                format!("{:.0}", p.work.as_minutes()),
                p.room.replace('_', " "),
                p.skill.clone().unwrap_or_default(),
                after.join(" "),
                p.why.first().cloned().unwrap_or_default(),
            ]
        })
        .collect();
    table::print(&["No", "Step", "min", "Room", "Skill", "After", "Why"], &rows, &[0, 2]);
    println!("{:.1} h of work.", view.work.as_hours());
    Ok(())
}
