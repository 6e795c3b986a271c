//! Visits after the handover, reminders and claims.

mod claims;
mod reminders;

use super::{Base, Fault, Refusal, Returned, Sheet, Typed, fold, framed, section, unknown};
use crate::web::layout;
use axum::response::Response;
use job::{Order, Stage, Visit, VisitState};
use maud::{Markup, html};
use studio::Stamp;
use studio::command::NewJob;

pub(super) async fn page(at: &Sheet, returned: Returned) -> Result<Response, Fault> {
    let customers = at.desk.sees_customers();
    let (base, (film, reminders)) = at
        .ask(move |s, id| {
            let reminders = if customers { s.reminders(id)? } else { Vec::new() };
            Ok((s.film_on_car(id)?, reminders))
        })
        .await?;
    let job = &base.car.job;
    let over = job.handover.is_some();
    let acts = html! {
        @if over {
            a.btn href={ (at.car_path()) "/calendar.ics" } { "Calendar file" }
        }
    };
    let lead = html! { @if over { "After the handover." } @else { "They are set at the handover." } };
    let body = html! {
        @if over {
            (visits(at, &base, &returned))
            (claims::claims(at, &base, &film, &returned))
            @if customers { (reminders::reminders(at, &base, &reminders, &returned)) }
            (again(at, &returned))
        } @else {
            (layout::empty(html! { p { "Visits are planned when the car is handed over: inspection, top-up of coatings, interior. " a href=(at.to(Stage::Handover)) { "To the handover" } } }))
        }
        (ledger(at, &base))
    };
    Ok(framed(at, &base, &returned, lead, acts, body))
}

fn visits(at: &Sheet, base: &Base, returned: &Returned) -> Markup {
    let today = at.desk.words.times.day_of(base.car.now);
    section(
        "visits",
        "Visits",
        html! {
            @if base.car.job.visits.is_empty() { (layout::empty(html! { p { "No visits are planned." } })) }
            div.visits { @for (i, v) in base.car.job.visits.iter().enumerate() { (visit(at, i, v, today, returned)) } }
        },
    )
}

fn visit(at: &Sheet, i: usize, v: &Visit, today: jiff::civil::Date, returned: &Returned) -> Markup {
    let form = format!("visit-{i}");
    let typed = returned.or(Typed::new(&form));
    html! {
        article.card.now[v.state == VisitState::Due && v.due <= today] {
            header { h3 { (v.what) } @match &v.state {
                VisitState::Due if v.due <= today => { (layout::late("due")) }
                VisitState::Due => { (layout::tag("to come")) }
                VisitState::Done(_) => { (layout::tag("done")) }
                VisitState::Cancelled(_) => { (layout::tag("called off")) }
            } }
            p { "From " (at.desk.words.date(v.due)) "." }
            @match &v.state {
                VisitState::Done(seen) => { p { "Seen: " @if seen.is_empty() { "nothing written down." } @else { (seen) } } }
                VisitState::Cancelled(why) => { p { (why) } }
                VisitState::Due => {
                    details.more open[returned.is(&form)] { summary { "Record this visit" } div {
                        (returned.refusal(&form))
                        (at.form(&typed, html! {
                            input type="hidden" name="index" value=(i);
                            (typed.area("seen", "What was seen", "", 2))
                            p.acts { button { "The visit is done" } }
                        }))
                    } }
                }
            }

        }
    }
}

/// The same car, booked for another visit or order.
fn again(at: &Sheet, returned: &Returned) -> Markup {
    let typed = returned.or(Typed::new("book"));
    section(
        "again",
        "Book again",
        html! {
            p { "Car and owner are taken over; the order is filled in on its offer." }
            (fold("book", "Book this car again", returned.is("book"), html! {
                (returned.refusal("book"))
                (at.form(&typed, html! {
                    div.fields {
                        (typed.field("expected", "Comes on").kind("datetime-local"))
                        (typed.field("what", "What for").hint("In the customer's words."))
                    }
                    p.acts { button { "Book the car" } }
                }))
            }))
        },
    )
}

/// What the car carries over all its jobs: clear coat taken, film on it.
fn ledger(at: &Sheet, base: &Base) -> Markup {
    let words = &at.desk.words;
    let history = &base.car.history;
    let allowance = base.car.shop.settings.allowance;
    html! { @if !history.taken.is_empty() {
        (section("ledger", "Clear coat taken over the car's life", html! {
            table.fold {
                caption { "The shop allows itself " (words.thickness(allowance)) " " (words.thickness_unit()) " in all." }
                thead { tr { th { "Panel" } th.n { "Taken" } th { "When" } } }
                tbody { @for (panel, list) in &history.taken { tr {
                    th { (panel.title()) }
                    td.n data-h="Taken" { (layout::quantity(at.scale().thickness_fine(history.taken_from(panel)), words.thickness_unit())) }
                    td data-h="When" { @for (i, r) in list.iter().enumerate() { @if i > 0 { ", " } "job " (r.job) ", " (words.date(r.on)) @if !r.measured { " (reckoned)" } } }
                } } }
            }
        }))
    } }
}

pub(super) async fn act(at: &Sheet, typed: &mut Typed) -> Result<Response, Refusal> {
    match typed.form() {
        "claim" => claims::write_down(at, typed).await,
        form if form.starts_with("answer-") => claims::answer(at, typed).await,
        form if form.starts_with("remind-") => reminders::keep(at, typed).await,
        form if form.starts_with("leave-") => reminders::leave(at, typed).await,
        "book" => {
            let zone = at.desk.zone().clone();
            let expected = typed.moment("expected", &zone);
            let note = typed.text("what");
            typed.sound()?;
            let id = at.id.clone();
            at.desk
                .save(typed, move |studio, stamp| {
                    let job = studio.job(&id)?.job;
                    let order = Order { note, ..Order::default() };
                    let new = NewJob {
                        car: job.car.clone(),
                        customer: job.customer.clone(),
                        order,
                        promised: None,
                        expected,
                    };
                    let stamp = Stamp { seen: None, ..stamp.clone() };
                    Ok(format!("/cars/{}", layout::segment(studio.book(&stamp, new)?.as_str())))
                })
                .await
        }
        form if form.starts_with("visit-") => {
            let index = typed.whole("index").unwrap_or(u32::MAX) as usize;
            let seen = typed.text("seen");
            at.save(typed, format!("{}#visits", at.path()), move |s, id, stamp| {
                s.visit_done(id, stamp, index, &seen).map(drop)
            })
            .await
        }
        other => Err(unknown(other)),
    }
}
