//! The owner's side of the door: PINs, the passphrase, devices, codes to be scanned, what was turned away.

use super::House;
use crate::web::fault::Fault;
use crate::web::form::{self, Returned, Typed};
use crate::web::layout;
use crate::web::shell::{Desk, Shell};
use crate::web::shop;
use axum::Router;
use axum::response::{Html, IntoResponse, Response};
use axum::routing::post;
use maud::{Markup, PreEscaped, html};
use qrcode::QrCode;
use qrcode::render::svg;
use studio::door::Admitted;
use studio::{Refusal, Studio};

pub(super) fn routes() -> Router<Shell> {
    Router::new()
        .route("/shop/pin", post(pin))
        .route("/shop/passphrase", post(passphrase))
        .route("/shop/invite", post(invite))
        .route("/shop/dismiss", post(dismiss))
}

/// What the section shows.
pub struct Doors {
    with_pin: Vec<String>,
    devices: Vec<Admitted>,
    turned: Vec<String>,
}

/// Looks it up.
pub async fn look(desk: &Desk) -> Result<Doors, Fault> {
    let (with_pin, devices) = desk.ask(|s: &Studio| Ok((s.people_with_pin()?, s.devices()?))).await?;
    Ok(Doors { with_pin, devices, turned: desk.shell.turned.lines() })
}

/// The section on the shop's page.
pub async fn section(desk: &Desk, returned: &Returned) -> Result<Markup, Fault> {
    if desk.shell.house.open {
        return Ok(html! { section aria-labelledby="doors" {
            h2 #doors { "At the door" }
            (layout::empty(html! { p { "The door stands open: this is the demo, on this machine alone. Under " code { "shutline serve" } " people sign in with name and PIN, and what they may see and do follows from their role." } }))
        } });
    }
    let doors = look(desk).await?;
    Ok(shown(desk, &doors, returned))
}

fn shown(desk: &Desk, doors: &Doors, returned: &Returned) -> Markup {
    let people: Vec<(&str, String)> = desk
        .shop
        .settings
        .people
        .iter()
        .map(|p| {
            let has = doors.with_pin.contains(&p.name);
            (
                p.name.as_str(),
                format!("{}, {}{}", p.name, p.role.title(), if has { "" } else { ", no PIN yet" }),
            )
        })
        .collect();
    let pin = returned.or(Typed::new("pin").with("name", people.first().map_or("", |p| p.0)));
    let phrase = returned.or(Typed::new("passphrase"));
    html! {
        section aria-labelledby="doors" {
            h2 #doors { "At the door" }
            (returned.refusal("pin"))
            (form::form("/shop/pin", &pin, html! {
                div.fields {
                    (pin.select("name", "PIN for", &people))
                    (pin.field("pin", "New PIN").pin().required())
                }
                p.acts { button { "Give this PIN" } }
            }))
            h3 { "Devices" }
            @if doors.devices.is_empty() { (layout::empty(html! { p { "No device was let in yet." } })) }
            @else { table.fold {
                thead { tr { th { "Device" } th { "Let in by" } th { "On" } th { span.unseen { "Show the door" } } } }
                tbody { @for d in &doors.devices { tr {
                    th scope="row" { (d.device.name) }
                    td data-h="Let in by" { (d.device.by) }
                    td data-h="On" { (desk.words.moment(d.device.at)) }
                    td data-h="" { (form::button("/shop/dismiss", &[("id", &d.id)], false, "Show it the door")) }
                } } }
            } }
            div.acts {
                @if desk.shell.house.reach.is_some() { (form::button("/shop/invite", &[], false, "Show a code for another device")) }
                @else { p.quiet { "The program serves this machine alone. Start it with " code { "shutline serve --lan" } " for tablets and phones." } }
            }
            details.fold open[returned.is("passphrase")] {
                summary { "Change your passphrase" }
                (returned.refusal("passphrase"))
                (form::form("/shop/passphrase", &phrase, html! {
                    div.fields {
                        (phrase.field("passphrase", "New passphrase").kind("password").hint("at least 12 signs").required())
                        (phrase.field("again", "Once more").kind("password").required())
                    }
                    p.acts { button { "Change it" } }
                }))
            }
            @if !doors.turned.is_empty() { details.fold {
                summary { "Turned away since the program started" }
                ul.plain { @for line in &doors.turned { li { small { (line) } } } }
            } }
        }
    }
}

async fn back(desk: Desk, typed: Typed, done: Result<Response, Refusal>) -> Result<Response, Fault> {
    match done {
        Ok(response) => Ok(response),
        Err(refusal) => {
            let typed = typed.without(&["pin", "passphrase", "again"]);
            shop::page(&desk, &Returned::refused(typed, refusal)).await
        }
    }
}

async fn pin(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let typed = typed.named("pin");
    let (name, pin) = (typed.text("name"), typed.get("pin").to_owned());
    let done = desk
        .save(&typed, move |s, _| {
            s.set_pin(&name, &pin)?;
            s.sign_out_everywhere(&name)?;
            Ok("/shop#doors".to_owned())
        })
        .await;
    back(desk, typed, done).await
}

async fn passphrase(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let typed = typed.named("passphrase");
    let (phrase, again) = (typed.get("passphrase").to_owned(), typed.get("again").to_owned());
    let who = desk.by();
    let done = desk
        .save(&typed, move |s, _| {
            if phrase != again {
                return Err(Refusal::invalid("The two passphrases differ", "Type them once more."));
            }
            s.set_passphrase(&who, &phrase)?;
            Ok("/shop#doors".to_owned())
        })
        .await;
    back(desk, typed, done).await
}

async fn dismiss(desk: Desk, typed: Typed) -> Result<Response, Fault> {
    let id = typed.get("id").to_owned();
    let done = desk.save(&typed, move |s, _| s.dismiss_device(&id).map(|()| "/shop#doors".to_owned())).await;
    back(desk, typed, done).await
}

/// A code for another device: shown once, good for a quarter of an hour.
async fn invite(desk: Desk, _typed: Typed) -> Result<Response, Fault> {
    let by = desk.by();
    let House { reach, .. } = desk.shell.house.as_ref().clone();
    let Some(reach) = reach else {
        return Err(desk.fault(Refusal::not_yet(
            "The program serves this machine alone",
            "Start it with `shutline serve --lan`, then show a code.",
        )));
    };
    let token = desk.ask(move |s| s.invite_device(&by)).await?;
    let link = format!("{reach}/door/join/{}", token.as_str());
    let body = html! {
        (layout::head("A code for one device", html! { "Scan it with the device's camera within a quarter of an hour." }, html! { a.btn href="/shop#doors" { "Back to the shop" } }))
        div.code role="img" aria-label="Code to be scanned" { (code(&link)) }
        p { "Or type this address there: " code { (link) } }
        p.quiet { "The device will warn of a certificate that it does not know: it was made by this program. Compare its fingerprint with the one that the program printed when it started, then go on." }
    };
    Ok(Html(layout::page(&desk, layout::Room::Shop, "A code for one device", body).into_string())
        .into_response())
}

/// A text as a code to be scanned, drawn in the ink of the page on white, as scanners want it.
pub fn code(text: &str) -> Markup {
    let Ok(code) = QrCode::new(text.as_bytes()) else {
        return html! { p { "This text is too long for a code." } };
    };
    let drawn = code.render::<svg::Color<'_>>().min_dimensions(240, 240).quiet_zone(true).build();
    let svg = drawn.find("<svg").map_or("", |at| &drawn[at..]);
    html! { (PreEscaped(svg)) }
}

#[cfg(test)]
mod tests {
    use super::code;
    use resvg::{tiny_skia, usvg};

    /// As a camera sees the page: drawn by one library (resvg), read by another (rqrr).
    #[test]
    fn the_code_on_the_page_is_read_by_a_reader_of_codes() {
        let link = "https://192.168.17.40:8480/door/join/3kPq9ZzT0a1b2c3d4e5f6g7h8i9j0k1l";
        let drawn = code(link).into_string();
        let tree = usvg::Tree::from_str(&drawn, &usvg::Options::default()).unwrap();
        let (wide, tall) = (tree.size().width() as u32, tree.size().height() as u32);
        let mut page = tiny_skia::Pixmap::new(wide, tall).unwrap();
        page.fill(tiny_skia::Color::WHITE);
        resvg::render(&tree, tiny_skia::Transform::identity(), &mut page.as_mut());
        let mut seen = rqrr::PreparedImage::prepare_from_greyscale(wide as usize, tall as usize, |x, y| {
            page.pixel(x as u32, y as u32).map_or(255, |p| p.green())
        });
        let codes = seen.detect_grids();
        assert_eq!(codes.len(), 1);
        assert_eq!(codes[0].decode().unwrap().1, link);
    }
}
