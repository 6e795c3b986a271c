//! Pictures: taken in from phones, shown small and upright.

use super::{Fault, Refusal, Typed};
use crate::web::form::Upload;
use crate::web::shell::Desk;
use axum::extract::{Path, Query};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use job::PictureId;
use maud::{Markup, html};
use serde::Deserialize;
use std::fs;
use std::io::Write;
use std::sync::{Mutex, PoisonError};
use studio::Studio;

/// Sizes in which pictures are shown, px on the longer side.
const SIZES: [u32; 4] = [320, 640, 1280, 2560];

/// Fields for pictures: straight from the camera, or many at once from the device.
pub(super) fn fields(typed: &Typed) -> Markup {
    let (camera, files) = (typed.id("camera"), typed.id("files"));
    let again: Vec<&str> =
        typed.files("camera").chain(typed.files("files")).map(|f| f.name.as_str()).collect();
    html! {
        div.fields.files {
            div.field {
                label for=(camera) { "Take a picture" }
                input type="file" id=(camera) name="camera" accept="image/*" capture="environment";
            }
            div.field {
                label for=(files) { "Choose pictures" }
                input type="file" id=(files) name="files" accept="image/*" multiple;
            }
            @if !again.is_empty() {
                p.complaint { "A browser does not keep files. Choose again: " (again.join(", ")) "." }
            }
        }
    }
}

/// Pictures that were sent along, each looked at before anything is written.
pub(super) fn checked(typed: &Typed) -> Result<Vec<Upload>, Refusal> {
    let all: Vec<Upload> = typed.files("camera").chain(typed.files("files")).cloned().collect();
    for file in &all {
        studio::picture::check(&file.name, &file.bytes)?;
    }
    Ok(all)
}

/// The same; at least one.
pub(super) fn some(typed: &Typed) -> Result<Vec<Upload>, Refusal> {
    let all = checked(typed)?;
    if all.is_empty() {
        return Err(Refusal::invalid("No picture was chosen", "Take one, or choose some, then send."));
    }
    Ok(all)
}

/// Small pictures that open large.
pub(super) fn thumbs(list: &[PictureId], about: &str) -> Markup {
    html! {
        ul.thumbs { @for (i, id) in list.iter().enumerate() {
            li { a href={ "/picture/" (id) "?size=2560" } {
                img src={ "/picture/" (id) "?size=320" } loading="lazy" decoding="async" alt={ (about) ", picture " (i + 1) };
            } }
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
    let size = SIZES.into_iter().find(|s| *s >= size).unwrap_or(SIZES[3]);
    let bytes = desk.ask(move |studio| shown(studio, &PictureId(id), size)).await?;
    let kept = "private, max-age=31536000, immutable";
    Ok(([(header::CONTENT_TYPE, "image/jpeg"), (header::CACHE_CONTROL, kept)], bytes).into_response())
}

/// One picture is made small at a time: a large one takes hundreds of megabytes while it is decoded.
static MAKING: Mutex<()> = Mutex::new(());

/// A picture at a size: kept under the studio's folder, made once.
pub(in crate::web) fn shown(studio: &Studio, id: &PictureId, size: u32) -> Result<Vec<u8>, Refusal> {
    let sound = !id.0.is_empty() && id.0.bytes().all(|b| b.is_ascii_alphanumeric());
    if !sound {
        return Err(Refusal::not_found("There is no such picture", "Open the page again."));
    }
    let folder = studio.folder().join("shown");
    let kept = folder.join(format!("{id}-{size}.jpg"));
    if let Ok(bytes) = fs::read(&kept) {
        return Ok(bytes);
    }
    let _one = MAKING.lock().unwrap_or_else(PoisonError::into_inner);
    if let Ok(bytes) = fs::read(&kept) {
        return Ok(bytes);
    }
    let bytes = studio::picture::shown(&studio.picture_bytes(id)?, size)?;
    // Without a place to keep it, it is made anew each time: slower, not wrong.
    let written = fs::create_dir_all(&folder)
        .and_then(|()| tempfile::NamedTempFile::new_in(&folder))
        .and_then(|mut file| file.write_all(&bytes).map(|()| file))
        .and_then(|file| file.persist(&kept).map_err(|e| e.error));
    if let Err(e) = written {
        tracing::warn!("a small picture cannot be kept: {e}");
    }
    Ok(bytes)
}
