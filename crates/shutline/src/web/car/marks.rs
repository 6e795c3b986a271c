//! One picture, large, with rings and arrows drawn over it. The picture itself is never altered.

use super::{Fault, Returned, Sheet, Typed, dressed, fold, named, part_title, pictures, unknown};
use crate::web::assets;
use crate::web::form;
use crate::web::layout::{self, Room};
use crate::web::shell::Desk;
use axum::extract::Path;
use axum::response::{Html, IntoResponse, Response};
use job::{Job, PictureId, Stage};
use maud::{Markup, html};
use studio::Refusal;
use studio::command::Drawn;

/// The page of a picture.
pub(super) async fn open(desk: Desk, Path((id, picture)): Path<(String, String)>) -> Result<Response, Fault> {
    page(&Sheet::new(desk, id, Stage::Survey), PictureId(picture), Returned::none()).await
}

async fn page(at: &Sheet, picture: PictureId, returned: Returned) -> Result<Response, Fault> {
    let wanted = picture.clone();
    let (base, size) = at
        .ask(move |s, id| {
            if !s.job(id)?.job.shows(&wanted) {
                return Err(Refusal::not_found(
                    "This picture is not part of the job",
                    "Open it from the car's page.",
                ));
            }
            studio::picture::size(&s.picture_shown(&wanted, 2560)?)
        })
        .await?;
    let job = &base.car.job;
    let title = part_title(job, &picture);
    let here = pictures::page_of(at, &picture);
    let typed = returned.or(Typed::new("mark"));
    let tall = (1000 * u64::from(size.1) / u64::from(size.0.max(1))).max(1);
    let body = html! {
        (dressed())
        script type="module" src=(assets::url("marks.js")) {}
        div data-live={ "job/" (at.id) } data-car=(base.car.tag.name) {}
        (super::block(at, &base.car))
        (layout::stages(&base.car, None))
        (layout::head("Picture", html! { (title) }, html! { a.btn href={ "/picture/" (picture) "?size=2560" } { "Picture alone, large" } }))
        (super::unshown(at, &returned, &[&html! { (returned.refusal("mark")) (returned.refusal("unmark")) }]))
        div.marking data-marking data-tall=(tall) {
            figure { (pictures::photo(job, &picture, 1280, &title)) }
            div {
                (list(at, job, &picture, &here))
                (returned.refusal("mark"))
                (returned.refusal("unmark"))
                (form::form(&here, &typed, html! { (named(&typed)) (fields(&typed)) p.acts { button.main { "Keep this mark" } } }))
            }
        }
    };
    let page = layout::page(&at.desk, Room::Cars, &format!("{}, picture", base.car.tag.name), body);
    Ok((returned.status(), Html(page.into_string())).into_response())
}

/// Marks that stand, with who drew them.
fn list(at: &Sheet, job: &Job, picture: &PictureId, here: &str) -> Markup {
    let Some(of) = job.marks_of(picture) else {
        return layout::empty(html! { p { "Nothing is marked on this picture yet." } });
    };
    html! { ul.marklist { @for m in &of.marks { li {
        span.no { (m.no) } " " (if m.text.is_empty() { "no words" } else { &m.text }) " "
        small.quiet { (m.by) @if !m.by.is_empty() { ", " } (at.desk.words.moment(m.at)) }
        form method="post" action=(here) {
            input type="hidden" name="form" value="unmark";
            input type="hidden" name="key" value=(form::fresh_key());
            input type="hidden" name="no" value=(m.no);
            button { "Take it off" span.unseen { ", mark " (m.no) } }
        }
    } } } }
}

/// Shape, words, and the place by numbers: a module fills them from what is drawn.
fn fields(typed: &Typed) -> Markup {
    html! {
        div.fields {
            (typed.choice("shape", "Mark", &[("ring", "Ring"), ("arrow", "Arrow")]))
            p.small data-how hidden { "Draw on the picture with a finger, or by keyboard: arrow keys move the mark, + and − size it, Delete takes it away." }
            (typed.field("text", "What it shows").wide())
        }
        p.small role="status" data-said {}
        (fold("numbers", "Place by numbers", ["x", "y", "r", "to_x", "to_y"].iter().any(|n| !typed.get(n).is_empty()), html! {
            div.fields {
                (typed.field("x", "Across: ring's center, arrow's beginning").unit("%").numeric())
                (typed.field("y", "Down: ring's center, arrow's beginning").unit("%").numeric())
                (typed.field("r", "Ring's radius, of the width").unit("%").numeric())
                (typed.field("to_x", "Across: arrow's point").unit("%").numeric())
                (typed.field("to_y", "Down: arrow's point").unit("%").numeric())
            }
        }))
    }
}

/// Draws a mark or takes one off.
pub(super) async fn send(
    desk: Desk,
    Path((id, picture)): Path<(String, String)>,
    typed: Typed,
) -> Result<Response, Fault> {
    let form = typed.get("form").to_owned();
    let at = Sheet::new(desk, id, Stage::Survey).sent(&form);
    let picture = PictureId(picture);
    let mut typed = typed.named(&form);
    match act(&at, &picture, &mut typed).await {
        Ok(response) => Ok(response),
        Err(refusal) => page(&at, picture, Returned::refused(typed, refusal)).await,
    }
}

async fn act(at: &Sheet, picture: &PictureId, typed: &mut Typed) -> Result<Response, Refusal> {
    let here = pictures::page_of(at, picture);
    let picture = picture.clone();
    match typed.form() {
        "mark" => {
            let drawn = drawn(typed)?;
            let text = typed.text("text");
            at.save(typed, here, move |s, id, stamp| {
                s.mark_picture(id, stamp, &picture, drawn, &text).map(drop)
            })
            .await
        }
        "unmark" => {
            let no = typed.whole("no").unwrap_or_default();
            typed.sound()?;
            at.save(typed, here, move |s, id, stamp| s.unmark_picture(id, stamp, &picture, no).map(drop))
                .await
        }
        other => Err(unknown(other)),
    }
}

fn drawn(typed: &mut Typed) -> Result<Drawn, Refusal> {
    let ring = match typed.get("shape") {
        "ring" => true,
        "arrow" => false,
        _ => {
            typed.complain("shape", "Choose a ring or an arrow, then draw it.");
            true
        }
    };
    let mut share = |name: &str| typed.within(name, 0.0, 100.0) / 100.0;
    let at = [share("x"), share("y")];
    let drawn = if ring {
        Drawn::Ring { at, radius: share("r") }
    } else {
        Drawn::Arrow { from: at, to: [share("to_x"), share("to_y")] }
    };
    typed.sound()?;
    Ok(drawn)
}
