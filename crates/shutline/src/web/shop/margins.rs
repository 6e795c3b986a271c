//! Margins job by job, and what was agreed as data for the bookkeeper.

use crate::web::fault::Fault;
use crate::web::layout::{self, Room};
use crate::web::shell::{Desk, Shell};
use axum::Router;
use axum::http::header;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::get;
use maud::{Markup, html};
use studio::Studio;
use studio::view::{MarginRow, MarginsView, money_csv, money_json};
use units::Money;

pub(super) fn routes() -> Router<Shell> {
    Router::new()
        .route("/shop/margins", get(open))
        .route("/money.csv", get(csv))
        .route("/money.json", get(json))
}

async fn open(desk: Desk) -> Result<Response, Fault> {
    let view = desk.ask(Studio::margins_view).await?;
    let body = html! {
        (layout::head(
            "Margins",
            html! { "Offered against actual, car by car, the thinnest margin first." },
            html! { a.btn href="/shop" { "Back to the shop" } a.btn href="/money.csv" { "For the bookkeeper, CSV" } a.btn href="/money.json" { "JSON" } },
        ))
        @if view.rows.is_empty() {
            (layout::empty(html! { p { "No car with an accepted offer was handed over yet." } }))
        } @else {
            (layout::figures(&desk.words, &view.figures))
            @if let Some(hint) = &view.hint { (layout::note(html! { p { (hint) } })) }
            (table(&desk, &view))
            p.small.quiet { "Leaks are what hours and film beyond the offer cost; a figure with − was saved. Hours of a step that was not timed are its planned ones. Washing and survey before the customer agreed count as taken but not as offered: an offer is made after them. Costs of an hour, a bay and film are today's." }
        }
    };
    Ok(Html(layout::page(&desk, Room::Shop, "Margins", body).into_string()).into_response())
}

fn table(desk: &Desk, view: &MarginsView) -> Markup {
    html! {
        table.fold {
            thead { tr { th { "Car" } th.n { "Net" } th.n { "Left over" } th.n { "Hours, offered → took" } th.n { "Film, offered → cut" } th.n { "Leaks: hours" } th.n { "film" } th.n { "done again" } } }
            tbody { @for row in &view.rows { (line(desk, row)) } }
        }
    }
}

fn line(desk: &Desk, row: &MarginRow) -> Markup {
    let words = &desk.words;
    let r = &row.record;
    let loud = |m: Money| html! { @if m > Money::ZERO { b { (words.money(m)) } } @else { (words.money(m)) } };
    html! { tr {
        th scope="row" { (layout::car_link(&row.car)) }
        td.n data-h="Net" { (words.money(r.net)) }
        td.n data-h="Left over" { (words.money(row.margin)) @if let Some(p) = row.percent { " " span.small.quiet { (format!("{p:.0} %")) } } }
        td.n data-h="Hours, offered → took" { (format!("{:.1} → {:.1}", r.hours_offered.as_hours(), r.hours_actual.as_hours())) " h" @if row.untimed > 0 { " " span.warn { (row.untimed) " steps not timed" } } }
        td.n data-h="Film, offered → cut" { (desk.words.told(&format!("{:.1} → {:.1} m²", r.film_offered.as_m2(), r.film_actual.as_m2()))) }
        td.n data-h="Leaks: hours" { (loud(row.hours_leak)) }
        td.n data-h="film" { (loud(row.film_leak)) }
        td.n data-h="done again" { (loud(row.refit_leak)) }
    } }
}

async fn csv(desk: Desk) -> Result<Response, Fault> {
    let currency = desk.shop.settings.prices.currency;
    let text = money_csv(&desk.ask(Studio::money).await?, currency);
    Ok(file("text/csv; charset=utf-8", "agreed.csv", text))
}

async fn json(desk: Desk) -> Result<Response, Fault> {
    let prices = &desk.shop.settings.prices;
    let (currency, rule) = (prices.currency, prices.tax_rule);
    let value = money_json(&desk.ask(Studio::money).await?, currency, rule);
    Ok(file("application/json", "agreed.json", value.to_string()))
}

fn file(kind: &'static str, name: &str, text: String) -> Response {
    let given = format!("attachment; filename=\"{name}\"");
    ([(header::CONTENT_TYPE, kind.to_owned()), (header::CONTENT_DISPOSITION, given)], text).into_response()
}
