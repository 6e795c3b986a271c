//! The day board: what is late, what stands in which bay, what is next, who waits, what cures.

use super::fault::Fault;
use super::form::{self, Returned, Typed};
use super::layout::{self, Room};
use super::shell::{Desk, Shell};
use axum::Router;
use axum::extract::Query;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::{get, post};
use body::{Body, Style};
use jiff::{SignedDuration, Timestamp};
use job::{AirReading, JobId, PanelId, Stage, StepNo, StepState};
use maud::{Markup, html};
use report::drawing::{Hatch, Medium, car_mini};
use report::sketch;
use serde::Deserialize;
use studio::command::Finished;
use studio::view::{BayNow, CarTag, DayView, NextRow, StepNow};
use studio::{Refusal, Stamp, Studio};

/// Routes of the board.
pub fn routes() -> Router<Shell> {
    Router::new().route("/", get(board)).route("/day/step", post(step)).route("/day/air", post(air))
}

#[derive(Deserialize)]
struct Said {
    undo: Option<String>,
}

async fn board(desk: Desk, Query(said): Query<Said>) -> Result<Response, Fault> {
    page(&desk, &Returned::none(), said.undo.as_deref()).await
}

/// What the page needs beside the view: panels that running steps are about, work that goes on in no bay (a drive, the
/// desk), and the step just finished.
struct Beside {
    panels: Vec<Vec<PanelId>>,
    elsewhere: Vec<(CarTag, StepNow)>,
    undo: Option<(CarTag, StepNo, String)>,
}

async fn page(desk: &Desk, returned: &Returned, undo: Option<&str>) -> Result<Response, Fault> {
    let undo =
        undo.and_then(|u| u.split_once('.')).map(|(id, no)| (JobId(id.to_owned()), no.parse().map(StepNo)));
    let (view, beside) = desk
        .ask(move |studio| {
            let view = studio.day_view()?;
            let panels = view.bays.iter().map(|b| panels_of(studio, b)).collect();
            let undo = match undo {
                Some((id, Ok(no))) => just_finished(studio, &id, no),
                _ => None,
            };
            let elsewhere = elsewhere(studio, &view)?;
            Ok((view, Beside { panels, elsewhere, undo }))
        })
        .await?;
    let body = html! { div data-live { (content(desk, &view, &beside, returned)) } };
    let title = desk.words.times.heading(desk.words.times.day_of(view.now));
    Ok((returned.status(), Html(layout::page(desk, Room::Day, &title, returned.above(body)).into_string()))
        .into_response())
}

fn panels_of(studio: &Studio, bay: &BayNow) -> Vec<PanelId> {
    let Some((car, step)) = bay.car.as_ref().zip(bay.step.as_ref()) else { return Vec::new() };
    let planned = studio.job(&car.id).ok().and_then(|e| e.job.planned(step.no).map(|p| p.panels.clone()));
    planned.unwrap_or_default()
}

/// Steps that somebody is at, or left, and that stand in no bay.
fn elsewhere(studio: &Studio, view: &DayView) -> Result<Vec<(CarTag, StepNow)>, Refusal> {
    let shop = studio.shop()?;
    let mut rows = Vec::new();
    for entry in studio.open_jobs()? {
        for (no, record) in &entry.job.work {
            let running = record.state == StepState::Running;
            let shown = view.bays.iter().any(|b| {
                b.car.as_ref().is_some_and(|c| c.id == entry.id)
                    && b.step.as_ref().is_some_and(|s| s.no == *no)
            });
            let Some(span) =
                record.spans.last().filter(|_| (running || record.state == StepState::Paused) && !shown)
            else {
                continue;
            };
            let booked = shop.plan.iter().find(|b| b.job == entry.id && b.step == *no).map(|b| b.to);
            let worked = SignedDuration::from_secs((record.planned.work.as_seconds()) as i64);
            rows.push((
                CarTag::of(&entry.id, &entry.job),
                StepNow {
                    no: *no,
                    title: record.planned.title.clone(),
                    who: vec![span.by.clone()],
                    since: span.from,
                    until: booked.or_else(|| span.from.checked_add(worked).ok()).unwrap_or(span.from),
                    running,
                },
            ));
        }
    }
    Ok(rows)
}

fn just_finished(studio: &Studio, id: &JobId, no: StepNo) -> Option<(CarTag, StepNo, String)> {
    let entry = studio.job(id).ok()?;
    let record = entry.job.work.get(&no)?;
    (record.state == StepState::Done).then(|| (CarTag::of(id, &entry.job), no, record.planned.title.clone()))
}

fn content(desk: &Desk, view: &DayView, beside: &Beside, returned: &Returned) -> Markup {
    let words = &desk.words;
    let title = desk.words.times.heading(desk.words.times.day_of(view.now));
    let people = match view.people.as_slice() {
        [] => "Nobody is in.".to_owned(),
        list => format!("In today: {}.", list.join(", ")),
    };
    html! {
        (layout::head(
            &title,
            html! { (view.shift) " Now " (words.clock(view.now)) ". " (people) },
            html! { a.btn href="/cars/new" { "Book a car" } },
        ))
        (returned.refusal("step"))
        @if let Some((car, no, what)) = &beside.undo {
            (layout::note_with(
                html! { p role="status" { b { (car.name) } ": finished “" (what) "”." } },
                form::button("/day/step", &[("job", car.id.as_str()), ("no", &no.to_string()), ("act", "undo")], false, "Undo"),
            ))
        }
        @if let Some(why) = &view.unsound {
            (layout::note_with(html! { p { (why) } }, html! { a.btn href="/calendar/again" { "Plan again" } }))
        }
        @for note in &view.late {
            (layout::note_with(
                html! {
                    p { (layout::late(&note.by)) " " b { (layout::car_link(&note.car)) } ". " (note.what) }
                    p.small.quiet { (note.way_on) }
                },
                html! { a.btn href="/calendar/again" { "Show a new plan" } },
            ))
        }
        section aria-labelledby="bays" {
            h2 #bays { "Bays" }
            @if view.bays.is_empty() {
                (layout::empty(html! { p { "No bays yet. " a href="/shop#bays" { "Enter the bays of the shop" } "; they show here with what stands in them." } }))
            }
            div.bays {
                @for (i, (bay, panels)) in view.bays.iter().zip(&beside.panels).enumerate() {
                    (card(desk, view.now, bay, panels, i, returned))
                }
            }
            @if !beside.elsewhere.is_empty() {
                h3.also { "Also begun, in no bay" }
                div.bays { @for (i, (car, step)) in beside.elsewhere.iter().enumerate() {
                    article.card.now[step.running] {
                        a.bodybox href=(layout::car_path(car)) aria-label=(car.name) { (mini(car, &[], &format!("also{i}"))) }
                        p { b { (layout::car_link(car)) } br; (step.title) }
                        (at_it(desk, view.now, car, step))
                    }
                } }
            }
            @if beside.panels.iter().any(|p| !p.is_empty()) {
                (layout::key("day", &[(Hatch::Film, "panels that this step is about")]))
            }
        }
        section aria-labelledby="next" {
            h2 #next { "What is next" }
            (next(desk, view))
        }
        div.even {
            (waiting(desk, view))
            (curing(desk, view))
        }
        @if desk.sees_customers() { (remind(desk, view)) }
        (expected(view))
    }
}

fn card(
    desk: &Desk,
    now: Timestamp,
    bay: &BayNow,
    panels: &[PanelId],
    index: usize,
    returned: &Returned,
) -> Markup {
    let words = &desk.words;
    html! {
        article.card.now[bay.step.as_ref().is_some_and(|s| s.running)] id={ "bay-" (index) } {
            header { h3 { (bay.bay) } span.small.quiet {
                @if bay.air.is_empty() { (bay.kinds) } @else { (layout::tag(&bay.air)) }
            } }
            @match &bay.car {
                Some(car) => {
                    a.bodybox href=(layout::car_path(car)) aria-label=(car.name) { (mini(car, panels, &format!("bay{index}"))) }
                    p { b { (layout::car_link(car)) } @if let Some(step) = &bay.step { br; (step.title) } }
                    @if let Some(step) = &bay.step { (at_it(desk, now, car, step)) }
                }
                None => (layout::empty(html! { p { "Nothing stands here." } })),
            }
            @if let Some(warning) = &bay.warning { p.small { (layout::late("Air")) " " (words.told(warning)) } }
            @if !bay.climate.is_empty() { (layout::figures(words, &bay.climate)) }
            (air_form(desk, bay, index, returned))
            p.foot.small { (bay.then) }
        }
    }
}

/// A car's side, small, with the panels that a step is about.
fn mini(car: &CarTag, panels: &[PanelId], id: &str) -> Markup {
    let body = Body::of(Style::from_name(&car.body).unwrap_or(Style::Saloon));
    let hatched = sketch::hatched(panels, Hatch::Film);
    layout::drawing(car_mini(body, &format!("{}, side", car.name), &hatched, false, Medium::Page { id }))
}

fn at_it(desk: &Desk, now: Timestamp, car: &CarTag, step: &StepNow) -> Markup {
    let words = &desk.words;
    html! {
        dl.facts.three {
            div { dt { "Who" } dd { (step.who.join(", ")) } }
            div { dt { @if step.running { "Since" } @else { "Planned" } } dd { (layout::clock(words, now, step.since)) } }
            div { dt { "Done about" } dd { (layout::clock(words, now, step.until)) } }
        }
        div.acts {
            @if step.running {
                (act(car, step.no, "finish", "Finish"))
                (act(car, step.no, "pause", "Pause"))
            } @else {
                (act(car, step.no, "start", "Start"))
            }
            a.btn.slim href=(step_path(car, step.no)) { "Step card" }
        }
    }
}

/// Where a step has its card.
fn step_path(car: &CarTag, no: StepNo) -> String {
    format!("{}/step/{no}", layout::car_path(car))
}

fn act(car: &CarTag, no: StepNo, act: &str, words: &str) -> Markup {
    form::button(
        "/day/step",
        &[("job", car.id.as_str()), ("no", &no.to_string()), ("act", act)],
        false,
        words,
    )
}

fn air_form(desk: &Desk, bay: &BayNow, index: usize, returned: &Returned) -> Markup {
    let name = format!("air{index}");
    let typed = returned.or(Typed::new(&name));
    let unit = desk.scale.temperature();
    html! {
        details.fold open[returned.is(&name)] {
            summary { "Enter the air measured here" }
            (returned.refusal(&name))
            (form::form("/day/air", &typed, html! {
                input type="hidden" name="bay" value=(bay.bay);
                input type="hidden" name="index" value=(index);
                div.fields.tight {
                    (typed.field("air", "Air").unit(unit).required())
                    (typed.field("surface", "Surface").unit(unit).hint("of the car, if measured"))
                    (typed.field("humidity", "Humidity").unit("%").required())
                }
                div.acts { button { "Save the reading" } }
            }))
        }
    }
}

fn next(desk: &Desk, view: &DayView) -> Markup {
    if view.next.is_empty() {
        return layout::empty(html! {
            p { "Nothing is planned. Steps show here when a route is set and " a href="/calendar/again" { "a plan is kept" } "." }
        });
    }
    html! {
        table.fold.flow {
            thead { tr { th { "Start" } th { "Car" } th { "Step" } th { "Where" } th { "Who" } th.n { "Time" } th { "Needs first" } th { span.unseen { "Do" } } } }
            tbody { @for row in &view.next { (next_row(desk, view.now, row)) } }
        }
    }
}

fn next_row(desk: &Desk, now: Timestamp, row: &NextRow) -> Markup {
    html! {
        tr {
            td data-h="Start" { (layout::clock(&desk.words, now, row.start)) }
            th scope="row" { (layout::car_link(&row.car)) }
            td.lead data-h="Step" { a href=(step_path(&row.car, row.no)) { (row.title) } }
            td.w data-h="Where" { (row.bay) }
            td data-h="Who" { (row.who.join(", ")) }
            td.n data-h="Time" { (layout::duration(&desk.words, row.work)) }
            td.all.say data-h="Needs first" { @if row.ready { span.quiet { "nothing: ready" } } @else { (row.needs) } }
            td data-h="" { @if row.ready { (act(&row.car, row.no, "start", "Start")) } }
        }
    }
}

fn waiting(desk: &Desk, view: &DayView) -> Markup {
    html! {
        section aria-labelledby="waiting" {
            h2 #waiting { "Waiting for an answer" }
            @if view.waiting.is_empty() {
                (layout::empty(html! { p { "Nobody waits. Offers, change orders and unsigned records show here." } }))
            } @else {
                table.fold {
                    thead { tr { th { "Car" } th { "Question" } th.n { "Since" } } }
                    tbody { @for row in &view.waiting { tr {
                        th scope="row" { (layout::car_link(&row.car)) }
                        td data-h="Question" { (row.question) }
                        td.n data-h="Since" { (layout::moment(&desk.words, view.now, row.since)) }
                    } } }
                }
            }
        }
    }
}

fn curing(desk: &Desk, view: &DayView) -> Markup {
    html! {
        section aria-labelledby="curing" {
            h2 #curing { "Curing and resting" }
            @if view.curing.is_empty() {
                (layout::empty(html! { p { "Nothing cures or rests now." } }))
            } @else {
                table.fold {
                    thead { tr { th { "Car" } th { "What" } th.n { "Until" } } }
                    tbody { @for row in &view.curing { tr {
                        th scope="row" { (layout::car_link(&row.car)) }
                        td data-h="What" { (row.what) }
                        td.n data-h="Until" { (layout::moment(&desk.words, view.now, row.until)) }
                    } } }
                }
            }
        }
    }
}

/// Customers to be reminded: only people send messages, so each leads to its draft.
fn remind(desk: &Desk, view: &DayView) -> Markup {
    html! {
        @if !view.remind.is_empty() {
            section aria-labelledby="remind" {
                h2 #remind { "To be reminded" }
                table.fold {
                    thead { tr { th { "Car" } th { "About" } th.n { "Since" } th { span.unseen { "Do" } } } }
                    tbody { @for row in &view.remind { tr {
                        th scope="row" { (layout::car_link(&row.car)) }
                        td data-h="About" { (row.title) }
                        td.n data-h="Since" { (desk.words.times.short(row.due)) }
                        td data-h="" { a.act href={ (layout::stage_path(&row.car, Stage::Visits)) "#reminder-" (row.about) } { "Draft" span.unseen { " for " (row.car.name) ", " (row.title) } } }
                    } } }
                }
            }
        }
    }
}

fn expected(view: &DayView) -> Markup {
    html! {
        @if !view.expected.is_empty() {
            section aria-labelledby="expected" {
                h2 #expected { "Expected, or not in the plan yet" }
                ul.cars {
                    @for (i, car) in view.expected.iter().enumerate() {
                        li { a.carcard href=(layout::stage_path(car, Stage::Arrival)) {
                            (mini(car, &[], &format!("exp{i}"))) b { (car.name) } span.small.quiet { (car.plate) }
                        } }
                    }
                }
            }
        }
    }
}

async fn step(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let typed = typed.named("step");
    let who = desk.who.clone();
    let form = typed.clone();
    let answer = desk.save(&typed, move |studio, stamp| act_on(studio, stamp, who.as_deref(), &form)).await;
    match answer {
        Ok(response) => Ok(response),
        Err(refusal) => page(&desk, &Returned::refused(typed, refusal), None).await,
    }
}

fn act_on(studio: &Studio, stamp: &Stamp, who: Option<&str>, form: &Typed) -> Result<String, Refusal> {
    let id = JobId(form.get("job").to_owned());
    let no = form.get("no").parse().map(StepNo).map_err(|_| {
        Refusal::invalid(format!("'{}' is no step", form.get("no")), "Use the buttons of the board.")
    })?;
    let someone = || {
        who.map(|_| ()).ok_or_else(|| {
            Refusal::not_yet(
                "Nobody is named yet",
                "Tap “Who is at it?” at the top, then start the step again.",
            )
        })
    };
    match form.get("act") {
        "start" => {
            someone()?;
            studio.start_step(&id, stamp, no)?;
        }
        "pause" => {
            studio.pause_step(&id, stamp, no)?;
        }
        "finish" => {
            someone()?;
            let view = studio.step_view(&id, no)?;
            if view.wanted.iter().any(|w| w.starts_with("Check: ")) && view.state == StepState::Running {
                return Err(Refusal::not_yet(
                    format!("'{}' ends with checks that somebody signs for", view.planned.title),
                    "Open its card and tick what was looked at.",
                ));
            }
            studio.finish_step(&id, stamp, no, &Finished::default())?;
            return Ok(format!("/?undo={}.{no}", layout::segment(id.as_str())));
        }
        "undo" => {
            studio.undo_step(&id, stamp, no)?;
        }
        other => {
            return Err(Refusal::invalid(
                format!("A step cannot be '{other}'"),
                "Use the buttons of the board.",
            ));
        }
    }
    Ok("/".to_owned())
}

async fn air(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let index: usize = typed.get("index").parse().unwrap_or(0);
    let mut typed = typed.named(&format!("air{index}"));
    let scale = desk.scale;
    let reading = AirReading {
        bay: typed.text("bay"),
        at: Timestamp::UNIX_EPOCH,
        air: scale.temperature_from(typed.needed("air")),
        surface: typed.number("surface").map(|n| scale.temperature_from(n)),
        humidity_percent: typed.within("humidity", 1.0, 100.0),
    };
    let answer = match typed.sound() {
        Err(refusal) => Err(refusal),
        Ok(()) => {
            let save = move |studio: &Studio, stamp: &Stamp| {
                studio.read_air(stamp, &reading)?;
                Ok(format!("/#bay-{index}"))
            };
            desk.save(&typed, save).await
        }
    };
    match answer {
        Ok(response) => Ok(response),
        Err(refusal) => page(&desk, &Returned::refused(typed, refusal), None).await,
    }
}
