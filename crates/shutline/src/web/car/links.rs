//! Links for the customer of a car: given, listed, taken back.

use super::{Base, Fault, Sheet, fold};
use crate::web::door::code;
use crate::web::form::{self, Typed};
use crate::web::layout::{self, Room};
use crate::web::shell::Desk;
use axum::extract::Path;
use axum::response::{Html, IntoResponse, Response};
use job::Stage;
use maud::{Markup, html};
use studio::Refusal;
use studio::door::Shown;

/// Days that links are good for, as they are offered.
const DAYS: [(&str, &str); 3] = [("14", "14 days"), ("60", "60 days"), ("366", "a year")];

const SHOWN: [(&str, Shown); 2] = [("offer", Shown::Offer), ("report", Shown::Report)];

fn path(at: &Sheet) -> String {
    format!("{}/links", at.car_path())
}

/// The fold at the foot of a sheet.
pub(super) fn fold_of(at: &Sheet, base: &Base) -> Markup {
    let reports = base.car.job.handover.is_some();
    let offers = !base.car.job.offers.is_empty();
    let usual = if reports { "report" } else { "offer" };
    let typed = Typed::new("link").with("shown", usual).with("days", if reports { "366" } else { "14" });
    let mut choices: Vec<(&str, &str)> = Vec::new();
    if offers {
        choices.push(("offer", "The offer"));
    }
    choices.push((
        "report",
        if reports { "The handover report" } else { "The handover report, a draft until the handover" },
    ));
    fold(
        "link",
        "A link for the customer",
        false,
        html! {
            p { "Whoever holds the link can read this one page, and change nothing. It opens where the shop's network can be reached." }
            @if !base.links.is_empty() { table.fold {
                thead { tr { th { "Shows" } th { "Good until" } th { "Given by" } th { span.unseen { "Take back" } } } }
                tbody { @for (name, link) in &base.links { tr {
                    th scope="row" { @match link.shown { Shown::Offer => "the offer", Shown::Report => "the report" } }
                    td data-h="Good until" { (at.desk.words.day(link.until)) }
                    td data-h="Given by" { (link.by) }
                    td data-h="" { (form::button(&path(at), &[("form", "withdraw"), ("name", name)], false, "Take it back")) }
                } } }
            } }
            (form::form(&path(at), &typed, html! {
                input type="hidden" name="form" value="give";
                (typed.choice("shown", "Shows", &choices))
                (typed.choice("days", "Good for", &DAYS))
                p.acts { button { "Make a link" } }
            }))
        },
    )
}

/// Gives a link, which is told once, or takes one back.
pub(super) async fn act(desk: Desk, Path(id): Path<String>, mut typed: Typed) -> Result<Response, Fault> {
    let at = Sheet::new(desk, id, Stage::Offer);
    let (id, by) = (at.id.clone(), at.desk.by());
    if typed.get("form") == "withdraw" {
        let name = typed.get("name").to_owned();
        at.desk.ask(move |s| s.withdraw_link(&id, &name)).await?;
        return Ok(axum::response::Redirect::to(&format!("{}#fold-link", at.car_path())).into_response());
    }
    let shown = typed.one_of("shown", &SHOWN);
    let days = typed.whole("days").unwrap_or_default();
    let Some(shown) = shown else {
        return Err(at
            .desk
            .fault(Refusal::invalid("It is not said what the link shows", "Go back and choose.")));
    };
    let token = at.desk.ask(move |s| s.give_link(&by, &id, shown, i64::from(days))).await?;
    let reach = at.desk.shell.house.reach.clone();
    let link = format!("{}/look/{}", reach.as_deref().unwrap_or_default(), token.as_str());
    let body = html! {
        (layout::head("A link for the customer", html! { "It is told this once: only its digest is kept." }, html! { a.btn href=(at.car_path()) { "Back to the car" } }))
        p { a href={ "/look/" (token.as_str()) } { "See what the customer sees" } }
        @if reach.is_some() {
            div.code role="img" aria-label="Code to be scanned" { (code(&link)) }
            p { code { (link) } }
        } @else {
            p { code { (link) } }
            p.quiet { "The program serves this machine alone, so the link opens here only. Start it with " code { "shutline serve --lan" } "." }
        }
    };
    Ok(Html(layout::page(&at.desk, Room::Cars, "A link for the customer", body).into_string())
        .into_response())
}
