//! The step library and the table of correction methods: to read, to take away, to bring back changed.

use super::set;
use crate::web::fault::Fault;
use crate::web::form::{self, Returned, Typed};
use crate::web::layout::{self, Room};
use crate::web::shell::{Desk, Shell};
use axum::Router;
use axum::http::header;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::get;
use maud::{Markup, html};
use serde::Serialize;
use studio::engine::{paint, route as steps_of};
use studio::{Refusal, Studio};

pub(super) fn routes() -> Router<Shell> {
    Router::new()
        .route("/shop/steps", get(steps).post(set_steps))
        .route("/shop/steps.toml", get(steps_file))
        .route("/shop/methods", get(methods).post(set_methods))
        .route("/shop/methods.json", get(methods_file))
}

async fn steps(desk: Desk) -> Result<Response, Fault> {
    steps_page(&desk, &Returned::none()).await
}

/// The stored word of a choice, as people read it.
fn word(value: &impl Serialize) -> String {
    match serde_json::to_value(value) {
        Ok(serde_json::Value::String(text)) => text.replace('_', " "),
        _ => String::new(),
    }
}

async fn steps_page(desk: &Desk, returned: &Returned) -> Result<Response, Fault> {
    let own = desk.shop.settings.steps.is_some();
    let library = desk.ask(|s| steps_of::library(s, &*s.shop()?)).await?;
    let table = html! {
        table.fold.steps {
            thead { tr { th { "Step" } th { "Needs before it, and the harm otherwise" } th { "Changes" } th { "Where, who" } th { "Cautions" } } }
            tbody { @for step in library.steps() { tr id=(step.id) {
                th scope="row" { (step.title) br; code.quiet { (step.id) } }
                td data-h="Needs" { ul.plain { @for need in &step.needs { li {
                    @match library.fact(&need.fact) {
                        Some(fact) if need.most == 0 => b { (fact.at(0)) },
                        Some(fact) if need.least >= 1 => b { (fact.at(need.least)) },
                        Some(fact) => b { "at most " (fact.at(need.most)) },
                        None => b { (need.fact) },
                    }
                    @if !need.harm.is_empty() { span.quiet { ": " (need.harm) } }
                } } } }
                td data-h="Changes" { ul.plain { @for effect in &step.effects { li {
                    (library.fact(&effect.fact).map_or(effect.fact.as_str(), |f| f.name.as_str()))
                    span.quiet { " " (change(&effect.change)) }
                } } } }
                td data-h="Where, who" {
                    (word(&step.room)) ", " (word(&step.skill)) @if step.people > 1 { ", " (step.people) " people" } br;
                    span.quiet { "air: " (word(&step.air)) } br;
                    span.quiet { (time(&desk.words, (step.fixed, step.per_m2, step.per_item))) }
                }
                td.small data-h="Cautions" { @for id in &step.cautions { @if let Some(c) = library.caution(id) { div { (c.text) } } } }
            } } }
        }
    };
    let typed = returned.or(super::begin("steps", &desk.shop));
    let body = html! {
        (layout::head(
            "Steps",
            html! {
                (library.steps().len()) " steps of " @if own { "the shop's own library" } @else { "the built-in library" }
                ". A route is derived from them: a step comes where what it needs holds."
            },
            html! { a.btn href="/shop" { "Back to the shop" } a.btn href="/shop/steps.toml" { "Take the library away (TOML)" } },
        ))
        (returned.refusal("steps"))
        details.fold open[returned.is("steps")] {
            summary { "Use an own library" }
            p { "Take the library away, change it in a text editor, bring it back. Every flaw is named with its line; nothing is used before it is sound." }
            (form::upload_form("/shop/steps", &typed, html! {
                div.fields {
                    (typed.field("file", "TOML file").kind("file"))
                    (typed.area("text", "or its text", "", 8))
                }
                div.acts {
                    button name="act" value="own" { "Use this library" }
                    @if own { button name="act" value="built_in" { "Go back to the built-in one" } }
                }
            }))
        }
        (table)
    };
    Ok((returned.status(), Html(layout::page(desk, Room::Shop, "Steps", body).into_string())).into_response())
}

/// A change of a fact in words; its type is the route engine's, of which pages know only the stored form.
fn change(change: &impl Serialize) -> String {
    match serde_json::to_value(change) {
        Ok(serde_json::Value::Object(map)) => match map.values().next().and_then(serde_json::Value::as_u64) {
            Some(0) => "gone".to_owned(),
            Some(_) => "there".to_owned(),
            None => String::new(),
        },
        Ok(serde_json::Value::String(_)) => "one grade less".to_owned(),
        _ => String::new(),
    }
}

/// A step's time: whatever it is done on, for the area of that, each item of it.
pub(super) fn time(
    words: &report::words::Words,
    (fixed, per_m2, per_item): (units::Duration, units::Duration, units::Duration),
) -> String {
    let mut parts = Vec::new();
    if fixed > units::Duration::ZERO {
        parts.push(words.duration(fixed));
    }
    if per_m2 > units::Duration::ZERO {
        let (share, area) = match words.units {
            job::UnitSystem::Metric => (1.0, "m²"),
            job::UnitSystem::Us => (0.092_903_04, "ft²"),
        };
        parts.push(format!("{:.1} min for a {area}", per_m2.as_minutes() * share));
    }
    if per_item > units::Duration::ZERO {
        parts.push(format!("{:.0} min each", per_item.as_minutes()));
    }
    parts.join(" + ")
}

/// The text of a file in a field, or what was typed instead of it.
fn text_of(typed: &Typed, what: &str) -> Result<String, Refusal> {
    let Some(file) = typed.files("file").next() else {
        return typed.some("text").ok_or_else(|| {
            Refusal::invalid(format!("There is no {what}"), "Choose a file, or paste its text.")
        });
    };
    String::from_utf8(file.bytes.to_vec()).map_err(|e| {
        let line = file.bytes.iter().take(e.utf8_error().valid_up_to()).filter(|b| **b == b'\n').count() + 1;
        Refusal::invalid("The file is no plain text", "Save it as UTF-8 text and send it again.")
            .at(format!("{}, line {line}", file.name))
    })
}

async fn set_steps(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let mut typed = typed.named("steps");
    let text = match typed.get("act") {
        "built_in" => Ok(None),
        _ => text_of(&typed, "library").map(Some),
    };
    let answer = match text {
        Err(refusal) => Err(refusal),
        Ok(text) => {
            // What came in a file is kept in the text field, so that it can be mended here.
            if let Some(text) = text.as_ref().filter(|_| typed.get("text").is_empty()) {
                typed = typed.with("text", text);
            }
            let seen = typed.seen();
            let save = move |studio: &Studio, stamp: &studio::Stamp| {
                if let Some(text) = &text {
                    steps_of::parse_library(text, "your library")?;
                }
                set(studio, stamp, seen, |s| {
                    s.steps = text;
                    Ok(())
                })?;
                Ok("/shop/steps".to_owned())
            };
            desk.save(&typed, save).await
        }
    };
    match answer {
        Ok(response) => Ok(response),
        Err(refusal) => {
            let shop = desk.ask(Studio::shop).await?;
            steps_page(&Desk { shop, ..desk }, &Returned::refused(typed, refusal)).await
        }
    }
}

async fn steps_file(desk: Desk) -> Response {
    let text = desk.shop.settings.steps.clone().unwrap_or_else(|| route::Library::built_in_text().to_owned());
    download("application/toml; charset=utf-8", "steps.toml", text)
}

fn download(kind: &'static str, name: &str, text: String) -> Response {
    let file = format!("attachment; filename=\"{name}\"");
    ([(header::CONTENT_TYPE, kind.to_owned()), (header::CONTENT_DISPOSITION, file)], text).into_response()
}

async fn methods(desk: Desk) -> Response {
    methods_page(&desk, &Returned::none())
}

fn methods_page(desk: &Desk, returned: &Returned) -> Response {
    let scale = desk.scale;
    let own = desk.shop.settings.methods.is_some();
    let list = paint::methods(&desk.shop);
    let typed = returned.or(super::begin("methods", &desk.shop));
    let body = html! {
        (layout::head(
            "Correction methods",
            html! { "What one pass takes, how unsure that is, and how long it takes: the " @if own { "shop's own table." } @else { "built-in table; common practice, no source." } },
            html! { a.btn href="/shop" { "Back to the shop" } a.btn href="/shop/methods.json" { "Take the table away (JSON)" } },
        ))
        (returned.refusal("methods"))
        (methods_table(desk, &list))
        p.small.quiet { "A pass takes about the mean; a whole method may be off by the first ±, one pass from the next by the second (95 %)." }
        details.fold open[returned.is("methods")] {
            summary { "Use an own table" }
            p { "Thicknesses are in µm, times in minutes for one pass over a square meter." }
            (form::upload_form("/shop/methods", &typed, html! {
                div.fields {
                    (typed.field("file", "JSON file").kind("file"))
                    (typed.area("text", "or its text", "", 8))
                }
                div.acts {
                    button name="act" value="own" { "Use this table" }
                    @if own { button name="act" value="built_in" { "Go back to the built-in one" } }
                }
            }))
        }
        p.small.quiet { "Shown in " (scale.thickness()) "." }
    };
    (returned.status(), Html(layout::page(desk, Room::Shop, "Correction methods", body).into_string()))
        .into_response()
}

fn methods_table(desk: &Desk, list: &[::paint::Method]) -> Markup {
    let scale = desk.scale;
    // about as much, in numbers that can be told
    let (some, of_m2) = if scale.0 == job::UnitSystem::Metric {
        ("a m²", 1.0)
    } else {
        ("10 ft²", 10.0 * scale.areas_from(1.0))
    };
    let time_for = format!("Time for {some}");
    // Two standard deviations, as everywhere on these pages.
    let wide = |t: units::Thickness| {
        crate::web::scale::plain(
            (if scale.thickness() == "mil" { t.as_mil() } else { t.as_um() } * 196.0).round() / 100.0,
        )
    };
    html! {
        table.fold {
            thead { tr { th { "Method" } th { "Kind" } th.n { "One pass takes" } th.n { "unsure" } th.n { "scatter" } th.n { "Leaves marks of" } th.n { (time_for) } th { "Heat" } } }
            tbody { @for m in list { tr {
                th scope="row" { (m.name) }
                td data-h="Kind" { (word(&m.kind)) }
                td.n data-h="One pass takes" { (layout::quantity(scale.thickness_text(m.removal_per_pass.mean), scale.thickness())) }
                td.n data-h="unsure" { span.pm { "± " (wide(m.removal_per_pass.unsure)) } }
                td.n data-h="scatter" { span.pm { "± " (wide(m.removal_per_pass.scatter)) } }
                td.n data-h="Leaves marks of" { (layout::quantity(scale.thickness_text(m.leaves_mark), scale.thickness())) }
                td.n data-h=(time_for) { (layout::duration(&desk.words, m.time_per_m2 * of_m2)) }
                td data-h="Heat" { (word(&m.heat)) }
            } } }
        }
    }
}

async fn set_methods(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let mut typed = typed.named("methods");
    let value = match typed.get("act") {
        "built_in" => Ok(None),
        _ => text_of(&typed, "table").and_then(|text| {
            if typed.get("text").is_empty() {
                typed = typed.clone().with("text", &text);
            }
            let value = serde_json::from_str(&text).map_err(|e| {
                Refusal::invalid(
                    format!("This is no JSON: {e}"),
                    "Mend this line, or take the table away again and start from it.",
                )
                .at(format!("line {}", e.line()))
            })?;
            paint::methods_from(&value)?;
            Ok(Some(value))
        }),
    };
    let answer = match value {
        Err(refusal) => Err(refusal),
        Ok(value) => {
            let seen = typed.seen();
            let save = move |studio: &Studio, stamp: &studio::Stamp| {
                set(studio, stamp, seen, |s| {
                    s.methods = value;
                    Ok(())
                })?;
                Ok("/shop/methods".to_owned())
            };
            desk.save(&typed, save).await
        }
    };
    match answer {
        Ok(response) => Ok(response),
        Err(refusal) => {
            let shop = desk.ask(Studio::shop).await?;
            Ok(methods_page(&Desk { shop, ..desk }, &Returned::refused(typed, refusal)))
        }
    }
}

async fn methods_file(desk: Desk) -> Result<Response, Fault> {
    let list = paint::methods(&desk.shop);
    let text = serde_json::to_string_pretty(&list)
        .map_err(|e| desk.fault(Refusal::broken(e, "Tell who keeps this program.")))?;
    Ok(download("application/json", "methods.json", text))
}
