//! The record: what was written last, by whom, and whether all of it is still as it was written.

use super::fault::Fault;
use super::form::{self, Returned, Typed};
use super::layout::{self, Room};
use super::shell::{Desk, Shell};
use axum::Router;
use axum::extract::Query;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::{get, post};
use jiff::Timestamp;
use journal::{Recorded, Report, Seal};
use maud::{Markup, html};
use serde::Deserialize;
use studio::Refusal;

/// Routes of the record.
pub fn routes() -> Router<Shell> {
    Router::new().route("/record", get(record)).route("/record/verify", post(verify))
}

/// Rows shown at once.
const SHOWN: u64 = 50;

#[derive(Deserialize)]
struct Before {
    before: Option<u64>,
}

struct View {
    rows: Vec<Recorded>,
    head: u64,
    seal: Seal,
    now: Timestamp,
}

async fn view(desk: &Desk, before: Option<u64>) -> Result<View, Fault> {
    desk.ask(move |s| {
        let broken = |e: journal::JournalError| Refusal::broken(e, "Restore a backup if it stays so.");
        let journal = s.journal();
        let head = journal.head().map_err(broken)?;
        let last = before.map_or(head, |b| b.saturating_sub(1).min(head));
        let first = last.saturating_sub(SHOWN);
        let mut rows = journal.since(first, (last - first) as usize).map_err(broken)?;
        rows.reverse();
        Ok(View { rows, head, seal: journal.seal().map_err(broken)?, now: s.now() })
    })
    .await
}

async fn record(desk: Desk, Query(before): Query<Before>) -> Result<Response, Fault> {
    let view = view(&desk, before.before).await?;
    Ok(Html(page(&desk, &view, &html! {}, &Returned::none())).into_response())
}

fn page(desk: &Desk, view: &View, report: &Markup, returned: &Returned) -> String {
    let typed = returned.or(Typed::new("verify"));
    let oldest = view.rows.last().map_or(0, |r| r.seq);
    let body = html! {
        (layout::head(
            "The record",
            html! { "Everything that was ever done here, in order. Nothing in it is changed or removed; each row holds the hash of the row before it." },
            html! { a.btn href="/money.csv" { "Agreed sums, CSV" } },
        ))
        (layout::block(&[
            ("Seal of this moment", html! { code { (view.seal) } }),
            ("Rows", html! { (view.head) }),
            ("Pictures", html! { (view.seal.pictures) }),
        ]))
        p.quiet { "The seal fixes all that was written up to now. Print it, or write it in a book: a later check against it finds any change to what came before." }
        (report)
        (returned.refusal("verify"))
        (form::form("/record/verify", &typed, html! {
            div.fields { (typed.field("seal", "Against a seal").hint("from a handover report or a book; leave empty to check the record by itself").wide()) }
            div.acts { button.main { "Check every row and picture" } }
        }))
        section aria-labelledby="rows" {
            h2 #rows { "Rows" }
            @if view.rows.is_empty() { (layout::empty(html! { p { "Nothing is written yet." } })) }
            @else {
                table.fold.flow {
                    thead { tr { th.n { "Row" } th { "When" } th { "Who" } th { "What" } th { "Where" } } }
                    tbody { @for row in &view.rows { tr {
                        td.n.say data-h="Row" { (row.seq) }
                        td data-h="When" { (layout::moment(&desk.words, view.now, row.at)) }
                        td data-h="Who" { (row.by) }
                        th scope="row" { (row.kind.replace('_', " ")) }
                        td data-h="Where" { (place(row)) }
                    } } }
                }
                @if oldest > 1 { p.acts { a.btn href={ "/record?before=" (oldest) } { "Earlier rows" } } }
            }
        }
    };
    layout::page(desk, Room::Shop, "Record", body).into_string()
}

fn place(row: &Recorded) -> Markup {
    let stream = row.stream.as_str();
    html! {
        @match stream.split_once('/') {
            Some(("job", id)) => a href={ "/cars/" (layout::segment(id)) } { "job " (id) },
            Some(("car", plate)) => { "car " (plate) },
            _ => (stream),
        }
    }
}

async fn verify(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let mut typed = typed.named("verify");
    let mut seals = Vec::new();
    if let Some(text) = typed.some("seal") {
        match text.parse::<Seal>() {
            Ok(seal) => seals.push(seal),
            Err(e) => typed.complain("seal", e.to_string()),
        }
    }
    if let Err(refusal) = typed.sound() {
        let view = view(&desk, None).await?;
        let returned = Returned::refused(typed, refusal);
        return Ok((returned.status(), Html(page(&desk, &view, &html! {}, &returned))).into_response());
    }
    let against = !seals.is_empty();
    let report = desk
        .ask(move |s| {
            s.journal().verify_against(&seals).map_err(|e| {
                Refusal::broken(e, "Keep the folder as it is and restore a backup into a new one.")
            })
        })
        .await?;
    let view = view(&desk, None).await?;
    Ok(Html(page(&desk, &view, &outcome(&report, against), &Returned::none())).into_response())
}

fn outcome(report: &Report, against: bool) -> Markup {
    html! {
        @if report.is_sound() {
            div.note role="status" tabindex="-1" autofocus {
                p { b { "The record is whole." } " " (report.rows) " rows and " (report.pictures) " pictures are what was written"
                    @if against { ", and what the seal covers is still the same" } "." }
                @for note in &report.notes { p { (note) } }
            }
        } @else {
            div.note.error role="alert" tabindex="-1" autofocus {
                p { b { "The record is not what was written." } }
                ul { @for flaw in &report.flaws { li { (flaw) } } }
            }
        }
    }
}
