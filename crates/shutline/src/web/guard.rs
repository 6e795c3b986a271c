//! The door: who may ask from where, what a browser may do with an answer, and what happens when a page breaks.

use super::fault::Fault;
use axum::Router;
use axum::extract::{DefaultBodyLimit, Request, State};
use axum::http::header::{self, HeaderName, HeaderValue};
use axum::http::{Method, StatusCode, Uri};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::{IntoResponse, Response};
use std::any::Any;
use std::sync::Arc;
use studio::{Refusal, RefusalKind};
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use tower_http::csrf::CsrfLayer;

/// What a browser may load and do. No script in a page, no style in a page, nothing from elsewhere; pictures chosen
/// and sounds recorded for upload are shown and heard before they are sent, so `blob:`.
const POLICY: &str = "default-src 'self'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; \
     media-src 'self' blob:; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'; object-src 'none'";

/// Puts the guard in front of routes; `names` are those under which the program may be asked besides this machine's.
pub fn guarded(routes: Router, names: Arc<[String]>, secure: bool) -> Router {
    routes
        // Forms have limits of their own, see `form`; no other body is read.
        .layer(DefaultBodyLimit::disable())
        .layer(CatchPanicLayer::custom(broke))
        .layer(CsrfLayer::new().with_rejection_response(|_| stranger()))
        .layer(from_fn_with_state(names, own_name))
        .layer(CompressionLayer::new())
        .layer(from_fn_with_state(secure, headers))
}

/// Turns away requests that name another host than this machine: a page elsewhere that has its name point here
/// (DNS rebinding) would else be let in by the browser.
async fn own_name(State(names): State<Arc<[String]>>, request: Request, next: Next) -> Response {
    let named = request.headers().get(header::HOST).and_then(|h| h.to_str().ok());
    let host = request.uri().host().or(named);
    match host {
        Some(host) if is_this_machine(host) || is_named(host, &names) => next.run(request).await,
        _ => Fault::bare(Refusal::new(
            RefusalKind::Invalid,
            "This program answers only under the names of this machine",
            "Open it as http://127.0.0.1 or http://localhost with its port.",
        ))
        .status(StatusCode::MISDIRECTED_REQUEST)
        .into_response(),
    }
}

/// Whether a `Host` header names this machine: `localhost`, `127.0.0.1` or `[::1]`, with or without a port.
fn is_this_machine(host: &str) -> bool {
    let Ok(uri) = format!("http://{host}/").parse::<Uri>() else { return false };
    // A name with a user part or the like is not what a browser sends.
    if uri.authority().is_none_or(|a| a.as_str() != host) || host.contains('@') {
        return false;
    }
    let name = uri.host().unwrap_or_default();
    name.eq_ignore_ascii_case("localhost")
        || name.trim_matches(['[', ']']).parse::<std::net::IpAddr>().is_ok_and(|ip| ip.is_loopback())
}

/// Whether a `Host` header is one of these names, with or without a port.
fn is_named(host: &str, names: &[String]) -> bool {
    let name = host
        .rsplit_once(':')
        .map_or(host, |(name, port)| if port.bytes().all(|b| b.is_ascii_digit()) { name } else { host });
    names.iter().any(|n| n.eq_ignore_ascii_case(name))
}

async fn headers(State(secure): State<bool>, request: Request, next: Next) -> Response {
    let reads = matches!(*request.method(), Method::GET | Method::HEAD);
    let mut response = next.run(request).await;
    let headers = response.headers_mut();
    let mut set = |name: HeaderName, value: &'static str| {
        headers.insert(name, HeaderValue::from_static(value));
    };
    set(header::CONTENT_SECURITY_POLICY, POLICY);
    set(header::X_CONTENT_TYPE_OPTIONS, "nosniff");
    set(header::X_FRAME_OPTIONS, "DENY");
    if secure {
        set(header::STRICT_TRANSPORT_SECURITY, "max-age=31536000");
    }
    set(HeaderName::from_static("cross-origin-opener-policy"), "same-origin");
    set(HeaderName::from_static("cross-origin-resource-policy"), "same-origin");
    set(
        HeaderName::from_static("permissions-policy"),
        "geolocation=(), microphone=(self), payment=(), usb=(), camera=(self)",
    );
    // Not `no-referrer`: a browser would then send `Origin: null` with our own forms.
    if !headers.contains_key(header::REFERRER_POLICY) {
        headers.insert(header::REFERRER_POLICY, HeaderValue::from_static("same-origin"));
    }
    // Pages hold customers' names; only what says otherwise itself may be kept.
    if !headers.contains_key(header::CACHE_CONTROL) {
        let keep = if reads { "no-cache, private" } else { "no-store" };
        headers.insert(header::CACHE_CONTROL, HeaderValue::from_static(keep));
    }
    response
}

fn stranger() -> Response {
    Fault::bare(Refusal::new(
        RefusalKind::Invalid,
        "This form was sent from a page of another site",
        "Nothing was done. Open this program's own page and send the form from there.",
    ))
    .status(StatusCode::FORBIDDEN)
    .into_response()
}

fn broke(panic: Box<dyn Any + Send>) -> Response {
    let words = panic.downcast_ref::<&str>().map(|s| (*s).to_owned());
    let words = words.or_else(|| panic.downcast_ref::<String>().cloned()).unwrap_or_default();
    tracing::error!("a page broke: {words}");
    Fault::bare(Refusal::broken(
        "The program made a mistake while making this page",
        "Nothing was lost: what was saved is in the record. The program's log says more.",
    ))
    .into_response()
}

#[cfg(test)]
mod tests {
    use super::{is_named, is_this_machine};

    #[test]
    fn the_names_of_the_network_are_let_in_with_any_port() {
        let names = ["192.168.7.20".to_owned(), "studio.lan".to_owned()];
        for host in ["192.168.7.20", "192.168.7.20:8480", "Studio.LAN:1"] {
            assert!(is_named(host, &names), "{host}");
        }
        for host in
            ["", ":8480", "192.168.7.201", "studio.lan.evil.example", "studio.lan:x", "evil@studio.lan"]
        {
            assert!(!is_named(host, &names), "{host}");
        }
    }

    #[test]
    fn only_this_machine_is_let_in() {
        for name in
            ["localhost", "LOCALHOST:8080", "127.0.0.1", "127.0.0.1:7000", "127.8.9.1", "[::1]", "[::1]:80"]
        {
            assert!(is_this_machine(name), "{name}");
        }
        for name in [
            "",
            "evil.example",
            "localhost.evil.example",
            "127.0.0.1.evil.example",
            "10.0.0.1",
            "[::2]",
            "evil@localhost",
            "localhost/evil",
            "0.0.0.0",
            "localhost evil",
            "127.1",
        ] {
            assert!(!is_this_machine(name), "{name}");
        }
    }
}
