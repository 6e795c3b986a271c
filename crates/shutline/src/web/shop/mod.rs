//! The shop: its people, bays, hours, prices, limits, steps and methods.

mod bays;
mod gauges;
mod learned;
mod library;
mod margins;
mod people;
mod rules;
mod tools;

use super::door::settings_section;
use super::fault::Fault;
use super::form::{self, Returned, Typed};
use super::layout::{self, Room};
use super::shell::{Desk, Shell};
use axum::Router;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::{get, post};
use job::{Shop, ShopSettings};
use maud::{Markup, html};
use studio::{Refusal, RefusalKind, Stamp, Studio};

/// Routes of the shop.
pub fn routes() -> Router<Shell> {
    Router::new()
        .route("/shop", get(open))
        .route("/shop/general", post(rules::general))
        .route("/shop/person", post(people::person))
        .route("/shop/bay", post(bays::bay))
        .route("/shop/tools", post(tools::tools))
        .route("/shop/hours", post(rules::hours))
        .route("/shop/prices", post(rules::prices))
        .route("/shop/limits", post(rules::limits))
        .merge(gauges::routes())
        .merge(learned::routes())
        .merge(library::routes())
        .merge(margins::routes())
}

async fn open(desk: Desk) -> Result<Response, Fault> {
    page(&desk, &Returned::none()).await
}

/// The page, with a form that was refused.
pub(super) async fn page(desk: &Desk, returned: &Returned) -> Result<Response, Fault> {
    let shop = &desk.shop;
    let doors = settings_section(desk, returned).await?;
    let body = html! {
        (layout::head(
            "Shop",
            html! { "What is set here holds from now on; what is agreed and planned stays until it is planned again." },
            html! { a.btn href="/shop/steps" { "Steps" } a.btn href="/shop/methods" { "Correction methods" } a.btn href="/shop/gauges" { "Gauges" } a.btn href="/shop/learned" { "What we learnt" } a.btn href="/shop/margins" { "Margins" } a.btn href="/record" { "The record" } },
        ))
        (rules::general_form(shop, returned))
        (people::list(desk, shop, returned))
        (doors)
        (bays::list(desk, shop, returned))
        (tools::list(shop, returned))
        (rules::hours_form(shop, returned))
        (rules::prices_form(shop, returned))
        (rules::limits_form(desk, shop, returned))
    };
    let page = layout::page(desk, Room::Shop, "Shop", returned.above(body));
    Ok((returned.status(), Html(page.into_string())).into_response())
}

/// A form of settings: it says which settings it was made from, so that nobody's newer ones are overwritten.
fn begin(name: &str, shop: &Shop) -> Typed {
    Typed::new(name).with_seen(fingerprint(&shop.settings))
}

/// The settings in one number.
fn fingerprint(settings: &ShopSettings) -> u64 {
    let text = serde_json::to_vec(settings).unwrap_or_default();
    let digest = journal::Hash::of(&text).0;
    digest.iter().take(8).fold(0, |n, b| n << 8 | u64::from(*b))
}

/// Sets what a form changes, or shows the page again with what was typed.
async fn answer(
    desk: Desk,
    typed: Typed,
    anchor: &'static str,
    change: impl FnOnce(&mut ShopSettings) -> Result<(), Refusal> + Send + 'static,
) -> Result<Response, Fault> {
    let answer = match typed.sound() {
        Err(refusal) => Err(refusal),
        Ok(()) => {
            let seen = typed.seen();
            desk.save(&typed, move |studio, stamp| {
                set(studio, stamp, seen, change).map(|()| format!("/shop#{anchor}"))
            })
            .await
        }
    };
    match answer {
        Ok(response) => Ok(response),
        Err(refusal) => {
            // The form's fingerprint is taken from the shop as it is now, so that saving again works.
            let shop = desk.ask(Studio::shop).await?;
            page(&Desk { shop, ..desk }, &Returned::refused(typed, refusal)).await
        }
    }
}

fn set(
    studio: &Studio,
    stamp: &Stamp,
    seen: Option<u64>,
    change: impl FnOnce(&mut ShopSettings) -> Result<(), Refusal>,
) -> Result<(), Refusal> {
    let mut settings = studio.shop()?.settings.clone();
    if seen.is_some_and(|s| s != fingerprint(&settings)) {
        return Err(Refusal::new(
            RefusalKind::Conflict,
            "The shop's settings changed since this page was opened",
            "Look at what they are now; what you typed is still in the form. Save again to keep it.",
        ));
    }
    change(&mut settings)?;
    studio.set_shop(stamp, &settings)
}

/// Days as typed, one on each line, or parted by commas or blanks.
fn days(typed: &mut Typed, name: &str) -> std::collections::BTreeSet<jiff::civil::Date> {
    let mut days = std::collections::BTreeSet::new();
    let text = typed.text(name);
    for word in text.split([',', ';', '\n', ' ']).map(str::trim).filter(|w| !w.is_empty()) {
        match word.parse() {
            Ok(day) => {
                days.insert(day);
            }
            Err(_) => typed.complain(name, format!("'{word}' is no day: write 2026-12-24.")),
        }
    }
    days
}

fn days_text(days: &std::collections::BTreeSet<jiff::civil::Date>) -> String {
    days.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")
}

/// A form that stands behind a fold.
fn folded(
    name: &str,
    summary: &str,
    returned: &Returned,
    action: &str,
    typed: &Typed,
    body: Markup,
) -> Markup {
    html! {
        details.fold open[returned.is(name)] {
            summary { (summary) }
            (returned.refusal(name))
            (form::form(action, typed, body))
        }
    }
}
