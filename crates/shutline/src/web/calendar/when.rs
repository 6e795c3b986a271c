//! When could a car be ready that is not here yet?

use crate::web::fault::Fault;
use crate::web::form::Typed;
use crate::web::layout::{self, Room};
use crate::web::shell::Desk;
use axum::extract::Query;
use axum::response::Html;
use body::{Body, Style};
use jiff::Timestamp;
use job::{Car, CoatTarget, Coverage, Finish, Order};
use maud::{Markup, html};
use serde::Deserialize;
use studio::view::WhenView;

/// What is asked.
#[derive(Deserialize)]
#[serde(default)]
pub struct Asked {
    body: String,
    film: String,
    finish: String,
    coating: String,
    interior: String,
    from: String,
}

impl Default for Asked {
    fn default() -> Self {
        let [body, film, finish] = ["saloon", "front", "gloss"].map(str::to_owned);
        Self { body, film, finish, coating: String::new(), interior: String::new(), from: String::new() }
    }
}

const FILM: [(&str, &str); 4] =
    [("none", "None"), ("front", "Front"), ("sides", "Front and sides"), ("whole", "Whole car")];

const FINISH: [(&str, &str); 4] = [
    ("clean", "Clean paint, no machine"),
    ("gloss", "One fine pass"),
    ("corrected", "Corrected"),
    ("best", "As far as the clear coat allows"),
];

const COATING: [(&str, &str); 3] = [("", "None"), ("paint", "On paint"), ("film", "On film")];

fn order(asked: &Asked) -> Order {
    let mut order = Order {
        film: match asked.film.as_str() {
            "front" => Coverage::Front,
            "sides" => Coverage::FrontAndSides,
            "whole" => Coverage::Whole,
            _ => Coverage::None,
        },
        finish: match asked.finish.as_str() {
            "gloss" => Finish::Gloss,
            "corrected" => Finish::Corrected,
            "best" => Finish::Best,
            _ => Finish::Clean,
        },
        interior: !asked.interior.is_empty(),
        ..Order::default()
    };
    match asked.coating.as_str() {
        "paint" => order.coatings.insert(CoatTarget::Paint),
        "film" => order.coatings.insert(CoatTarget::Film),
        _ => false,
    };
    order
}

/// The question, and once it is put, the answer.
pub async fn page(desk: Desk, Query(asked): Query<Asked>) -> Result<Html<String>, Fault> {
    let put = desk.path.contains('?');
    let mut typed = Typed::new("when")
        .with("body", &asked.body)
        .with("film", &asked.film)
        .with("finish", &asked.finish)
        .with("coating", &asked.coating)
        .with("from", &asked.from)
        .ticked("interior", !asked.interior.is_empty());
    let from = if asked.from.is_empty() { None } else { typed.moment("from", desk.zone()) };
    typed.sound().map_err(|r| desk.fault(r))?;
    let car = Car { body: asked.body.clone(), ..Car::default() };
    let wanted = order(&asked);
    let (view, now) = desk
        .ask(move |s| {
            let view = if put { Some(s.when_view(&car, &wanted, from)?) } else { None };
            Ok((view, s.now()))
        })
        .await?;
    let bodies: Vec<(&str, &str)> = Style::ALL.iter().map(|s| (s.name(), Body::of(*s).label())).collect();
    let body = html! {
        (layout::head(
            "When could a new car be ready?",
            html! { "Planned beside all open jobs; nothing is booked by asking." },
            html! { a.btn href="/calendar" { "Calendar" } a.btn href="/cars/new" { "Book a car" } },
        ))
        form method="get" action="/calendar/when" {
            div.fields {
                (typed.select("body", "Body", &bodies))
                (typed.select("film", "Film", &FILM))
                (typed.select("finish", "Paint", &FINISH))
                (typed.select("coating", "Coating", &COATING))
                (typed.field("from", "Car comes").kind("datetime-local").hint("Left open: as soon as there is room."))
                (typed.tick("interior", "Inside too"))
            }
            p.acts { button.main { "When?" } }
        }
        @if let Some(view) = &view { (answer(&desk, now, view)) }
    };
    Ok(Html(layout::page(&desk, Room::Calendar, "When could a new car be ready?", body).into_string()))
}

fn answer(desk: &Desk, now: Timestamp, view: &WhenView) -> Markup {
    if let Some(problem) = &view.problem {
        return html! { div.note { p { b { "There is no plan for this car." } } p { (problem) } } };
    }
    let words = &desk.words;
    html! {
        section aria-labelledby="answer" {
            h2 #answer { "Ready" }
            p { (view.steps) " steps, " (layout::duration(words, view.work)) " of work. Findings at the door can add to it." }
            table.fold {
                thead { tr { th { "How sure" } th.n { "Ready by" } } }
                tbody {
                    @if let Some(at) = view.planned { tr {
                        th scope="row" { "If everything takes as long as planned" }
                        td.n data-h="Ready by" { (layout::moment(words, now, at)) }
                    } }
                    @for (share, at) in &view.odds { tr {
                        th scope="row" { "In " (format!("{:.0}", share * 100.0)) " of 100 cases" }
                        td.n data-h="Ready by" { @match at {
                            Some(at) => (layout::moment(words, now, *at)),
                            None => span.quiet { "not within the days planned" },
                        } }
                    } }
                }
            }
            @if let Some(account) = &view.account { (layout::labeled(words, account)) }
        }
        section aria-labelledby="others" {
            h2 #others { "What it does to others" }
            @if view.delayed.is_empty() { p { "No other car is ready later than without it." } }
            @else { ul.plain { @for (car, by) in &view.delayed { li { (layout::car_link(car)) ": " (by) " later" } } } }
        }
    }
}
