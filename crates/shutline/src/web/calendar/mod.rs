//! The calendar: bays, air and people over days; planning again, and keeping a plan.

mod change;
mod when;

use super::assets;
use super::fault::Fault;
use super::form::{self, Typed};
use super::layout::{self, Room};
use super::shell::{Desk, Shell};
use axum::Router;
use axum::extract::{Path, Query};
use axum::http::header;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::{get, post};
use jiff::{Timestamp, ToSpan, civil::Date};
use job::{Booking, JobId, StepNo};
use maud::{Markup, html};
use report::drawing::{Hatch, Medium, calendar as draw};
use report::sketch;
use report::words::Words;
use serde::Deserialize;
use std::collections::BTreeMap;
use studio::ics::Whose;
use studio::view::{CalendarView, CarTag, LaneKind, Stretch, StretchKind};
use studio::{Refusal, Stamp, Studio, Times};

/// Routes of the calendar.
pub fn routes() -> Router<Shell> {
    Router::new()
        .route("/calendar", get(known))
        .route("/calendar/again", get(again))
        .route("/calendar/keep", post(keep))
        .route("/calendar/pin", post(pin))
        .route("/calendar/step/{job}/{no}", get(change::sheet))
        .route("/calendar/try", get(change::look))
        .route("/calendar/change", post(change::keep))
        .route("/calendar/slip", post(change::slip))
        .route("/calendar/when", get(when::page))
        .route("/calendar/bay/{file}", get(bay_file))
        .route("/calendar/person/{file}", get(person_file))
}

/// Days shown at once.
const DAYS: i32 = 7;

/// Width of the drawing, px; wider than a phone, where it scrolls in its frame.
const WIDTH: f64 = 1220.0;

#[derive(Deserialize)]
struct From {
    from: Option<String>,
    days: Option<String>,
}

impl From {
    /// The first day asked for; today when none is, or when it is no day.
    fn date(&self) -> Option<Date> {
        let date: Date = self.from.as_deref()?.parse().ok()?;
        (1970..=2200).contains(&date.year()).then_some(date)
    }

    /// Days asked for: one, or a week.
    fn days(&self) -> i32 {
        if self.days.as_deref() == Some("1") { 1 } else { DAYS }
    }
}

async fn known(desk: Desk, Query(from): Query<From>) -> Result<Html<String>, Fault> {
    let (date, days) = (from.date(), from.days());
    let view = desk.ask(move |s| s.calendar_view(date, days, true)).await?;
    let body = html! {
        (layout::head(
            &title(&view, &desk.words.times),
            html! { (view.quality) @if let Some(at) = desk.shop.planned { " Kept " (layout::moment(&desk.words, view.now, at)) "." } },
            html! { (steps_in_time("/calendar", &view)) a.btn href="/calendar/when" { "When could a new car be ready?" } a.btn.main href="/calendar/again" { "Plan again" } },
        ))
        script type="module" src=(assets::url("plan.js")) {}
        div data-live {
            @if let Some(problem) = &view.problem { (layout::note(html! { p { (problem) } })) }
            (in_two_places(&desk, &view))
            (drawing(&view, &desk.words))
            section aria-labelledby="promises" { h2 #promises { "Promises" } (promises(&desk, &view, None)) }
            section aria-labelledby="words" { h2 #words { "These days in words" } (in_words(&desk, &view)) }
        }
        (files(&desk))
    };
    Ok(Html(layout::page(&desk, Room::Calendar, "Calendar", body).into_string()))
}

async fn again(desk: Desk, Query(from): Query<From>) -> Result<Html<String>, Fault> {
    let (date, days) = (from.date(), from.days());
    let (view, before) = desk
        .ask(move |s| Ok((s.calendar_view(date, days, false)?, s.calendar_view(date, days, true)?)))
        .await?;
    let sound = view.problem.is_none();
    let typed = Typed::new("keep");
    let body = html! {
        (layout::head(
            "The plan as it would be",
            html! { "Nobody knows this plan until it is kept. " (view.quality) },
            html! { (steps_in_time("/calendar/again", &view)) a.btn href="/calendar" { "Leave the plan as it is" } },
        ))
        (before_and_after(&desk, &before, &view))
        @if sound {
            (form::form("/calendar/keep", &typed, html! {
                div.acts.last { button.main { "Keep this plan" } }
            }))
        }
        section { (in_two_places(&desk, &view)) (drawing(&view, &desk.words)) }
        section aria-labelledby="words" { h2 #words { "These days in words" } (in_words(&desk, &view)) }
    };
    Ok(Html(layout::page(&desk, Room::Calendar, "Plan again", body).into_string()))
}

/// Says loudly who is in two places at once.
fn in_two_places(desk: &Desk, view: &CalendarView) -> Markup {
    html! {
        @for clash in &view.clashes {
            div.note {
                p {
                    (layout::late("Two places at once")) " "
                    b { (clash.who) } ", " (desk.words.span(clash.from, clash.to)) ": "
                    (clash.what[0]) "; and " (clash.what[1]) "."
                }
                p { @if clash.begun { "Both are under way. Pause one, or let somebody else go on with it." }
                    @else { "Plan again, or move one of them." } }
            }
        }
    }
}

/// What a plan that nobody knows yet would change: why there is none, what moves, and every promise before and after.
fn before_and_after(desk: &Desk, before: &CalendarView, view: &CalendarView) -> Markup {
    html! {
        @if let Some(problem) = &view.problem {
            div.note { p { b { "There is no plan that holds everything." } } p { (problem) } }
        }
        section aria-labelledby="promises" {
            h2 #promises { "Promises, before and after" }
            (promises(desk, before, Some(view)))
        }
        section aria-labelledby="moves" {
            h2 #moves { "What moves" }
            @if view.moves.is_empty() {
                (layout::empty(html! { p { "Nothing moves against the plan that people know." } }))
            } @else {
                p { (moved(view)) }
                ul.plain { @for line in &view.moves { li { (line) } } }
            }
        }
    }
}

fn moved(view: &CalendarView) -> String {
    match view.moves.len() {
        1 => "One step moves.".to_owned(),
        n => format!("{n} steps move."),
    }
}

fn title(view: &CalendarView, times: &Times) -> String {
    if view.days == 1 {
        return times.heading(view.from);
    }
    let last = view.from.checked_add((view.days - 1).days()).unwrap_or(view.from);
    times.days(view.from, last)
}

fn steps_in_time(path: &str, view: &CalendarView) -> Markup {
    let one = if view.days == 1 { "&days=1" } else { "" };
    let to = |days: i32| view.from.checked_add(days.days()).map(|d| format!("{path}?from={d}{one}"));
    let today = if view.days == 1 { format!("{path}?days=1") } else { path.to_owned() };
    html! {
        @if let Ok(earlier) = to(-view.days) { a.btn href=(earlier) { "Earlier" } }
        a.btn href=(today) { "Today" }
        @if let Ok(later) = to(view.days) { a.btn href=(later) { "Later" } }
        @if view.days == 1 { a.btn href={ (path) "?from=" (view.from) } { "Week" } }
        @else { a.btn href={ (path) "?from=" (view.from) "&days=1" } { "Day by day" } }
    }
}

fn drawing(view: &CalendarView, words: &Words) -> Markup {
    let link = |id: &str, no: u32| {
        let id = layout::segment(id);
        Some(if view.kept { format!("/calendar/step/{id}/{no}") } else { format!("/cars/{id}/step/{no}") })
    };
    let drawn = draw(&sketch::calendar(view, WIDTH, words, link), Medium::Page { id: "cal" });
    html! {
        div data-first=[view.kept.then_some(view.from)] {
            (layout::wide_drawing("Calendar: bays, air and people over days. The same stands below in words.", drawn))
        }
        (layout::key("cal", &[
            (Hatch::Cure, "cures or rests, nobody needed; runs through the night"),
            (Hatch::Dust, "dusty air: no film"),
        ]))
        @if view.kept { p.small.quiet.onscreen { "Tap an entry to move, swap or pin it, or to say that it takes longer. With a finger or mouse, drag it along or to another bay; onto another entry they change places. Nothing is kept before you have seen what it does." } }
        p.small.quiet { "Plain: work, or clean air. Nights and closed days are squeezed and tinted. Heavy frame: ends after its promise." }
    }
}

/// Promises with the planned end, or with the end before and after.
fn promises(desk: &Desk, view: &CalendarView, after: Option<&CalendarView>) -> Markup {
    if view.promises.is_empty() {
        return layout::empty(html! { p { "No job is open. " a href="/cars/new" { "Book a car" } "." } });
    }
    let words = &desk.words;
    let day = |at: Option<Timestamp>| html! { @match at { Some(at) => (layout::moment(words, view.now, at)), None => span.quiet { "none" } } };
    html! {
        table.fold {
            thead { tr {
                th { "Car" } th.n { "Promised" }
                th.n { @if after.is_some() { "Ready, known plan" } @else { "Ready" } }
                @if after.is_some() { th.n { "Ready, this plan" } }
                th { "Late" }
            } }
            tbody { @for (car, promised, end, late) in &view.promises {
                @let new = after.and_then(|a| a.promises.iter().find(|p| p.0.id == car.id));
                @let late = new.map_or(late, |n| &n.3);
                tr {
                    th scope="row" { (layout::car_link(car)) }
                    td.n data-h="Promised" { (day(*promised)) }
                    td.n data-h="Ready" { (day(*end)) }
                    @if after.is_some() { td.n data-h="Ready, this plan" { (day(new.and_then(|n| n.2))) } }
                    td data-h="Late" { @match late {
                        Some(by) => (layout::late(&format!("{by} late"))),
                        None if promised.is_some() => "no",
                        None => span.quiet { "nothing promised" },
                    } }
                }
            } }
        }
    }
}

/// One line of the days in words.
struct Line<'a> {
    stretch: &'a Stretch,
    bay: &'a str,
    people: Vec<&'a str>,
}

fn in_words(desk: &Desk, view: &CalendarView) -> Markup {
    let first = view.hours.first().map(|h| h.0);
    let last = view.hours.last().map(|h| h.0);
    let day = |at: Timestamp| at.to_zoned_datetime(view.zone.clone()).date();
    let shown = |s: &Stretch| first.is_some_and(|f| day(s.to) >= f) && last.is_some_and(|l| day(s.from) <= l);
    let mut lines: BTreeMap<(Timestamp, &str, u32, bool), Line<'_>> = BTreeMap::new();
    for lane in view.lanes.iter().filter(|l| l.kind != LaneKind::Air) {
        for stretch in lane.stretches.iter().filter(|s| shown(s)) {
            let id = stretch.car.as_ref().map_or("", |c| c.id.as_str());
            let rest = stretch.kind == StretchKind::Rest;
            let line = lines
                .entry((stretch.from, id, stretch.step.map_or(0, |s| s.0), rest))
                .or_insert_with(|| Line { stretch, bay: "", people: Vec::new() });
            match lane.kind {
                LaneKind::Person => line.people.push(&lane.name),
                _ => line.bay = &lane.name,
            }
        }
    }
    if lines.is_empty() {
        return layout::empty(html! { p { "Nothing is planned on these days." } });
    }
    // What began before the first day shown stands on it.
    let begins = |line: &Line<'_>| first.map_or(day(line.stretch.from), |f| day(line.stretch.from).max(f));
    let mut days: BTreeMap<Date, Vec<&Line<'_>>> = BTreeMap::new();
    for line in lines.values() {
        days.entry(begins(line)).or_default().push(line);
    }
    let table = |lines: &[&Line<'_>]| {
        html! {
            table.fold.flow {
                thead { tr { th { "When" } th { "Car" } th { "What" } th { "Who" } th { "Where" } @if view.kept { th { span.unseen { "Do" } } } } }
                tbody { @for line in lines { (line_row(desk, view, line)) } }
            }
        }
    };
    html! {
        @for (i, (date, lines)) in days.iter().enumerate() {
            // one day is looked at whole, of several the first
            @if view.days == 1 { (table(lines)) }
            @else {
                details.more.paper id={ "fold-day-" (date) } open[i == 0] {
                    summary { (desk.words.times.heading(*date)) ", " (lines.len()) @if lines.len() == 1 { " entry" } @else { " entries" } }
                    div { (table(lines)) }
                }
            }
        }
    }
}

fn line_row(desk: &Desk, view: &CalendarView, line: &Line<'_>) -> Markup {
    let s = line.stretch;
    let rest = s.kind == StretchKind::Rest;
    let booking = s.car.as_ref().zip(s.step).filter(|_| view.kept && !rest).and_then(|(car, no)| {
        desk.shop.plan.iter().find(|b| b.job == car.id && b.step == no).map(|b| (car, b))
    });
    html! {
        tr {
            td data-h="When" { (desk.words.span(s.from, s.to)) }
            th scope="row" { @if let Some(car) = &s.car { (layout::car_link(car)) } }
            td.lead data-h="What" {
                @match (&s.car, s.step) {
                    (Some(car), Some(no)) if !rest && view.kept => a href=(change::path(car, no)) { (s.what) },
                    (Some(car), Some(no)) if !rest => a href={ (layout::car_path(car)) "/step/" (no) } { (s.what) },
                    _ => (s.what),
                }
                @if s.late { " " (layout::late("after its promise")) }
            }
            td data-h="Who" { @if line.people.is_empty() { span.quiet { "nobody needed" } } @else { (line.people.join(", ")) } }
            td.w data-h="Where" { (line.bay) }
            @if view.kept { td data-h="" { @if let Some((car, booking)) = booking { (pin_form(desk, car, booking)) } } }
        }
    }
}

fn pin_form(desk: &Desk, car: &CarTag, booking: &Booking) -> Markup {
    let typed = Typed::new(&format!("pin-{}-{}", car.id, booking.step))
        .with("at", form::moment_text(booking.from, desk.zone()));
    html! {
        details.fold.small-fold {
            summary { @if booking.pinned { "Pinned" } @else { "Pin" } }
            (form::form("/calendar/pin", &typed, html! {
                input type="hidden" name="job" value=(car.id);
                input type="hidden" name="step" value=(booking.step);
                (typed.field("at", "To this time").kind("datetime-local"))
                div.acts {
                    button name="act" value="pin" { "Pin it" }
                    @if booking.pinned { button name="act" value="free" { "Let it move" } }
                    a.btn href=(change::path(car, booking.step)) { "More" }
                }
            }))
        }
    }
}

fn files(desk: &Desk) -> Markup {
    let settings = &desk.shop.settings;
    html! {
        @if !settings.people.is_empty() || !settings.bays.is_empty() {
            section aria-labelledby="files" {
                h2 #files { "Calendar files" }
                p.quiet { "The plan that people know, to be read by a calendar program." }
                ul.links {
                    @for person in &settings.people { li { a href={ "/calendar/person/" (layout::segment(&person.name)) ".ics" } { (person.name) } } }
                    @for bay in &settings.bays { li { a href={ "/calendar/bay/" (layout::segment(&bay.name)) ".ics" } { (bay.name) } } }
                }
            }
        }
    }
}

async fn keep(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let keep = |studio: &Studio, stamp: &Stamp| {
        studio.keep_plan(stamp)?;
        Ok("/calendar".to_owned())
    };
    desk.save(&typed, keep).await.map_err(|r| desk.fault(r))
}

async fn pin(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let mut typed = typed.named("pin");
    let job = JobId(typed.text("job"));
    let step = typed.whole("step").map(StepNo);
    let free = typed.get("act") == "free";
    let at = typed.moment("at", desk.zone());
    if !free && at.is_none() {
        typed.complain("at", "Enter day and time.");
    }
    if let Err(refusal) = typed.sound() {
        return Err(desk.fault(refusal));
    }
    let Some(step) = step else {
        return Err(desk.fault(Refusal::invalid("No step is named", "Pin a step from the calendar's list.")));
    };
    let save = move |studio: &Studio, stamp: &Stamp| {
        studio.pin(stamp, &job, step, at.filter(|_| !free))?;
        Ok("/calendar#words".to_owned())
    };
    desk.save(&typed, save).await.map_err(|r| desk.fault(r))
}

async fn bay_file(desk: Desk, Path(file): Path<String>) -> Result<Response, Fault> {
    calendar_file(desk, &file, Whose::Bay).await
}

async fn person_file(desk: Desk, Path(file): Path<String>) -> Result<Response, Fault> {
    calendar_file(desk, &file, Whose::Person).await
}

async fn calendar_file(desk: Desk, file: &str, whose: fn(String) -> Whose) -> Result<Response, Fault> {
    let Some(name) = file.strip_suffix(".ics") else {
        return Err(
            desk.fault(Refusal::not_found("There is no such calendar file", "Calendar files end with .ics."))
        );
    };
    let whose = whose(name.to_owned());
    let text = desk.ask(move |s| s.calendar_file(&whose)).await?;
    Ok((
        [
            (header::CONTENT_TYPE, "text/calendar; charset=utf-8"),
            (header::CONTENT_DISPOSITION, "attachment; filename=\"plan.ics\""),
        ],
        text,
    )
        .into_response())
}
