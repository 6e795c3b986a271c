//! Pages at the door: the first start, letting a device in, signing in and out.

use super::{Visitor, cookie};
use crate::web::fault::{self, Fault};
use crate::web::form::{self, Returned, Typed};
use crate::web::layout;
use crate::web::shell::Shell;
use crate::web::way_back;
use axum::Router;
use axum::extract::{Extension, Path, Query, State};
use axum::http::{HeaderMap, StatusCode};
use axum::response::{Html, IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use job::Role;
use maud::{Markup, html};
use serde::Deserialize;
use studio::door::{SHORTEST_PASSPHRASE, Token};
use studio::{Refusal, RefusalKind, Studio};

pub(super) fn routes() -> Router<Shell> {
    Router::new()
        .route("/door", get(open))
        .route("/door/first", post(first))
        .route("/door/admit", post(admit))
        .route("/door/in", post(sign_in))
        .route("/door/out", post(sign_out))
        .route("/door/join/{code}", get(join_page).post(join))
}

/// Where to sign in, and where to go on from there.
pub(super) fn door_path(back: &str) -> String {
    if back == "/" {
        return "/door".to_owned();
    }
    let back: String = form_urlencoded::byte_serialize(back.as_bytes()).collect();
    format!("/door?back={back}")
}

#[derive(Deserialize)]
struct Wanted {
    #[serde(default)]
    back: String,
    #[serde(default)]
    name: String,
}

/// What the door shows: it depends on the shop and on the device.
struct Door {
    shop: String,
    demo: bool,
    has_owner: bool,
    owners: Vec<String>,
    people: Vec<String>,
    known: Vec<String>,
}

fn door(studio: &Studio) -> Result<Door, Refusal> {
    let shop = studio.shop()?;
    let s = &shop.settings;
    let owners = s.people.iter().filter(|p| p.role == Role::Owner).map(|p| p.name.clone()).collect();
    Ok(Door {
        shop: if s.name.is_empty() { "Shutline".to_owned() } else { s.name.clone() },
        demo: s.demo,
        has_owner: studio.has_owner()?,
        owners,
        people: studio.people_with_pin()?,
        known: s.people.iter().map(|p| p.name.clone()).collect(),
    })
}

async fn open(
    State(shell): State<Shell>,
    Extension(visitor): Extension<Visitor>,
    Query(wanted): Query<Wanted>,
) -> Result<Response, Fault> {
    let begins = Typed::new("door").with("back", &wanted.back).with("name", &wanted.name);
    show(&shell, &visitor, begins, Returned::none()).await
}

async fn show(
    shell: &Shell,
    visitor: &Visitor,
    begins: Typed,
    returned: Returned,
) -> Result<Response, Fault> {
    let door = shell.ask(door).await.map_err(Fault::bare)?;
    let back = way_back(begins.get("back"));
    let body = if shell.house.open {
        open_house(&back)
    } else if !door.has_owner {
        first_page(&door, visitor, &back, &returned)
    } else if visitor.device.is_none() {
        admit_page(&door, &back, &returned)
    } else {
        in_page(&door, visitor, &back, begins.get("name"), &returned)
    };
    let page = layout::bare_of(
        "Sign in",
        &door.shop,
        html! { div.narrow { (returned.above(body)) @if door.demo { p.small.quiet { "Invented demo." } } } },
    );
    Ok((returned.status(), Html(page.into_string())).into_response())
}

fn open_house(back: &str) -> Markup {
    html! {
        (layout::head("The door stands open", html! { "This is the demo: nobody needs to sign in." }, html! {}))
        p.acts { a.btn.main href=(back) { "Go in" } }
    }
}

fn first_page(door: &Door, visitor: &Visitor, back: &str, returned: &Returned) -> Markup {
    let typed = returned.or(Typed::new("first"));
    let known: Vec<&str> = door.known.iter().map(String::as_str).collect();
    html! {
        (layout::head("The first start", html! { "Whoever does this becomes the owner: sees everything, sets everything, lets people and devices in." }, html! {}))
        @if visitor.is_here() {
            (returned.refusal("first"))
            (form::form("/door/first", &typed, html! {
                input type="hidden" name="back" value=(back);
                div.fields {
                    (typed.field("name", "Your name").list(&known).required().wide())
                    (typed.field("passphrase", "Passphrase").kind("password").required().wide()
                        .hint("At least 12 signs. It lets devices in; you need it seldom. Four unconnected words are easy to remember."))
                    (typed.field("again", "The passphrase once more").kind("password").required().wide())
                    (typed.field("pin", "PIN").kind("password").required()
                        .hint("4 to 10 digits, for every day."))
                }
                p.acts { button.main.giant { "I am the owner" } }
            }))
            p.small.quiet { "There is no other way back in: keep the passphrase in a safe place. Whoever can read the studio's folder on this machine can begin anew." }
        } @else {
            (layout::empty(html! { p { "Nobody is the owner of this shop yet. That is done at the machine on which the program runs." } }))
        }
    }
}

fn admit_page(door: &Door, back: &str, returned: &Returned) -> Markup {
    let typed = returned.or(Typed::new("admit"));
    let owners: Vec<&str> = door.owners.iter().map(String::as_str).collect();
    html! {
        (layout::head("This device is new here", html! { "The owner lets it in, once. After that people sign in with name and PIN." }, html! {}))
        (returned.refusal("admit"))
        (form::form("/door/admit", &typed, html! {
            input type="hidden" name="back" value=(back);
            div.fields {
                // Names are told to devices of the house alone.
                (typed.field("owner", "Owner's name").required().wide())
                (typed.field("passphrase", "Owner's passphrase").kind("password").required().wide())
                (typed.field("device", "What to call this device").hint("such as “tablet, bay 2”").wide())
            }
            p.acts { button.main.giant { "Let this device in" } }
        }))
        @if owners.is_empty() { p { "Nobody is owner at present." } }
        p.small.quiet { "Or the owner shows a code under Shop, at the door, and this device scans it." }
    }
}

fn in_page(door: &Door, visitor: &Visitor, back: &str, name: &str, returned: &Returned) -> Markup {
    let usual = if door.people.iter().any(|p| p == name) {
        name
    } else {
        door.people.first().map_or("", String::as_str)
    };
    let typed = returned.or(Typed::new("in").with("name", usual));
    let people: Vec<(&str, &str)> = door.people.iter().map(|p| (p.as_str(), p.as_str())).collect();
    html! {
        (layout::head("Who is at it?", html! { @match &visitor.who {
            Some(who) => { (who) " is signed in. Somebody else can take over." }
            None => { "Choose your name and type your PIN." }
        } }, html! {}))
        (returned.refusal("in"))
        (form::form("/door/in", &typed, html! {
            input type="hidden" name="back" value=(back);
            (typed.choice("name", "Name", &people))
            div.fields { (typed.field("pin", "PIN").pin().wide()) }
            p.acts { button.main.giant { "Sign in" } }
        }))
        @if visitor.who.is_some() {
            (form::button("/door/out", &[], false, "Sign out"))
        }
        p.small.quiet { "Signed in for the day; after four hours without a tap the PIN is asked for again. Whoever has none gets one from the owner." }
    }
}

async fn refused(
    shell: &Shell,
    visitor: &Visitor,
    typed: Typed,
    refusal: Refusal,
) -> Result<Response, Fault> {
    if matches!(refusal.kind, RefusalKind::Broken) {
        return Err(Fault::bare(refusal));
    }
    shell.turned.note(format!(
        "at the door, {}: {} ('{}')",
        visitor.source(),
        refusal.what,
        typed.get("name").chars().filter(|c| !c.is_control()).take(60).collect::<String>()
    ));
    // Secrets never go back into a page.
    let kept = typed.without(&["passphrase", "again", "pin"]);
    let begins = Typed::new("door").with("back", kept.get("back")).with("name", kept.get("name"));
    show(shell, visitor, begins, Returned::refused(kept, refusal)).await
}

async fn first(
    State(shell): State<Shell>,
    Extension(visitor): Extension<Visitor>,
    typed: Typed,
) -> Result<Response, Fault> {
    let typed = typed.named("first");
    let (name, phrase, pin) =
        (typed.text("name"), typed.get("passphrase").to_owned(), typed.get("pin").to_owned());
    if !visitor.is_here() || shell.house.open {
        return Err(Fault::bare(Refusal::new(
            RefusalKind::Forbidden,
            "The first start is made at the machine on which the program runs",
            "Open http://127.0.0.1 with its port there.",
        )));
    }
    if phrase != typed.get("again") {
        let refusal = Refusal::invalid("The two passphrases differ", "Type them once more.");
        return refused(&shell, &visitor, typed, refusal).await;
    }
    let made = shell
        .ask(move |s| {
            s.make_owner(&name, &phrase, &pin)?;
            let device = s.admit_first(&name, "the first device")?;
            come_in(s, &device, &name).map(|session| (device, session))
        })
        .await;
    match made {
        Ok((device, session)) => Ok(inside(&shell, &typed, Some(&device), &session)),
        Err(refusal) => refused(&shell, &visitor, typed, refusal).await,
    }
}

fn come_in(studio: &Studio, device: &Token, name: &str) -> Result<Token, Refusal> {
    let at =
        studio.device(device)?.ok_or_else(|| Refusal::broken("The device was not kept", "Try again."))?;
    studio.begin_session(&at, name)
}

fn inside(shell: &Shell, typed: &Typed, device: Option<&Token>, session: &Token) -> Response {
    let mut response = Redirect::to(&way_back(typed.get("back"))).into_response();
    if let Some(device) = device {
        cookie::give_device(&mut response, device, shell.house.secure);
    }
    cookie::give_session(&mut response, session, shell.house.secure);
    response
}

async fn admit(
    State(shell): State<Shell>,
    Extension(visitor): Extension<Visitor>,
    typed: Typed,
) -> Result<Response, Fault> {
    let typed = typed.named("admit");
    let (owner, phrase) = (typed.text("owner"), typed.get("passphrase").to_owned());
    let (from, device) = (visitor.source(), typed.text("device"));
    let made = shell
        .ask(move |s| {
            let device = s.admit(&from, &owner, &phrase, &device)?;
            come_in(s, &device, &owner).map(|session| (device, session))
        })
        .await;
    match made {
        Ok((device, session)) => Ok(inside(&shell, &typed, Some(&device), &session)),
        Err(refusal) => refused(&shell, &visitor, typed, refusal).await,
    }
}

async fn sign_in(
    State(shell): State<Shell>,
    Extension(visitor): Extension<Visitor>,
    headers: HeaderMap,
    typed: Typed,
) -> Result<Response, Fault> {
    let typed = typed.named("in");
    let Some(at) = visitor.device.clone() else {
        let refusal = Refusal::new(
            RefusalKind::Forbidden,
            "This device was not let in",
            "The owner lets it in with the passphrase.",
        );
        return refused(&shell, &visitor, typed, refusal).await;
    };
    let (name, pin) = (typed.text("name"), typed.get("pin").to_owned());
    let old = cookie::cookie_of(&headers, cookie::SESSION).and_then(|v| Token::read(&v));
    let made = shell
        .ask(move |s| {
            let session = s.sign_in(&at, &name, &pin)?;
            // Whoever was signed in here before is not any more.
            if let Some(old) = old {
                s.sign_out(&old)?;
            }
            Ok(session)
        })
        .await;
    match made {
        Ok(session) => Ok(inside(&shell, &typed, None, &session)),
        Err(refusal) => refused(&shell, &visitor, typed, refusal).await,
    }
}

async fn sign_out(State(shell): State<Shell>, headers: HeaderMap) -> Result<Response, Fault> {
    if let Some(token) = cookie::cookie_of(&headers, cookie::SESSION).and_then(|v| Token::read(&v)) {
        shell.ask(move |s| s.sign_out(&token)).await.map_err(Fault::bare)?;
    }
    let mut response = Redirect::to("/door").into_response();
    cookie::take_session(&mut response, shell.house.secure);
    Ok(response)
}

/// Asking is not coming in: what opens links to look at them would else use the code up.
async fn join_page(State(shell): State<Shell>, Path(code): Path<String>) -> Result<Response, Fault> {
    let good = match Token::read(&code) {
        Some(token) => shell.ask(move |s| s.is_invited(&token)).await.map_err(Fault::bare)?,
        None => false,
    };
    if !good {
        return Err(Fault::bare(Refusal::not_found(
            "This code was used already, or it is older than a quarter of an hour",
            "Ask the owner for another one.",
        )));
    }
    let typed = Typed::new("join");
    let body = html! { div.narrow {
        (layout::head("Let this device in", html! { "The code is good for one device. After that people sign in with name and PIN." }, html! {}))
        (form::form(&format!("/door/join/{code}"), &typed, html! {
            div.fields { (typed.field("device", "What to call this device").hint("such as “tablet, bay 2”").wide()) }
            p.acts { button.main.giant { "Let it in" } }
        }))
    } };
    Ok(Html(layout::bare_of("Let this device in", "Shutline", body).into_string()).into_response())
}

async fn join(
    State(shell): State<Shell>,
    Extension(visitor): Extension<Visitor>,
    Path(code): Path<String>,
    typed: Typed,
) -> Result<Response, Fault> {
    let name = typed.text("device");
    let made = match Token::read(&code) {
        Some(token) => shell.ask(move |s| s.admit_invited(&token, &name)).await,
        None => Err(Refusal::not_found("This is no code of this shop", "Scan it again.")),
    };
    match made {
        Ok(device) => {
            let mut response = Redirect::to("/door").into_response();
            cookie::give_device(&mut response, &device, shell.house.secure);
            Ok(response)
        }
        Err(refusal) => {
            shell.turned.note(format!("a code that is not good, from {}", visitor.source()));
            let status = fault::status(refusal.kind);
            Err(Fault::bare(refusal).status(if status.is_success() { StatusCode::NOT_FOUND } else { status }))
        }
    }
}

/// Least signs of a passphrase, as the page says it.
const _: () = assert!(SHORTEST_PASSPHRASE == 12);
