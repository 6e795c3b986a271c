//! The shop's gauges: calibration foils read, and studies of who reads what.

use crate::web::fault::Fault;
use crate::web::form::{self, Returned, Typed};
use crate::web::layout::{self, Room};
use crate::web::shell::{Desk, Shell};
use axum::Router;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::get;
use maud::{Markup, html};
use paint::StudyResult;
use studio::Studio;
use studio::view::GaugeView;

pub(super) fn routes() -> Router<Shell> {
    Router::new().route("/shop/gauges", get(open).post(send))
}

async fn open(desk: Desk) -> Result<Response, Fault> {
    page(&desk, &Returned::none()).await
}

async fn page(desk: &Desk, returned: &Returned) -> Result<Response, Fault> {
    let list = desk.ask(Studio::gauges_view).await?;
    let names: Vec<&str> = list.iter().map(|g| g.name.as_str()).collect();
    let body = html! {
        (layout::head(
            "Gauges",
            html! { "Foils show a gauge's offset, which is taken off its readings, and its repeatability. A study shows how much of a difference is the paint's." },
            html! { a.btn href="/shop" { "Back to the shop" } },
        ))
        @if list.is_empty() { (layout::empty(html! { p { "No foils were read yet. Readings are taken as the gauge gives them, with the usual uncertainty of an offset." } })) }
        @for gauge in &list { (known(desk, gauge)) }
        (foils(returned, &names))
        (study(returned, &names))
    };
    let page = layout::page(desk, Room::Shop, "Gauges", returned.above(body));
    Ok((returned.status(), Html(page.into_string())).into_response())
}

fn known(desk: &Desk, gauge: &GaugeView) -> Markup {
    let words = &desk.words;
    html! {
        section.card {
            h2 { (gauge.name) }
            @if let Some((at, by, figures)) = &gauge.check {
                p.quiet { "Foils read" (named(by)) ", " (words.moment(*at)) "." }
                (layout::figures(words, figures))
            }
            @if let Some((at, by, results)) = &gauge.study {
                p.quiet { "Study entered" (named(by)) ", " (words.moment(*at)) ". Two published methods, which differ." }
                (studied(desk, results))
            }
        }
    }
}

/// By whom, where a name was given.
fn named(by: &str) -> String {
    if by.is_empty() { String::new() } else { format!(" by {by}") }
}

fn studied(desk: &Desk, results: &[StudyResult]) -> Markup {
    let fine = |t: units::Thickness| desk.scale.thickness_fine(t);
    let unit = desk.scale.thickness();
    html! {
        table.fold {
            thead { tr { th { "Method" } th.n { "One person again" } th.n { "Person to person" } th.n { "Gauge in all" } th.n { "Spot to spot" } th.n { "Gauge's share" } th.n { "Classes told apart" } } }
            tbody { @for r in results { tr {
                th scope="row" { (r.method) }
                td.n data-h="One person again" { (layout::quantity(fine(r.repeatability), unit)) }
                td.n data-h="Person to person" { (layout::quantity(fine(r.reproducibility), unit)) }
                td.n data-h="Gauge in all" { (layout::quantity(fine(r.gauge), unit)) }
                td.n data-h="Spot to spot" { (layout::quantity(fine(r.part), unit)) }
                td.n data-h="Gauge's share" { (layout::quantity(format!("{:.1}", 100.0 * r.share), "%")) }
                td.n data-h="Classes told apart" { (r.categories) @if r.categories < 5 { " " span.loud { "few" } } }
            } } }
        }
        p.small.quiet { "Standard deviations. Under five classes a gauge is poor at telling spots apart (AIAG, Measurement Systems Analysis, 4th ed.; from memory)." }
    }
}

fn foils(returned: &Returned, names: &[&str]) -> Markup {
    let typed = returned.or(Typed::new("foils"));
    html! {
        details.fold open[returned.is("foils")] {
            summary { "Read calibration foils" }
            (returned.refusal("foils"))
            p { "On the bare metal plate of the gauge, each foil at least twice." }
            (form::form("/shop/gauges", &typed, html! {
                input type="hidden" name="form" value="foils";
                div.fields {
                    (typed.field("gauge", "Gauge").hint("The name that its readings carry.").list(names).required())
                    (typed.area("table", "Foils", "First line: nominal_um,read_um (or _mil), then one line for each reading.", 6))
                }
                p.acts { button { "Keep the foils" } }
            }))
            details.how { summary { span.v { "An example" } } pre.example { "nominal_um,read_um\n50,51.2\n50,50.8\n122,123.0\n122,122.6" } }
        }
    }
}

fn study(returned: &Returned, names: &[&str]) -> Markup {
    let typed = returned.or(Typed::new("study"));
    html! {
        details.fold open[returned.is("study")] {
            summary { "Study who reads what" }
            (returned.refusal("study"))
            p { "Several people read the same marked spots several times, without seeing each other's figures. Ten spots, three people, three times is usual; any complete size will do." }
            (form::form("/shop/gauges", &typed, html! {
                input type="hidden" name="form" value="study";
                div.fields {
                    (typed.field("gauge", "Gauge").list(names).required())
                    (typed.area("table", "Readings", "First line: operator,part,reading_um (or reading_mil), then one line for each reading.", 8))
                }
                p.acts { button { "Keep the study" } }
            }))
            details.how { summary { span.v { "An example" } } pre.example { "operator,part,reading_um\nMei,a,121\nMei,a,122\nRavi,a,121\n…" } }
        }
    }
}

async fn send(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let study = typed.get("form") == "study";
    let mut typed = typed.named(if study { "study" } else { "foils" });
    let (gauge, table) = (typed.required("gauge"), typed.required("table"));
    let answer = match typed.sound() {
        Err(refusal) => Err(refusal),
        Ok(()) => {
            desk.save(&typed, move |studio, stamp| {
                if study {
                    studio.study_gauge(stamp, &gauge, &table)?;
                } else {
                    studio.check_gauge(stamp, &gauge, &table)?;
                }
                Ok("/shop/gauges".to_owned())
            })
            .await
        }
    };
    match answer {
        Ok(response) => Ok(response),
        Err(refusal) => page(&desk, &Returned::refused(typed, refusal)).await,
    }
}
