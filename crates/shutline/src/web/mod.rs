//! The web app: pages rendered here, forms that work without scripts, two small modules of our own.

mod assets;
mod calendar;
mod car;
mod cars;
mod day;
mod fault;
mod form;
mod guard;
mod layout;
mod live;
mod record;
mod scale;
mod shell;
mod shop;
mod stock;

#[cfg(test)]
mod tests;

use axum::Router;
use axum::extract::State;
use axum::http::{HeaderValue, Method, StatusCode, Uri, header};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use fault::Fault;
use form::Typed;
use shell::{Desk, Shell, WHO};
use std::net::SocketAddr;
use std::sync::Arc;
use studio::{Refusal, RefusalKind, Studio};
use tokio::net::TcpListener;

/// The web app of a studio, for tests that ask it without a server.
#[cfg(test)]
pub fn router(studio: Arc<Studio>) -> Router {
    app(Shell::new(studio))
}

fn app(shell: Shell) -> Router {
    let routes = Router::new()
        .merge(day::routes())
        .merge(cars::routes())
        .merge(car::routes())
        .merge(calendar::routes())
        .merge(stock::routes())
        .merge(shop::routes())
        .merge(record::routes())
        .route("/who", post(who))
        .route("/live", get(live::live))
        .route("/assets/{digest}/{name}", get(assets::serve))
        .fallback(lost)
        .method_not_allowed_fallback(wrong_method)
        .with_state(shell);
    guard::guarded(routes)
}

/// Serves the web app on a loopback address until the program is told to end. `on_ready` gets the address, with
/// the port that the system chose when it was 0.
///
/// # Errors
/// When the address is not loopback or cannot be had.
pub async fn serve(
    studio: Arc<Studio>,
    addr: SocketAddr,
    on_ready: impl FnOnce(SocketAddr),
) -> Result<(), Refusal> {
    if !addr.ip().is_loopback() {
        return Err(Refusal::invalid(
            format!("{} is not an address of this machine alone", addr.ip()),
            "Use 127.0.0.1: there is no sign-in yet, so the program does not serve a network.",
        ));
    }
    let failed = |e: std::io::Error| {
        Refusal::broken(
            format!("Cannot serve on {addr}: {e}"),
            "Choose another port with --port, or 0 for any.",
        )
    };
    let listener = TcpListener::bind(addr).await.map_err(failed)?;
    let shell = Shell::new(studio);
    let news = shell.news.clone();
    on_ready(listener.local_addr().map_err(failed)?);
    let end = async move {
        if let Err(e) = tokio::signal::ctrl_c().await {
            tracing::warn!("cannot listen for the signal to end: {e}");
            std::future::pending::<()>().await;
        }
        news.close();
    };
    axum::serve(listener, app(shell)).with_graceful_shutdown(end).await.map_err(failed)
}

async fn who(desk: Desk, State(_): State<Shell>, typed: Typed) -> Result<Response, Fault> {
    let name = typed.get("who").to_owned();
    if !desk.shop.settings.people.iter().any(|p| p.name == name) {
        return Err(desk.fault(Refusal::new(
            RefusalKind::NotFound,
            format!("Nobody called '{name}' works here"),
            "Choose one of the people of the shop, or enter them under Shop.",
        )));
    }
    let value: String = form_urlencoded::byte_serialize(name.as_bytes()).collect();
    // A year: the device stays with the person or is handed on with a tap.
    let cookie = format!("{WHO}={value}; Path=/; Max-Age=31536000; SameSite=Strict; HttpOnly");
    let mut response = Redirect::to(&way_back(typed.get("back"))).into_response();
    if let Ok(cookie) = HeaderValue::from_str(&cookie) {
        response.headers_mut().append(header::SET_COOKIE, cookie);
    }
    Ok(response)
}

/// Where to go on: a path of this program, never another site.
fn way_back(path: &str) -> String {
    let own = path.starts_with('/')
        && !path.starts_with("//")
        && !path.contains('\\')
        && !path.contains(char::is_control);
    if own { path.to_owned() } else { "/".to_owned() }
}

async fn lost(desk: Desk, uri: Uri) -> Fault {
    let refusal = Refusal::not_found(
        format!("There is no page {}", uri.path()),
        "It may have been moved, or the address was mistyped. Look the car up in the list.",
    );
    desk.fault(refusal)
}

async fn wrong_method(desk: Desk, method: Method, uri: Uri) -> Fault {
    desk.fault(Refusal::invalid(
        format!("{} cannot be asked for by {method}", uri.path()),
        "Open the page itself and send its form from there.",
    ))
    .status(StatusCode::METHOD_NOT_ALLOWED)
}
