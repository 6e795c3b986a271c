//! Work: the steps with their state, each leading to its card.

use super::{Base, Fault, Returned, Sheet, counted, document, finding, fold, framed, panels, section};
use crate::web::layout;
use axum::response::Response;
use job::{Stage, StepState};
use maud::{Markup, html};
use studio::view::{RouteView, StepView};

pub(super) async fn page(at: &Sheet, returned: Returned) -> Result<Response, Fault> {
    let (base, view) = at.ask(|s, id| s.route_view(id)).await?;
    let job = &base.car.job;
    let done = view.steps.iter().filter(|s| s.state == StepState::Done).count();
    let next = next(&view);
    let lead = html! { (done) " of " (counted(view.steps.len(), "step", "steps")) " done." };
    let acts = html! {
        (document(at, "route", "Route sheet, PDF"))
        @if let Some(s) = next.filter(|_| view.set && job.is_open()) {
            a.btn.main href=(card_path(at, s)) {
                @if matches!(s.state, StepState::Running) { "To the step that runs" } @else { "To the next step" }
            }
        } @else if view.set && job.is_open() && job.open_steps().next().is_none() {
            a.btn.main href=(at.to(Stage::Handover)) { "On to the handover" }
        }
    };
    let body = html! {
        @if let Some(change) = job.open_change() {
            div.note.error {
                p { b { "Change order " (change.no) " waits for the customer." } " " (change.reason) }
                p { a href={ (at.to(Stage::Offer)) "#change-" (change.no) } { "Have it agreed or declined" } }
            }
        }
        @if let Some(stale) = &view.stale {
            div.note.error { p { b { "The route is out of date. " } (stale) } p { a href=(at.to(Stage::Route)) { "To the route" } } }
        }
        @if !view.set {
            (layout::empty(html! { p { "The route is not set yet, so there is nothing to start. " a href=(at.to(Stage::Route)) { "Set the route" } } }))
        } @else { (list(at, &base, &view)) }
        (finding::findings(at, &base, &returned))
    };
    Ok(framed(at, &base, &returned, lead, acts, body))
}

/// The step that runs, else the one that can be started, else the first open one.
fn next(view: &RouteView) -> Option<&StepView> {
    let open = || view.steps.iter().filter(|s| !matches!(s.state, StepState::Done | StepState::Dropped(_)));
    let at = |state: StepState| open().find(move |s| s.state == state);
    at(StepState::Running)
        .or_else(|| at(StepState::Paused))
        .or_else(|| open().find(|s| s.needs.is_empty()))
        .or_else(|| open().next())
}

fn card_path(at: &Sheet, s: &StepView) -> String {
    format!("{}/step/{}", at.car_path(), s.planned.no)
}

/// What is to do, then what is done behind a fold.
fn list(at: &Sheet, base: &Base, view: &RouteView) -> Markup {
    let over = |s: &StepView| matches!(s.state, StepState::Done | StepState::Dropped(_));
    let (done, todo): (Vec<_>, Vec<_>) = view.steps.iter().enumerate().partition(|(_, s)| over(s));
    section(
        "steps",
        "Steps",
        html! {
            @if todo.is_empty() { (layout::empty(html! { p { "All steps are done." } })) }
            @else { (table(at, base, &todo)) }
            @if !done.is_empty() {
                (fold("done", &format!("Done, {}", done.len()), todo.is_empty(), table(at, base, &done)))
            }
        },
    )
}

fn table(at: &Sheet, base: &Base, rows: &[(usize, &StepView)]) -> Markup {
    let words = &at.desk.words;
    let now = base.car.now;
    html! {
        table.fold.flow.steps {
            thead { tr { th { "Step" } th { "On" } th { "State" } th { "Who" } th { "When" } th.n { "Time" } } }
            tbody { @for (i, s) in rows {
                tr.pick[s.state == StepState::Running] {
                    th { span.no { (i + 1) } " " a href=(card_path(at, s)) { (s.planned.title) } }
                    td.all data-h="On" { (panels::headline(&s.planned.panels)) }
                    td data-h="State" { (state(s)) }
                    td data-h="Who" { (who(s)) }
                    td data-h="When" { (when(at, s, now)) }
                    td.n data-h="Time" {
                        @match &s.record {
                            Some(r) if !r.spans.is_empty() => { (words.duration(r.worked(now))) span.quiet { " of " (words.duration(s.planned.work)) } }
                            _ => { (words.duration(s.planned.work)) }
                        }
                    }
                }
            } }
        }
    }
}

/// Where a step stands, in a word, and what it waits for.
pub(super) fn state(s: &StepView) -> Markup {
    html! { @match &s.state {
        StepState::Done => { (layout::tag("done")) }
        StepState::Running => { (layout::tag("running")) }
        StepState::Paused => { (layout::tag("paused")) }
        StepState::Dropped(why) => { (layout::tag("left out")) " " small { (why) } }
        StepState::Todo if s.needs.is_empty() => { "can begin" }
        StepState::Todo => { small.quiet { (s.needs.join("; ")) } }
    } }
}

fn who(s: &StepView) -> String {
    match &s.record {
        Some(r) if !r.spans.is_empty() => {
            let mut names: Vec<&str> =
                r.spans.iter().map(|x| x.by.as_str()).filter(|n| !n.is_empty()).collect();
            names.dedup();
            names.join(", ")
        }
        _ => s.booking.as_ref().map(|b| b.people.join(", ")).unwrap_or_default(),
    }
}

fn when(at: &Sheet, s: &StepView, now: jiff::Timestamp) -> Markup {
    let words = &at.desk.words;
    html! { @match s.record.as_ref().and_then(|r| r.spans.first()) {
        Some(span) => { (layout::moment(words, now, span.from)) }
        None => { @if let Some(b) = &s.booking { (layout::moment(words, now, b.from)) @if let Some(bay) = &b.bay { ", " (bay) } } }
    } }
}
