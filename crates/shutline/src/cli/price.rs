//! The options of a job folder.

use super::{plan, table};
use clap::Args as ClapArgs;
use jiff::Timestamp;
use serde_json::json;
use std::path::PathBuf;
use studio::view::SidesView;
use studio::{Refusal, Times};
use units::Currency;

/// Arguments of `price`.
#[derive(Debug, ClapArgs)]
pub struct Args {
    /// The job folder.
    folder: PathBuf,
    /// All options with every line and figure.
    #[arg(long)]
    options: bool,
    /// Choices of seams on the sides: price now, renewals, seam in sight.
    #[arg(long)]
    seams: bool,
    /// Reckon as if it were this time.
    #[arg(long)]
    now: Option<Timestamp>,
    /// Print as JSON.
    #[arg(long)]
    json: bool,
}

/// Prices the options.
pub fn run(args: &Args) -> Result<(), Refusal> {
    let job = plan::open(&args.folder, args.now)?;
    let shop = job.studio.shop()?;
    let currency = shop.settings.prices.currency;
    let view = job.studio.offer_view(&job.id)?;
    if args.json {
        let options: Vec<_> = view
            .draft
            .iter()
            .map(|d| json!({ "option": d.option, "figures": d.figures, "problem": d.problem }))
            .collect();
        return super::print_json(&json!({
            "notes": job.notes, "options": options, "not_attempted": view.not_attempted, "terms": view.terms,
            "seams": if args.seams { seams_json(&job.studio.sides_view(&job.id)?) } else { json!(null) },
        }));
    }
    job.notes.iter().for_each(|n| println!("{n}"));
    let times = Times::of(&*job.studio.shop()?);
    let rows: Vec<Vec<String>> = view
        .draft
        .iter()
        .map(|d| {
            let q = &d.option.quote;
            let back = d.option.back_by.map(|t| times.moment(t));
            vec![
                d.option.title.clone(),
                q.gross.display(currency),
                q.likely.display(currency),
                format!("{:.0}", q.held * 100.0),
                format!("{:.1}", q.hours_p50.as_hours()),
                format!("{:.1}", q.hours_p80.as_hours()),
                format!("{:.1}", q.film.as_m2()),
                format!("{:.1}", q.clear.as_um()),
                back.unwrap_or_default(),
                d.problem.clone().unwrap_or_default(),
            ]
        })
        .collect();
    let head = [
        "Option",
        "Price",
        "Half of jobs",
        "Holds %",
        "h P50",
        "h P80",
        "Film m²",
        "Clear µm",
        "Back",
        "Problem",
    ];
    table::print(&head, &rows, &[1, 2, 3, 4, 5, 6, 7]);
    if args.options {
        for draft in &view.draft {
            println!("\n{}", draft.option.title);
            let lines: Vec<Vec<String>> = draft
                .option
                .quote
                .lines
                .iter()
                .map(|l| vec![l.label.clone(), l.quantity.clone(), l.net.display(currency)])
                .collect();
            table::print(&["Line", "Quantity", "Net"], &lines, &[1, 2]);
        }
    }
    if args.seams {
        seams(&job.studio.sides_view(&job.id)?, currency);
    }
    view.not_attempted.iter().for_each(|n| println!("Not attempted: {n}"));
    view.terms.iter().for_each(|t| println!("{t}"));
    Ok(())
}

fn seams_json(view: &SidesView) -> serde_json::Value {
    let choices: Vec<_> = view
        .choices
        .iter()
        .map(|c| {
            json!({
                "seams": c.seams, "pieces_a_side": c.pieces, "install": c.install, "renewals": c.renewals,
                "expected_renewals": c.expected, "one_renewal": c.one_renewal, "in_sight_mm": c.in_sight.as_mm(),
                "holds": c.holds, "total": c.total(view.unseen_m),
            })
        })
        .collect();
    json!({ "unseen_m": view.unseen_m, "years": view.years, "sides": view.sides, "choices": choices, "nothing": view.nothing })
}

fn seams(view: &SidesView, currency: Currency) {
    if let Some(nothing) = &view.nothing {
        println!("{nothing}");
        return;
    }
    let best = view.cheapest(view.unseen_m);
    let rows: Vec<Vec<String>> = view
        .choices
        .iter()
        .enumerate()
        .map(|(i, c)| {
            vec![
                if c.titles.is_empty() { "none but at the shut lines".into() } else { c.titles.join("; ") },
                c.pieces.to_string(),
                c.install.display(currency),
                c.renewals.display(currency),
                format!("{:.2}", c.expected),
                format!("{:.2}", c.in_sight.as_m()),
                if best == Some(i) { "best".into() } else { String::new() },
            ]
        })
        .collect();
    println!("\nSeams on the sides, a meter not seen worth {}:", view.unseen_m.display(currency));
    let head = ["Seams on each side", "Pieces", "Now", "Renewals", "Pieces renewed", "In sight m", ""];
    table::print(&head, &rows, &[1, 2, 3, 4, 5]);
}
