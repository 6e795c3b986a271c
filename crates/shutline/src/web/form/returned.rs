//! A form that was refused, on its way back to the page.

use super::{Typed, layout};
use crate::web::fault;
use axum::http::StatusCode;
use maud::{Markup, html};
use studio::Refusal;

/// Of several forms on a page, the one that was refused, with what was typed and why.
#[derive(Clone, Debug, Default)]
pub struct Returned(Option<(Typed, Refusal)>);

impl Returned {
    /// No form was refused.
    pub fn none() -> Self {
        Self(None)
    }

    /// This one was.
    pub fn refused(typed: Typed, refusal: Refusal) -> Self {
        Self(Some((typed, refusal)))
    }

    /// What a form holds: what was typed if it is the refused one, else what it begins with.
    /// The version seen is that of the page as it is shown now, so that saving again keeps what was typed.
    pub fn or(&self, begins_with: Typed) -> Typed {
        match &self.0 {
            Some((typed, _)) if typed.form == begins_with.form => {
                let mut typed = typed.clone();
                typed.values.retain(|(n, _)| n != "seen");
                typed.values.extend(begins_with.values.into_iter().filter(|(n, _)| n == "seen"));
                typed
            }
            _ => begins_with,
        }
    }

    /// Why a form was refused, in its frame; nothing for the others.
    pub fn refusal(&self, form: &str) -> Markup {
        html! { @if let Some((typed, refusal)) = &self.0 { @if typed.form == form { (layout::refusal(refusal)) } } }
    }

    /// A page's body with the refusal above it, if no form in it has shown it: a form that is not on this page any
    /// more, or never was.
    pub fn above(&self, body: Markup) -> Markup {
        match &self.0 {
            Some((_, refusal)) if !body.0.contains("role=\"alert\"") => {
                html! { (layout::refusal(refusal)) (body) }
            }
            _ => body,
        }
    }

    /// Whether this form was refused: a form behind a fold must then stand open.
    pub fn is(&self, form: &str) -> bool {
        self.0.as_ref().is_some_and(|(typed, _)| typed.form == form)
    }

    /// The status of the page that shows it.
    pub fn status(&self) -> StatusCode {
        self.0.as_ref().map_or(StatusCode::OK, |(_, r)| fault::status(r.kind))
    }
}
