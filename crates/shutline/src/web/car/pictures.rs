//! Pictures: taken in from phones, shown small and upright.

use super::{Fault, Refusal, Sheet, Typed, part};
use crate::web::form::Upload;
use crate::web::shell::Desk;
use axum::extract::{Path, Query};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use job::{Job, PictureId};
use maud::{Markup, PreEscaped, html};
use report::drawing::{mark_overlay, mark_words};
use serde::Deserialize;

/// Kinds of files that can be chosen. Some systems do not know that a HEIC file is a picture.
const KINDS: &str = "image/*,.heic,.heif";

/// Fields for pictures: straight from the camera, or many at once from the device.
pub(super) fn fields(typed: &Typed) -> Markup {
    let (camera, files) = (typed.id("camera"), typed.id("files"));
    html! {
        div.fields.files {
            div.field {
                label for=(camera) { "Take a picture" }
                input type="file" id=(camera) name="camera" accept="image/*" capture="environment";
            }
            div.field {
                label for=(files) { "Choose pictures" }
                input type="file" id=(files) name="files" accept=(KINDS) multiple;
            }
            (typed.again(&["camera", "files"]))
        }
    }
}

/// Pictures that were sent along, each looked at before anything is written.
pub(super) async fn checked(at: &Sheet, typed: &Typed) -> Result<Vec<Upload>, Refusal> {
    let all: Vec<Upload> = typed.files("camera").chain(typed.files("files")).cloned().collect();
    at.desk
        .shell
        .ask(move |studio| {
            for file in &all {
                studio.look_at_picture(&file.name, &file.bytes)?;
            }
            Ok(all)
        })
        .await
}

/// The same; at least one.
pub(super) async fn some(at: &Sheet, typed: &Typed) -> Result<Vec<Upload>, Refusal> {
    let all = checked(at, typed).await?;
    if all.is_empty() {
        return Err(Refusal::invalid("No picture was chosen", "Take one, or choose some, then send."));
    }
    Ok(all)
}

/// Puts pictures of the whole car into the record.
pub(super) async fn act(at: &Sheet, typed: &Typed) -> Result<Response, Refusal> {
    let uploads = some(at, typed).await?;
    at.save(typed, format!("{}#photos", at.path()), move |studio, id, stamp| {
        for (i, file) in uploads.iter().enumerate() {
            studio.add_picture(id, &part(stamp, i), &file.name, &file.bytes, None, None)?;
        }
        Ok(())
    })
    .await
}

/// Where a picture has its page.
pub(super) fn page_of(at: &Sheet, id: &PictureId) -> String {
    format!("{}/picture/{id}", at.car_path())
}

/// A picture with its marks.
pub(super) fn photo(job: &Job, id: &PictureId, size: u32, alt: &str) -> Markup {
    let marks = job.marks_of(id);
    let alt = marks.map_or_else(|| alt.to_owned(), |of| format!("{alt}. Marks: {}", mark_words(of)));
    html! { span.shot {
        img src={ "/picture/" (id) "?size=" (size) } loading="lazy" decoding="async" alt=(alt);
        @if let Some(of) = marks { (PreEscaped(mark_overlay(of))) }
    } }
}

/// Small pictures that open large, where they can be marked.
pub(super) fn thumbs(at: &Sheet, job: &Job, list: &[PictureId], about: &str) -> Markup {
    html! {
        ul.thumbs { @for (i, id) in list.iter().enumerate() {
            li { a href=(page_of(at, id)) { (photo(job, id, 320, &format!("{about}, picture {}", i + 1))) } }
        } }
    }
}

/// How large a picture is wanted.
#[derive(Deserialize)]
pub(super) struct Wanted {
    size: Option<u32>,
}

/// A picture of the record, upright, without the camera's notes. It never changes: its name is the digest of its bytes.
pub(super) async fn picture(
    desk: Desk,
    Path(id): Path<String>,
    Query(wanted): Query<Wanted>,
) -> Result<Response, Fault> {
    let size = wanted.size.unwrap_or(1280);
    let bytes = desk.ask(move |studio| studio.picture_shown(&PictureId(id), size)).await?;
    let kept = "private, max-age=31536000, immutable";
    Ok(([(header::CONTENT_TYPE, "image/jpeg"), (header::CACHE_CONTROL, kept)], bytes).into_response())
}
