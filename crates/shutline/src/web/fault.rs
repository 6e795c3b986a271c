//! Pages for what went wrong: what, where, and the way on.

use super::layout::{self, Room};
use super::shell::Desk;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use maud::html;
use studio::{Refusal, RefusalKind};

/// A refusal on its way to a page.
pub struct Fault {
    refusal: Refusal,
    status: StatusCode,
    desk: Option<Box<Desk>>,
}

impl Fault {
    /// On a page of this desk.
    pub fn at(desk: &Desk, refusal: Refusal) -> Self {
        Self { status: status(refusal.kind), refusal, desk: Some(Box::new(desk.clone())) }
    }

    /// Where no desk can be had: the studio itself is in trouble, or the request was turned away at the door.
    pub fn bare(refusal: Refusal) -> Self {
        Self { status: status(refusal.kind), refusal, desk: None }
    }

    /// With another status than its kind's.
    pub fn status(mut self, status: StatusCode) -> Self {
        self.status = status;
        self
    }
}

/// The status of a kind of refusal.
pub fn status(kind: RefusalKind) -> StatusCode {
    match kind {
        RefusalKind::NotFound => StatusCode::NOT_FOUND,
        RefusalKind::Invalid | RefusalKind::Impossible => StatusCode::UNPROCESSABLE_ENTITY,
        RefusalKind::Conflict | RefusalKind::NotYet => StatusCode::CONFLICT,
        RefusalKind::TooMany => StatusCode::TOO_MANY_REQUESTS,
        RefusalKind::Forbidden => StatusCode::FORBIDDEN,
        RefusalKind::Broken => StatusCode::INTERNAL_SERVER_ERROR,
    }
}

impl IntoResponse for Fault {
    fn into_response(self) -> Response {
        if self.status.is_server_error() {
            tracing::error!("{}", self.refusal);
        }
        let title = match self.refusal.kind {
            RefusalKind::NotFound => "Not here",
            RefusalKind::Broken => "Something broke",
            RefusalKind::TooMany => "Too soon again",
            RefusalKind::Forbidden => "Not for everybody",
            RefusalKind::NotYet => "Not yet",
            RefusalKind::Conflict => "Somebody was quicker",
            RefusalKind::Invalid | RefusalKind::Impossible => "This cannot be done",
        };
        let body = html! {
            (layout::head(title, html! {}, html! {}))
            (layout::refusal(&self.refusal))
            p.acts { a.btn href="/" { "To the day" } a.btn href="/cars" { "To the cars" } }
        };
        let page = match &self.desk {
            Some(desk) => layout::page(desk, Room::None, title, body),
            None => layout::bare(title, body),
        };
        (self.status, Html(page.into_string())).into_response()
    }
}
