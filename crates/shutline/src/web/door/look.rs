//! What a customer sees behind a link: an offer or a report, to be read and kept, nothing to be changed.

use super::Visitor;
use crate::web::compare;
use crate::web::fault::Fault;
use crate::web::layout;
use crate::web::paper;
use crate::web::shell::Shell;
use axum::Router;
use axum::extract::{Extension, Path, State};
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::response::{Html, IntoResponse, Response};
use axum::routing::get;
use job::{JobId, PictureId};
use maud::html;
use report::document::Document;
use report::documents as make;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};
use studio::door::{Link, Shown, Token};
use studio::ics::Whose;
use studio::{Refusal, Studio};

pub(super) fn routes() -> Router<Shell> {
    Router::new()
        .route("/look/{token}", get(open))
        .route("/look/{token}/{file}", get(file))
        .route("/look/{token}/picture/{no}", get(picture))
}

/// Photographs on these pages, px on the longer side.
const PHOTOGRAPH: u32 = 1280;

/// Documents made lately, by job, kind and version: the pictures of a page are parts of one document.
static MADE: Mutex<VecDeque<(String, Arc<Document>)>> = Mutex::new(VecDeque::new());

/// Documents that are kept.
const KEPT: usize = 6;

async fn link(shell: &Shell, visitor: &Visitor, token: &str) -> Result<Link, Response> {
    let found = match Token::read(token) {
        Some(token) => {
            shell.ask(move |s| s.link(&token)).await.map_err(|r| Fault::bare(r).into_response())?
        }
        None => None,
    };
    found.ok_or_else(|| {
        shell.turned.note(format!("a customer's link that is not good, from {}", visitor.source()));
        let body = html! {
            (layout::head("This link is not good any more", html! {}, html! {}))
            p { "It has run out or was taken back. Ask the studio for another one." }
        };
        let page = layout::bare_of("Not here any more", "", body).into_string();
        quiet((StatusCode::NOT_FOUND, Html(page)).into_response())
    })
}

/// Nobody learns of the link from the answer: no address is passed on, nothing is listed anywhere or kept on the way.
fn quiet(mut response: Response) -> Response {
    let headers = response.headers_mut();
    headers.insert(header::REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
    headers.insert(HeaderName::from_static("x-robots-tag"), HeaderValue::from_static("noindex"));
    headers.insert(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
    response
}

fn made(studio: &Studio, id: &JobId, shown: Shown) -> Result<Arc<Document>, Refusal> {
    let version = studio.job(id)?.version;
    let settings = &studio.shop()?.settings;
    let written = (settings.units, settings.clock, settings.dates, &settings.warranty);
    let key = format!("{} {id} {shown:?} {version} {written:?}", studio.folder().display());
    let known = |list: &VecDeque<(String, Arc<Document>)>| {
        list.iter().find(|(k, _)| *k == key).map(|(_, d)| d.clone())
    };
    if let Some(doc) = known(&MADE.lock().unwrap_or_else(PoisonError::into_inner)) {
        return Ok(doc);
    }
    let car = studio.car_view(id)?;
    let album = |picture: &PictureId| studio.picture_shown(picture, PHOTOGRAPH).ok();
    let doc = match shown {
        Shown::Offer => make::offer(&car, &studio.offer_view(id)?),
        Shown::Report => make::handover(&car, &studio.handover_view(id)?, &studio.survey_view(id)?, &album),
    };
    let doc = Arc::new(doc);
    let mut list = MADE.lock().unwrap_or_else(PoisonError::into_inner);
    list.push_front((key, doc.clone()));
    list.truncate(KEPT);
    Ok(doc)
}

async fn document(shell: &Shell, link: &Link) -> Result<Arc<Document>, Response> {
    let (id, shown) = (link.job.clone(), link.shown);
    shell.ask(move |s| made(s, &id, shown)).await.map_err(|r| Fault::bare(r).into_response())
}

async fn open(
    State(shell): State<Shell>,
    Extension(visitor): Extension<Visitor>,
    Path(token): Path<String>,
) -> Result<Response, Response> {
    let link = link(&shell, &visitor, &token).await?;
    let doc = document(&shell, &link).await?;
    let base = format!("/look/{token}");
    let (file, words) = match link.shown {
        Shown::Offer => ("offer.pdf", "This offer, PDF"),
        Shown::Report => ("report.pdf", "This report, PDF"),
    };
    let body = html! {
        (compare::module())
        (paper::page(&doc, &|i| format!("{base}/picture/{i}")))
        p.acts {
            a.btn.main href={ (base) "/" (file) } { (words) }
            @if link.shown == Shown::Report { a.btn href={ (base) "/care.ics" } { "Visits for your calendar" } }
        }
        @if link.shown == Shown::Offer { p.quiet { "To take one of these, tell the studio which: nothing is ordered by looking at this page." } }
    };
    Ok(quiet(Html(layout::bare_of(&doc.sheet.title, &doc.sheet.shop, body).into_string()).into_response()))
}

async fn file(
    State(shell): State<Shell>,
    Extension(visitor): Extension<Visitor>,
    Path((token, file)): Path<(String, String)>,
) -> Result<Response, Response> {
    let link = link(&shell, &visitor, &token).await?;
    let fault = |r: Refusal| Fault::bare(r).into_response();
    match (file.as_str(), link.shown) {
        ("offer.pdf", Shown::Offer) | ("report.pdf", Shown::Report) => {
            let doc = document(&shell, &link).await?;
            let broken = |e: report::ReportError| Refusal::broken(e, "Tell the studio.");
            let pdf = shell.ask(move |_| doc.pdf().map_err(broken)).await.map_err(fault)?;
            Ok(quiet(([(header::CONTENT_TYPE, "application/pdf")], pdf).into_response()))
        }
        ("care.ics", Shown::Report) => {
            let id = link.job;
            let text = shell.ask(move |s| s.calendar_file(&Whose::Visits(id))).await.map_err(fault)?;
            let head = [
                (header::CONTENT_TYPE, "text/calendar; charset=utf-8"),
                (header::CONTENT_DISPOSITION, "attachment; filename=\"care.ics\""),
            ];
            Ok(quiet((head, text).into_response()))
        }
        _ => Err(fault(Refusal::not_found("There is no such file here", "Open the page itself."))),
    }
}

async fn picture(
    State(shell): State<Shell>,
    Extension(visitor): Extension<Visitor>,
    Path((token, no)): Path<(String, usize)>,
) -> Result<Response, Response> {
    let link = link(&shell, &visitor, &token).await?;
    let doc = document(&shell, &link).await?;
    let Some(bytes) = doc.pictures.get(no).map(|p| p.to_vec()) else {
        return Err(Fault::bare(Refusal::not_found("There is no such picture", "Open the page again."))
            .into_response());
    };
    let kind = if bytes.starts_with(&[0xff, 0xd8]) { "image/jpeg" } else { "image/svg+xml" };
    Ok(quiet(([(header::CONTENT_TYPE, kind)], bytes).into_response()))
}
