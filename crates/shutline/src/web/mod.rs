//! The web app: pages rendered here, forms that work without scripts, two small modules of our own.

mod assets;
mod calendar;
mod car;
mod cars;
mod compare;
mod day;
pub mod door;
mod fault;
mod form;
mod guard;
mod help;
mod https;
mod layout;
mod live;
mod paper;
mod record;
mod scale;
mod shell;
mod shop;
mod stock;
mod upload;

#[cfg(test)]
mod tests;

use axum::Router;
use axum::extract::State;
use axum::http::{HeaderValue, Method, StatusCode, Uri, header};
use axum::middleware::from_fn_with_state;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use axum_server::tls_rustls::RustlsConfig;
use door::House;
use fault::Fault;
use form::Typed;
use shell::{Desk, Shell, WHO};
use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;
use studio::{Refusal, RefusalKind, Studio};
use tokio::net::TcpListener;

/// The web app of a studio behind an open door, for tests that ask it without a server.
#[cfg(test)]
pub fn router(studio: Arc<Studio>) -> Router {
    app(Shell::new(studio, House { open: true, ..House::default() }))
}

fn app(shell: Shell) -> Router {
    let names: Arc<[String]> = shell.house.names.clone().into();
    let secure = shell.house.secure;
    let routes = Router::new()
        .merge(day::routes())
        .merge(cars::routes())
        .merge(car::routes())
        .merge(calendar::routes())
        .merge(stock::routes())
        .merge(shop::routes())
        .merge(record::routes())
        .merge(door::routes())
        .merge(upload::routes())
        .merge(help::routes())
        .route("/who", post(who))
        .route("/theme", post(theme))
        .route("/live", get(live::live))
        .route("/assets/{digest}/{name}", get(assets::serve))
        .route("/worker.js", get(assets::worker))
        .fallback(lost)
        .method_not_allowed_fallback(wrong_method)
        .layer(from_fn_with_state(shell.clone(), door::guard))
        .with_state(shell);
    guard::guarded(routes, names, secure)
}

/// Where the program is to be served.
#[derive(Clone, Debug)]
pub struct Place {
    /// Port.
    pub port: u16,
    /// For the devices of the shop's network, over HTTPS, instead of for this machine alone.
    pub lan: bool,
    /// More names of this machine on that network.
    pub names: Vec<String>,
    /// Nobody signs in. Only on this machine alone.
    pub open: bool,
}

/// What is to be told when the program is reachable.
pub struct Ready {
    /// Address to open on this machine.
    pub here: String,
    /// Address for other devices.
    pub reach: Option<String>,
    /// Fingerprint of the certificate.
    pub fingerprint: Option<String>,
    /// Whether the certificate was made just now: devices that knew another one will ask.
    pub fresh: bool,
}

/// Serves the web app until the program is told to end. `on_ready` gets the addresses, with the port that the system
/// chose when it was 0.
///
/// # Errors
/// When the address cannot be had, or the certificate cannot be made.
pub async fn serve(studio: Arc<Studio>, place: Place, on_ready: impl FnOnce(Ready)) -> Result<(), Refusal> {
    let ip = if place.lan { Ipv4Addr::UNSPECIFIED } else { Ipv4Addr::LOCALHOST };
    let addr = SocketAddr::from((ip, place.port));
    let failed = |e: std::io::Error| {
        Refusal::broken(
            format!("Cannot serve on {addr}: {e}"),
            "Choose another port with --port, or 0 for any.",
        )
    };
    let listener = std::net::TcpListener::bind(addr).map_err(failed)?;
    listener.set_nonblocking(true).map_err(failed)?;
    let port = listener.local_addr().map_err(failed)?.port();
    if !place.lan {
        let shell = Shell::new(studio, House { open: place.open, ..House::default() });
        let news = shell.news.clone();
        on_ready(Ready {
            here: format!("http://127.0.0.1:{port}/"),
            reach: None,
            fingerprint: None,
            fresh: false,
        });
        let service = app(shell).into_make_service_with_connect_info::<SocketAddr>();
        let end = async move {
            told_to_end().await;
            news.close();
        };
        let listener = TcpListener::from_std(listener).map_err(failed)?;
        return axum::serve(listener, service).with_graceful_shutdown(end).await.map_err(failed);
    }
    let mut names: Vec<String> = vec!["localhost".to_owned(), "127.0.0.1".to_owned()];
    let own = https::own_address().map(|ip| ip.to_string());
    names.extend(own.clone());
    names.extend(place.names.iter().cloned());
    let certificate = https::certificate(studio.folder(), &names, studio.now())?;
    let reach = place.names.first().cloned().or(own).unwrap_or_else(|| "127.0.0.1".to_owned());
    let reach = format!("https://{reach}:{port}");
    let house = House { open: false, secure: true, names, reach: Some(reach.clone()) };
    let shell = Shell::new(studio, house);
    let news = shell.news.clone();
    on_ready(Ready {
        here: format!("https://127.0.0.1:{port}/"),
        reach: Some(format!("{reach}/")),
        fingerprint: Some(certificate.fingerprint),
        fresh: certificate.fresh,
    });
    let service = app(shell).into_make_service_with_connect_info::<SocketAddr>();
    let handle = axum_server::Handle::new();
    let ending = handle.clone();
    tokio::spawn(async move {
        told_to_end().await;
        news.close();
        ending.graceful_shutdown(Some(std::time::Duration::from_secs(5)));
    });
    let config = RustlsConfig::from_config(certificate.config);
    axum_server::from_tcp_rustls(listener, config)
        .map_err(failed)?
        .handle(handle)
        .serve(service)
        .await
        .map_err(failed)
}

async fn told_to_end() {
    if let Err(e) = tokio::signal::ctrl_c().await {
        tracing::warn!("cannot listen for the signal to end: {e}");
        std::future::pending::<()>().await;
    }
}

/// In the open demo: chooses who is at it.
async fn who(desk: Desk, State(shell): State<Shell>, typed: Typed) -> Result<Response, Fault> {
    if !shell.house.open {
        return Ok(Redirect::to("/door").into_response());
    }
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

/// By day, by night, or as the device has it: a cookie of the device, no secret.
async fn theme(typed: Typed) -> Response {
    let mut response = Redirect::to(&way_back(typed.get("back"))).into_response();
    let theme = match typed.get("theme") {
        "day" => "day",
        "night" => "night",
        _ => "",
    };
    let cookie = format!("theme={theme}; Path=/; Max-Age=31536000; SameSite=Strict; HttpOnly");
    if let Ok(cookie) = HeaderValue::from_str(&cookie) {
        response.headers_mut().append(header::SET_COOKIE, cookie);
    }
    response
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
