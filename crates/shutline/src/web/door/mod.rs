//! The door: who stands before it, whether they may call a route, and the pages at which people sign in.

mod cookie;
mod look;
mod page;
mod settings;
pub mod table;

pub use cookie::cookie_of;
pub use settings::{code, section as settings_section};

use super::fault::Fault;
use super::shell::{Shell, WHO};
use axum::Router;
use axum::extract::{ConnectInfo, Request, State};
use axum::http::{HeaderMap, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use job::Role;
use std::collections::VecDeque;
use std::net::{IpAddr, SocketAddr};
use std::sync::{Mutex, PoisonError};
use studio::door::{Admitted, Token};
use studio::{Refusal, RefusalKind, Studio};
use table::{May, Said};

/// How the program is served.
#[derive(Clone, Debug, Default)]
pub struct House {
    /// Whether nobody needs to sign in: the demo, and tests of what lies behind the door. Only on loopback.
    pub open: bool,
    /// Whether it speaks HTTPS, so that cookies are for HTTPS alone.
    pub secure: bool,
    /// Names and addresses under which it may be asked, besides those of this machine alone.
    pub names: Vec<String>,
    /// Where other devices reach it, such as `https://192.168.1.20:8480`; none when it serves this machine alone.
    pub reach: Option<String>,
}

/// Who stands before the door.
#[derive(Clone, Debug, Default)]
pub struct Visitor {
    /// Who is signed in.
    pub who: Option<String>,
    /// In which role; none when nobody is signed in.
    pub role: Option<Role>,
    /// The device, when it was let in.
    pub device: Option<Admitted>,
    /// Where the request came from.
    pub from: Option<IpAddr>,
    /// Whether the device shows pages by day or by night; none for as it is set itself.
    pub theme: Option<&'static str>,
}

impl Visitor {
    /// For the waits after misses, and for the log.
    fn source(&self) -> String {
        self.from.map_or_else(|| "here".to_owned(), |ip| ip.to_string())
    }

    /// Whether the request came from this machine.
    fn is_here(&self) -> bool {
        self.from.is_none_or(|ip| ip.is_loopback())
    }
}

/// Routes of the door and of customers' links.
pub fn routes() -> Router<Shell> {
    page::routes().merge(settings::routes()).merge(look::routes())
}

/// What was turned away lately, newest first, for the owner's eyes. The log has all of it.
#[derive(Debug, Default)]
pub struct Turned(Mutex<VecDeque<String>>);

/// Lines that are remembered.
const REMEMBERED: usize = 50;

impl Turned {
    /// Logs a refusal.
    pub fn note(&self, line: String) {
        tracing::warn!("turned away: {line}");
        let mut lines = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        lines.push_front(line);
        lines.truncate(REMEMBERED);
    }

    /// The lines, newest first.
    pub fn lines(&self) -> Vec<String> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).iter().cloned().collect()
    }
}

/// Finds out who asks, and lets them in or not. Stands in front of every route.
pub async fn guard(State(shell): State<Shell>, mut request: Request, next: Next) -> Response {
    let from = request.extensions().get::<ConnectInfo<SocketAddr>>().map(|c| c.0.ip());
    let headers = request.headers().clone();
    let headers_kept = headers.contains_key(KEPT);
    let visitor = match shell.ask_who(from, headers).await {
        Ok(visitor) => visitor,
        Err(refusal) => return Fault::bare(refusal).into_response(),
    };
    let (method, path) = (request.method().clone(), request.uri().path().to_owned());
    let needed = match table::look_up(method.as_str(), &path) {
        Said::For(may) => may,
        // Whoever is signed in gets the page that says what is wrong.
        Said::OtherMethod | Said::Nothing => May::Staff,
    };
    if needed.admits(visitor.role) {
        request.extensions_mut().insert(visitor);
        return told_plainly(headers_kept, next.run(request).await);
    }
    let who = visitor.who.as_deref().unwrap_or("nobody");
    let line = format!("{method} {path} by {who} from {}", visitor.source());
    // Opening the door page is the usual way in, no attempt at anything.
    if visitor.role.is_some() || method != Method::GET {
        shell.turned.note(line.chars().filter(|c| !c.is_control()).take(200).collect());
    }
    refuse(&visitor, needed, &method, &request)
}

/// Says that a module of ours sends what a device has kept.
const KEPT: &str = "x-kept";

/// A module cannot see where a redirection leads without following it: it is told in a header instead.
fn told_plainly(kept: bool, mut response: Response) -> Response {
    if kept
        && response.status() == StatusCode::SEE_OTHER
        && let Some(to) = response.headers_mut().remove(header::LOCATION)
    {
        *response.status_mut() = StatusCode::OK;
        response.headers_mut().insert("x-goes-to", to);
    }
    response
}

fn refuse(visitor: &Visitor, needed: May, method: &Method, request: &Request) -> Response {
    if visitor.role.is_some() {
        let refusal = Refusal::new(
            RefusalKind::Forbidden,
            format!("This is for {}", needed.words()),
            "Ask one of them, or sign in as somebody who may.",
        );
        return Fault::bare(refusal).into_response();
    }
    let accepts = request.headers().get(header::ACCEPT).and_then(|v| v.to_str().ok()).unwrap_or("text/html");
    if *method == Method::GET && (accepts.contains("text/html") || accepts.contains("*/*")) {
        let back = request.uri().path_and_query().map_or("/", |p| p.as_str());
        return Redirect::to(&page::door_path(back)).into_response();
    }
    let refusal = Refusal::new(
        RefusalKind::Forbidden,
        "Nobody is signed in at this device",
        "Sign in, then do it again. What is kept on the device is sent afterwards.",
    );
    Fault::bare(refusal).status(StatusCode::UNAUTHORIZED).into_response()
}

/// Who asks, by the cookies of a request.
pub fn who_asks(
    studio: &Studio,
    house: &House,
    from: Option<IpAddr>,
    headers: &HeaderMap,
) -> Result<Visitor, Refusal> {
    let theme = match cookie_of(headers, "theme").as_deref() {
        Some("day") => Some("day"),
        Some("night") => Some("night"),
        _ => None,
    };
    if house.open {
        let named = cookie_of(headers, WHO).map(|v| cookie::decoded(&v));
        let shop = studio.shop()?;
        let person = named.and_then(|n| shop.settings.people.iter().find(|p| p.name == n).cloned());
        let role = person.as_ref().map_or(Role::Owner, |p| p.role);
        return Ok(Visitor { who: person.map(|p| p.name), role: Some(role), device: None, from, theme });
    }
    let token = |name: &str| cookie_of(headers, name).and_then(|v| Token::read(&v));
    let Some(device) = token(cookie::DEVICE).map(|t| studio.device(&t)).transpose()?.flatten() else {
        return Ok(Visitor { from, theme, ..Visitor::default() });
    };
    let session = token(cookie::SESSION).map(|t| studio.session(&device, &t)).transpose()?.flatten();
    Ok(Visitor {
        who: session.as_ref().map(|s| s.who.clone()),
        role: session.map(|s| s.role),
        device: Some(device),
        from,
        theme,
    })
}
