//! One entry of the plan: move it, swap it, pin it, put it off, say that it takes longer; each shown before it is kept.

use super::{DAYS, before_and_after, drawing};
use crate::web::fault::Fault;
use crate::web::form::{self, Typed};
use crate::web::layout::{self, Room};
use crate::web::shell::Desk;
use axum::extract::{Path, Query};
use axum::response::{Html, Response};
use jiff::civil::Date;
use job::{Booking, JobId, StepNo, StepState};
use maud::{Markup, html};
use serde::Deserialize;
use studio::command::PlanChange;
use studio::view::{CarTag, StepView};
use studio::{Refusal, Stamp, Studio};
use units::Duration;

/// Where an entry of the plan has its page.
pub fn path(car: &CarTag, no: StepNo) -> String {
    format!("/calendar/step/{}/{no}", layout::segment(car.id.as_str()))
}

/// An entry with its car.
struct Entry {
    car: CarTag,
    step: StepView,
    booking: Option<Booking>,
    /// Other entries of the plan that have not begun, with their names.
    others: Vec<(String, String)>,
}

fn entry(studio: &Studio, id: &JobId, no: StepNo) -> Result<Entry, Refusal> {
    let shop = studio.shop()?;
    let jobs = studio.current_jobs()?;
    let booking = shop.plan.iter().find(|b| b.job == *id && b.step == no).cloned();
    let mut others = Vec::new();
    for b in shop.plan.iter().filter(|b| (&b.job, b.step) != (id, no)) {
        let Some(e) = jobs.iter().find(|e| e.id == b.job) else { continue };
        let Some(planned) = e.job.planned(b.step).filter(|_| e.job.step_state(b.step) == StepState::Todo)
        else {
            continue;
        };
        let car = CarTag::of(&e.id, &e.job).name;
        others.push((format!("{} {}", b.job, b.step), format!("{car}: {}", planned.title)));
    }
    let car = CarTag::of(id, &studio.job(id)?.job);
    Ok(Entry { car, step: studio.step_view(id, no)?, booking, others })
}

/// The page of one entry.
pub async fn sheet(desk: Desk, Path((job, no)): Path<(String, u32)>) -> Result<Html<String>, Fault> {
    let id = JobId(job);
    let found = desk.ask(move |s| entry(s, &id, StepNo(no))).await?;
    let planned = &found.step.planned;
    let lead = html! {
        (layout::car_link(&found.car)) ". "
        @match &found.booking {
            Some(b) => {
                (desk.words.span(b.from, b.to))
                @if let Some(bay) = &b.bay { ", " (bay) }
                @if !b.people.is_empty() { ", " (b.people.join(" and ")) }
                @if b.pinned { ", pinned" } "."
            }
            None => "Not in the plan that people know.",
        }
    };
    let acts = html! {
        a.btn href={ (layout::car_path(&found.car)) "/step/" (planned.no) } { "The step's card" }
        a.btn href="/calendar" { "Calendar" }
    };
    let over = matches!(found.step.state, StepState::Done | StepState::Dropped(_));
    let begun = found.step.state != StepState::Todo;
    let body = html! {
        (layout::head(&planned.title, lead, acts))
        @if over { (layout::note(html! { p { "This step is over: nothing of it can be moved." } })) }
        @else {
            @if begun { (layout::note(html! { p { "This step has begun: it stays where it is. Say here when it takes longer or shorter." } })) }
            (length(&found))
            @if let Some(booking) = found.booking.as_ref().filter(|_| !begun) {
                (to_another_time(&desk, &found, booking))
                (in_place_of_another(&found))
                (hold(&desk, &found, booking))
            }
        }
    };
    Ok(Html(layout::page(&desk, Room::Calendar, &planned.title, body).into_string()))
}

fn hidden(found: &Entry, act: &str) -> Markup {
    html! {
        input type="hidden" name="act" value=(act);
        input type="hidden" name="job" value=(found.car.id);
        input type="hidden" name="step" value=(found.step.planned.no);
    }
}

/// Longer, shorter, not today: told from the bay, planned again at once.
fn length(found: &Entry) -> Markup {
    let minutes = found.step.planned.work.as_minutes();
    let typed = Typed::new("slip").with("minutes", format!("{minutes:.0}"));
    let button = |by: f64, words: &str| {
        html! { @if minutes + by >= 5.0 { button name="to" value=(format!("{:.0}", minutes + by)) { (words) } } }
    };
    html! {
        section aria-labelledby="length" {
            h2 #length { "Takes longer or shorter" }
            p.quiet { "Planned: " (format!("{minutes:.0}")) " min of work in all. A new plan follows at once, shown before it is kept." }
            (form::form("/calendar/slip", &typed, html! {
                (hidden(found, "slip"))
                div.acts {
                    (button(-30.0, "30 min shorter"))
                    (button(30.0, "30 min longer"))
                    (button(60.0, "1 h longer"))
                    (button(120.0, "2 h longer"))
                }
                details.fold.small-fold { summary { "Another length" }
                    div.fields { (typed.field("minutes", "Work in all").numeric().unit("min")) }
                    p.acts { button name="to" value="" { "Takes this long" } }
                }
            }))
            @if found.step.state == StepState::Todo && found.booking.is_some() {
                form method="get" action="/calendar/try" {
                    (hidden(found, "not_today"))
                    p.acts { button { "Not today" } }
                }
            }
        }
    }
}

fn to_another_time(desk: &Desk, found: &Entry, booking: &Booking) -> Markup {
    let typed = Typed::new("put")
        .with("at", form::moment_text(booking.from, desk.zone()))
        .with("bay", booking.bay.clone().unwrap_or_default());
    let bays: Vec<(String, String)> = std::iter::once((String::new(), "Any that fits".to_owned()))
        .chain(desk.shop.settings.bays.iter().map(|b| (b.name.clone(), b.name.clone())))
        .collect();
    html! {
        section aria-labelledby="move" {
            h2 #move { "Move" }
            form method="get" action="/calendar/try" {
                (hidden(found, "put"))
                div.fields {
                    (typed.field("at", "To this time").kind("datetime-local"))
                    @if booking.bay.is_some() { (typed.select("bay", "Bay", &bays)) }
                }
                p.acts { button { "Show what that does" } }
            }
        }
    }
}

fn in_place_of_another(found: &Entry) -> Markup {
    let typed = Typed::new("swap");
    html! { @if !found.others.is_empty() {
        section aria-labelledby="swap" {
            h2 #swap { "Swap" }
            form method="get" action="/calendar/try" {
                (hidden(found, "swap"))
                div.fields { (typed.select("other", "With", &found.others)) }
                p.acts { button { "Show what that does" } }
            }
        }
    } }
}

fn hold(desk: &Desk, found: &Entry, booking: &Booking) -> Markup {
    let typed = Typed::new("pin").with("at", form::moment_text(booking.from, desk.zone()));
    html! {
        section aria-labelledby="hold" {
            h2 #hold { "Pin" }
            p.quiet { @if booking.pinned { "No new plan moves it before you let it." } @else { "A pinned step stays where it is in every new plan." } }
            (form::form("/calendar/pin", &typed, html! {
                input type="hidden" name="job" value=(found.car.id);
                input type="hidden" name="step" value=(booking.step);
                input type="hidden" name="at" value=(typed.get("at"));
                p.acts {
                    @if booking.pinned { button name="act" value="free" { "Let it move" } }
                    @else { button name="act" value="pin" { "Pin it here" } }
                }
            }))
        }
    }
}

/// What a form or a drag asks for.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default)]
pub struct Asked {
    act: String,
    job: String,
    step: String,
    at: String,
    bay: String,
    other: String,
}

impl Asked {
    fn of(typed: &Typed) -> Self {
        let text = |name: &str| typed.text(name);
        Self {
            act: text("act"),
            job: text("job"),
            step: text("step"),
            at: text("at"),
            bay: text("bay"),
            other: text("other"),
        }
    }

    fn fields(&self) -> [(&'static str, &str); 6] {
        [
            ("act", &self.act),
            ("job", &self.job),
            ("step", &self.step),
            ("at", &self.at),
            ("bay", &self.bay),
            ("other", &self.other),
        ]
    }

    fn change(&self, desk: &Desk) -> Result<PlanChange, Refusal> {
        let step = step_no(&self.step)?;
        let job = JobId(self.job.clone());
        Ok(match self.act.as_str() {
            "put" => {
                let mut typed = Typed::new("put").with("at", &self.at);
                let at = typed.moment("at", desk.zone()).ok_or_else(|| {
                    Refusal::invalid("No day and time are given", "Enter both, as on a calendar.")
                })?;
                let bay = Some(self.bay.trim().to_owned()).filter(|b| !b.is_empty());
                PlanChange::Put { job, step, at, bay }
            }
            "swap" => {
                let other = self.other.split_once(' ').ok_or_else(nothing)?;
                PlanChange::Swap { one: (job, step), other: (JobId(other.0.to_owned()), step_no(other.1)?) }
            }
            "not_today" => PlanChange::NotToday { job, step },
            _ => return Err(nothing()),
        })
    }
}

fn step_no(text: &str) -> Result<StepNo, Refusal> {
    text.trim().parse().map(StepNo).map_err(|_| nothing())
}

fn nothing() -> Refusal {
    Refusal::invalid("No change is named", "Choose an entry of the calendar, then what to do with it.")
}

/// The plan as it would be with the change: nothing is kept.
pub async fn look(desk: Desk, Query(asked): Query<Asked>) -> Result<Html<String>, Fault> {
    let change = asked.change(&desk).map_err(|r| desk.fault(r))?;
    let first: Option<Date> = match &change {
        PlanChange::Put { at, .. } => Some(at.to_zoned_datetime(desk.zone().clone()).date()),
        PlanChange::Swap { .. } | PlanChange::NotToday { .. } => None,
    };
    let tried = change.clone();
    let (view, before) = desk
        .ask(move |s| Ok((s.change_of_plan(&tried, first, DAYS)?, s.calendar_view(first, DAYS, true)?)))
        .await?;
    let typed = Typed::new("try");
    let body = html! {
        (layout::head(
            "The plan with this change",
            html! { "Nobody knows this plan until it is kept. " (view.quality) },
            html! { a.btn href="/calendar" { "Leave the plan as it is" } },
        ))
        (before_and_after(&desk, &before, &view))
        @if view.problem.is_none() {
            (form::form("/calendar/change", &typed, html! {
                @for (name, value) in asked.fields() { input type="hidden" name=(name) value=(value); }
                div.acts.last { button.main { "Keep this plan" } }
            }))
        }
        section { (drawing(&view, &desk.words)) }
    };
    Ok(Html(layout::page(&desk, Room::Calendar, "The plan with this change", body).into_string()))
}

/// Keeps the plan with the change.
pub async fn keep(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let change = Asked::of(&typed).change(&desk).map_err(|r| desk.fault(r))?;
    let keep = move |studio: &Studio, stamp: &Stamp| {
        studio.change_plan(stamp, &change)?;
        Ok("/calendar".to_owned())
    };
    desk.save(&typed, keep).await.map_err(|r| desk.fault(r))
}

/// A step takes longer or shorter: that is recorded, and the new plan is shown.
pub async fn slip(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let mut typed = typed.named("slip");
    let job = JobId(typed.text("job"));
    let step = step_no(typed.get("step")).map_err(|r| desk.fault(r))?;
    let asked = if typed.get("to").is_empty() { "minutes" } else { "to" };
    let minutes = typed.needed(asked);
    if let Err(refusal) = typed.sound() {
        return Err(desk.fault(refusal));
    }
    let save = move |studio: &Studio, stamp: &Stamp| {
        studio.slip(&job, stamp, step, Duration::minutes(minutes))?;
        Ok("/calendar/again".to_owned())
    };
    desk.save(&typed, save).await.map_err(|r| desk.fault(r))
}
