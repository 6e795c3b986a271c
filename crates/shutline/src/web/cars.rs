//! The list of cars, and booking one in.

use super::fault::Fault;
use super::form::{self, Returned, Typed};
use super::layout::{self, Room};
use super::shell::{Desk, Shell};
use axum::Router;
use axum::extract::Query;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::get;
use body::{Body, PanelKind, Style};
use job::{Car, CoatTarget, Coverage, Customer, Drive, Finish, Order, PaintFinish, PanelId};
use maud::{Markup, html};
use report::drawing::{Medium, car_mini};
use serde::Deserialize;
use std::collections::{BTreeMap, BTreeSet};
use studio::command::NewJob;
use studio::engine::WHOLE_CAR;
use studio::view::{CarList, CarRow};

/// Routes of the list and the booking.
pub fn routes() -> Router<Shell> {
    Router::new().route("/cars", get(list)).route("/cars/new", get(new).post(book))
}

#[derive(Deserialize)]
struct Search {
    #[serde(default)]
    q: String,
    /// Rows before those shown.
    #[serde(default)]
    after: usize,
}

/// Rows on a page.
const ROWS: usize = 50;

async fn list(desk: Desk, Query(search): Query<Search>) -> Result<Html<String>, Fault> {
    let query = search.q.trim().to_owned();
    let asked = query.clone();
    let customers = desk.sees_customers();
    let after = search.after / ROWS * ROWS;
    let (found, now) = desk.ask(move |s| Ok((s.cars(&asked, customers, after, ROWS)?, s.now()))).await?;
    let CarList { rows, count } = found;
    let typed = Typed::new("search").with("q", &query);
    let counted = match (count, query.is_empty()) {
        (0, _) => String::new(),
        (1, true) => "One job.".to_owned(),
        (n, true) => format!("{n} jobs, open ones first."),
        (1, false) => "One job holds all these words.".to_owned(),
        (n, false) => format!("{n} jobs hold all these words."),
    };
    let body = html! {
        (layout::head("Cars", html! { (counted) }, html! { @if customers { a.btn.main href="/cars/new" { "Book a car" } } }))
        form.search method="get" action="/cars" role="search" {
            (typed.field("q", if customers { "Plate, name, color, owner or a word of a note" } else { "Plate, name, color or a word of a note" }).kind("search").wide())
            button { "Search" }
            @if !query.is_empty() { a.btn href="/cars" { "All cars" } }
        }
        div data-live {
            @if rows.is_empty() && query.is_empty() {
                (layout::empty(html! { p { "No car has been here yet. " a href="/cars/new" { "Book the first one" } "." } }))
            } @else if rows.is_empty() {
                (layout::empty(html! { p { "No car holds all of “" (query) "”. Try fewer words, or part of the plate." } }))
            } @else {
                (table(&desk, now, &rows))
                (turn(&query, after, rows.len(), count))
            }
        }
    };
    Ok(Html(layout::page(&desk, Room::Cars, "Cars", body).into_string()))
}

/// Where in a long list this page is, and the way to the next.
fn turn(query: &str, after: usize, rows: usize, count: usize) -> Markup {
    let to = |after: usize| {
        let query: String = form_urlencoded::byte_serialize(query.as_bytes()).collect();
        format!("/cars?q={query}&after={after}")
    };
    html! { @if rows < count { nav.acts aria-label="Parts of the list" {
        span.quiet { (after + 1) " to " (after + rows) " of " (count) }
        @if after > 0 { a.btn rel="prev" href=(to(after.saturating_sub(ROWS))) { "Newer" } }
        @if after + rows < count { a.btn rel="next" href=(to(after + rows)) { "Older" } }
    } } }
}

fn table(desk: &Desk, now: jiff::Timestamp, rows: &[CarRow]) -> Markup {
    html! {
        table.fold {
            thead { tr { th { span.unseen { "Drawing" } } th { "Car" } th { "Plate" } @if desk.sees_customers() { th { "Owner" } } th.w { "Stands at" } th.n { "Promised" } th { "Note" } th.n { "Job" } } }
            tbody { @for (i, row) in rows.iter().enumerate() { tr.past[!row.open] {
                // Drawings cost a few kilobytes each: the open jobs and the newest have one.
                td.sketch { @if i < DRAWN { (sketch(&row.car.body, &format!("row{i}"))) } }
                th scope="row" { (layout::car_link(&row.car)) }
                td.w data-h="Plate" { (row.car.plate) }
                @if desk.sees_customers() { td data-h="Owner" { (row.customer) } }
                td data-h="Stands at" { @if row.open { (row.stage.title()) } @else { span.quiet { (row.stage.title()) } } }
                td.n data-h="Promised" { @if let Some(at) = row.promised { (layout::moment(&desk.words, now, at)) } }
                td data-h="Note" { (row.note) }
                td.n data-h="Job" { (row.car.id) }
            } } }
        }
    }
}

/// Rows of the list that carry a drawing.
const DRAWN: usize = 24;

fn sketch(style: &str, id: &str) -> Markup {
    match Style::from_name(style) {
        Some(style) => layout::drawing(car_mini(
            Body::of(style),
            Body::of(style).label(),
            &BTreeMap::new(),
            false,
            Medium::Page { id },
        )),
        None => html! {},
    }
}

const FILM: [(&str, &str); 5] = [
    ("none", "No film"),
    ("front", "Front: bumper, hood, fenders, mirrors, lamps"),
    ("front_and_sides", "Front and sides: doors, sills and behind the wheels too"),
    ("whole", "Whole car: every painted panel"),
    ("panels", "Just the panels below"),
];

const FINISHES: [(&str, Finish); 4] = [
    ("clean", Finish::Clean),
    ("gloss", Finish::Gloss),
    ("corrected", Finish::Corrected),
    ("best", Finish::Best),
];

const DRIVES: [(&str, &str); 3] = [
    ("combustion", "Combustion engine"),
    ("hybrid", "Hybrid, high voltage"),
    ("electric", "Electric, high voltage"),
];

const PAINTS: [(&str, &str); 3] = [
    ("clear", "Glossy clear coat"),
    ("single_stage", "Single stage: color and gloss in one layer"),
    ("matte", "Matte or satin: never polished by machine"),
];

async fn new(desk: Desk) -> Html<String> {
    Html(page(&desk, &Returned::none()).into_string())
}

fn page(desk: &Desk, returned: &Returned) -> Markup {
    let typed = returned.or(Typed::new("book")
        .with("drive", "combustion")
        .with("paint", "clear")
        .with("film", "none")
        .with("finish", "clean"));
    let body = html! {
        (layout::head("Book a car", html! { "Only body style and plate must be filled; the rest can follow." }, html! {}))
        (returned.refusal("book"))
        (form::form("/cars/new", &typed, html! {
            section { h2 { "The car" } (car_fields(&typed)) }
            section { h2 { "Its owner" } (owner_fields(&typed)) }
            section { h2 { "What is wanted" } (order_fields(&typed)) }
            section { h2 { "When" } (time_fields(&typed, desk)) }
            div.acts.last { button.main { "Book the car" } a.btn href="/cars" { "Back to the cars" } }
        }))
    };
    layout::page(desk, Room::Cars, "Book a car", body)
}

fn car_fields(typed: &Typed) -> Markup {
    html! {
        fieldset.field.broad {
            legend { "Body style" }
            div.styles { @for style in Style::ALL {
                label.style {
                    input type="radio" name="body" value=(style.name()) checked[typed.get("body") == style.name()] required;
                    (sketch(style.name(), style.name()))
                    span { (style_name(style)) }
                }
            } }
        }
        div.fields {
            (typed.field("plate", "Plate").hint("or a name that tells it apart").required())
            (typed.field("name", "Called").hint("what people in the shop say, such as “green estate”"))
            (typed.field("color", "Color"))
            (typed.field("year", "Model year").numeric())
            (typed.field("vin", "Identification number"))
            (typed.select("drive", "Drive", &DRIVES))
            (typed.select("paint", "Paint", &PAINTS))
            div.field { (typed.tick("history_known", "All earlier correction of this paint is known")) }
            (typed.area("car_note", "Note on the car", "", 2))
        }
    }
}

fn owner_fields(typed: &Typed) -> Markup {
    html! {
        div.fields {
            (typed.field("customer", "Name"))
            (typed.field("phone", "Telephone").kind("tel"))
            (typed.field("email", "Mail").kind("email"))
            (typed.area("customer_note", "Note on the owner", "", 2))
        }
    }
}

fn order_fields(typed: &Typed) -> Markup {
    let panels = painted_panels();
    let mut remove = panels.clone();
    remove.insert(0, (WHOLE_CAR.to_owned(), "The whole car".to_owned()));
    let finishes = FINISHES.map(|(name, finish)| (name, capital(finish.title())));
    let coatings = CoatTarget::ALL.map(|c| (c.title(), capital(c.title())));
    html! {
        div.fields {
            (typed.choice("film", "Film", &FILM))
            details.fold.broad open[typed.all("panels").next().is_some() || typed.get("film") == "panels"] {
                summary { "Just these panels" }
                (typed.ticks("panels", "Counts when “Just the panels below” is chosen. A body has only some of them.", &panels))
            }
            (typed.choice("finish", "Paint correction", &finishes))
            (typed.ticks("coatings", "Coating on", &coatings))
            details.fold.broad open[typed.all("remove").next().is_some()] {
                summary { "Old film to take off first" }
                (typed.ticks("remove", "From", &remove))
            }
            div.field.broad { (typed.tick("interior", "Clean the interior")) }
            (typed.area("order_note", "In the customer's words", "", 2))
        }
    }
}

fn time_fields(typed: &Typed, desk: &Desk) -> Markup {
    let zone = format!("On the shop's clock: {}.", desk.shop.settings.time_zone);
    html! {
        p.quiet { (zone) }
        div.fields {
            (typed.field("expected", "Expected here").kind("datetime-local"))
            (typed.field("promised", "Promised back").kind("datetime-local").hint("leave empty until the plan says when"))
        }
    }
}

/// Painted panels of all body styles, each once, by name.
fn painted_panels() -> Vec<(String, String)> {
    let all: BTreeMap<&str, &str> = Style::ALL
        .into_iter()
        .flat_map(|s| Body::of(s).panels())
        .filter(|p| matches!(p.kind, PanelKind::Paint | PanelKind::Lamp))
        .map(|p| (p.title, p.id))
        .collect();
    all.into_iter().map(|(title, id)| (id.to_owned(), title.to_owned())).collect()
}

async fn book(desk: Desk, typed: Typed) -> Response {
    let mut typed = typed.named("book");
    let new = read(&mut typed, &desk);
    let answer = match typed.sound() {
        Err(refusal) => Err(refusal),
        Ok(()) => {
            let save = move |studio: &studio::Studio, stamp: &studio::Stamp| {
                let id = studio.book(stamp, new)?;
                Ok(format!("/cars/{}", layout::segment(id.as_str())))
            };
            desk.save(&typed, save).await
        }
    };
    answer.unwrap_or_else(|refusal| {
        let returned = Returned::refused(typed, refusal);
        (returned.status(), Html(page(&desk, &returned).into_string())).into_response()
    })
}

fn read(typed: &mut Typed, desk: &Desk) -> NewJob {
    let year = typed.whole("year").and_then(|y| {
        let year = u16::try_from(y).ok().filter(|y| (1885..=2100).contains(y));
        if year.is_none() {
            typed.complain("year", "Enter a year with four digits.");
        }
        year
    });
    let car = Car {
        plate: typed.required("plate"),
        name: typed.text("name"),
        body: typed.text("body"),
        color: typed.text("color"),
        paint: typed
            .one_of(
                "paint",
                &[
                    ("clear", PaintFinish::Clear),
                    ("single_stage", PaintFinish::SingleStage),
                    ("matte", PaintFinish::Matte),
                ],
            )
            .unwrap_or_default(),
        drive: typed
            .one_of(
                "drive",
                &[
                    ("combustion", Drive::Combustion),
                    ("hybrid", Drive::Hybrid),
                    ("electric", Drive::Electric),
                ],
            )
            .unwrap_or_default(),
        year,
        vin: typed.some("vin"),
        materials: BTreeMap::new(),
        history_known: typed.on("history_known"),
        note: typed.text("car_note"),
    };
    let customer = Customer {
        name: typed.text("customer"),
        phone: typed.text("phone"),
        email: typed.text("email"),
        note: typed.text("customer_note"),
    };
    let order = Order {
        film: coverage(typed),
        finish: typed.one_of("finish", &FINISHES).unwrap_or_default(),
        coatings: coatings(typed),
        remove_film: typed.all("remove").map(PanelId::from).collect(),
        interior: typed.on("interior"),
        note: typed.text("order_note"),
    };
    NewJob {
        car,
        customer,
        order,
        promised: typed.moment("promised", desk.zone()),
        expected: typed.moment("expected", desk.zone()),
    }
}

fn coverage(typed: &mut Typed) -> Coverage {
    match typed.get("film") {
        "none" => Coverage::None,
        "front" => Coverage::Front,
        "front_and_sides" => Coverage::FrontAndSides,
        "whole" => Coverage::Whole,
        "panels" => {
            let panels: Vec<PanelId> = typed.all("panels").map(PanelId::from).collect();
            if panels.is_empty() {
                typed.complain("panels", "Choose at least one panel, or another coverage.");
            }
            Coverage::Panels(panels)
        }
        _ => {
            typed.complain("film", "Choose one of these.");
            Coverage::None
        }
    }
}

fn coatings(typed: &mut Typed) -> BTreeSet<CoatTarget> {
    let named: Vec<Option<CoatTarget>> =
        typed.all("coatings").map(|v| CoatTarget::ALL.into_iter().find(|c| c.title() == v)).collect();
    if named.iter().any(Option::is_none) {
        typed.complain("coatings", "Choose from these.");
    }
    named.into_iter().flatten().collect()
}

/// A body style as people write it.
fn style_name(style: Style) -> String {
    if style == Style::Suv { "SUV".to_owned() } else { capital(style.name()) }
}

/// A first letter for the beginning of a line.
fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}
